"""Spread of repeated levels: within a plateau, between plateaus, and what correlation leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Own choice: correlation is never taken above this, because fewer than one effective reading a
# plateau has no meaning.
MOST_CORRELATED = 0.9999


@dataclass(frozen=True)
class LevelSpread:
    """What repeated plateaus say of one level, in the unit of the readings.

    Attributes:
        mean: Mean of the plateaus' means.
        plateaus: Count of plateaus.
        samples: Count of readings.
        n_effective: Count of independent readings that would tell the mean within a plateau as
            well, summed over the plateaus.
        lag1: Correlation of neighbouring readings within a plateau, corrected for its bias.
        sd_within: Standard deviation of a reading about its plateau's true level.
        sd_between: Standard deviation of the true levels of plateaus; 0 where the noise explains
            the differences.
        sd_means: Standard deviation of the plateaus' means (what both give together).
        sd_residual: Root mean square of the readings about their own plateau's mean.
        dof_within: Effective degrees of freedom of `sd_residual`.
        lsb: Step of the converter.
        means: Means of the plateaus, shape (plateaus,).
        residuals: Readings less their plateau's mean, shape (samples,).
    """

    mean: float
    plateaus: int
    samples: int
    n_effective: float
    lag1: float
    sd_within: float
    sd_between: float
    sd_means: float
    sd_residual: float
    dof_within: float
    lsb: float
    means: Floats = field(repr=False)
    residuals: Floats = field(repr=False)

    @property
    def u(self) -> float:
        """Standard uncertainty of the mean from repetition and step, in the unit.

        Source: JCGM 100, 4.2.3 and F.2.2.1.
        """
        count = max(self.plateaus, 1)
        spread = self.sd_means if self.plateaus > 1 else self.sd_residual
        return float(np.sqrt(spread**2 / count + self.step_sd**2))

    @property
    def step_sd(self) -> float:
        """Standard deviation that the converter's step adds to a plateau's mean, in the unit."""
        return step_sd(self.sd_residual, self.lsb)


def level_spread(plateaus: Sequence[Floats], *, lsb: float = 0.0) -> LevelSpread:
    """Spread of one level over repeated plateaus, in the unit of the readings.

    Plateaus count alike however long they are, because each is one release (or one press). The
    variance of a single reading is the variance of the plateaus' means and the mean square about
    them together, whatever the correlation; the correlation decides how many independent
    readings stand behind the second.

    Args:
        plateaus: Readings of each plateau, glitches taken out, shape (n_i,) each, none empty.
        lsb: Step of the converter in the same unit; 0 where unknown.

    Returns:
        The spread. With one plateau `sd_between` and `sd_means` are 0 and say nothing.

    Raises:
        ValueError: If there is no plateau or an empty one.

    Source: Mee and Owen, J. Quality Technology 15 (1983), one-way random model (from memory);
    effective readings from first-order autocorrelation, see `variance_inflation`.
    """
    if not plateaus or any(len(values) == 0 for values in plateaus):
        raise ValueError("A level needs at least one plateau, and no plateau may be empty.")
    origin = float(plateaus[0][0])
    sizes = np.array([len(values) for values in plateaus], dtype=np.float64)
    means = np.array([float((values - origin).mean()) for values in plateaus])
    levelled = zip(plateaus, means, strict=True)
    residuals = np.concatenate([values - origin - mean for values, mean in levelled])
    lag1 = pooled_lag1(residuals, sizes)
    effective = np.array([effective_count(int(size), lag1) for size in sizes])
    sd_residual = float(np.sqrt((residuals**2).mean()))
    sd_means = float(means.std(ddof=1)) if len(means) > 1 else 0.0
    # A mean of m effective readings hides 1/m of the variance from its residuals.
    hidden = float((1.0 / effective).mean())
    variance_within = sd_residual**2 / max(1.0 - hidden, 0.05)
    return LevelSpread(
        mean=origin + float(means.mean()),
        plateaus=len(plateaus),
        samples=int(sizes.sum()),
        n_effective=float(effective.sum()),
        lag1=lag1,
        sd_within=float(np.sqrt(variance_within)),
        sd_between=float(np.sqrt(max(0.0, sd_means**2 - variance_within * hidden))),
        sd_means=sd_means,
        sd_residual=sd_residual,
        # Each stay tells one figure of what the noise does, however correlated it is inside.
        dof_within=max(1.0, len(sizes) - 1.0, sum(variance_dof(int(size), lag1) for size in sizes)),
        lsb=lsb,
        means=origin + means,
        residuals=residuals,
    )


def pooled_lag1(residuals: Floats, sizes: Floats) -> float:
    """Lag-1 correlation within plateaus, pooled, corrected for the bias of short series.

    Args:
        residuals: Readings less their plateau's mean, plateaus one after the other, shape (n,).
        sizes: Readings of each plateau, shape (k,), summing to n.

    Returns:
        Between 0 and almost 1; 0 also where the estimate is negative, because a negative
        correlation must not shrink a variance.

    Source: bias -(1 + 3·r)/(n - 1) of the lag-1 estimate with estimated mean: Marriott and Pope,
    Biometrika 41 (1954), and Kendall in the same volume (from memory).
    """
    square = float((residuals**2).sum())
    if square <= 0.0 or len(residuals) < 3:
        return 0.0
    products = residuals[1:] * residuals[:-1]
    borders = np.cumsum(sizes[:-1]).astype(int) - 1
    products[borders] = 0.0
    count = float(sizes.mean())
    raw = float(products.sum()) / square * count / max(count - 1.0, 1.0)
    corrected = (raw * (count - 1.0) + 1.0) / (count - 4.0) if count > 8.0 else raw
    return min(max(corrected, raw, 0.0), MOST_CORRELATED)


def variance_inflation(count: int, lag1: float) -> float:
    """Factor by which correlation inflates the variance of a mean, no unit, never below 1.

    Args:
        count: Readings in the mean, at least 1.
        lag1: First-order correlation of neighbours.

    Returns:
        1 + 2·sum((1 - k/n)·r^k, k = 1 … n-1), in closed form, exact for a first-order process.

    Source: closed form of the double sum; e.g. (1 + r)/(1 - r) for many readings.
    """
    r = min(max(lag1, 0.0), MOST_CORRELATED)
    factor = (1.0 + r) / (1.0 - r) - 2.0 * r * (1.0 - r**count) / (count * (1.0 - r) ** 2)
    return max(1.0, factor)


def effective_count(count: int, lag1: float) -> float:
    """Independent readings that would tell a mean as well, at least 1.

    Source: n divided by the variance inflation factor.
    """
    return max(1.0, count / variance_inflation(count, lag1))


def variance_dof(count: int, lag1: float) -> float:
    """Degrees of freedom of the sum of squares about the mean of a correlated series.

    Args:
        count: Readings of the series.
        lag1: First-order correlation of neighbours, 0 or more.

    Returns:
        count·(1 - r²)/(1 + r²), at most count - 1. The exact ratio of moments, which the unit
        test forms from the covariance matrix, is never smaller.

    Source: Satterthwaite's matching of two moments, Bayley and Hammersley (1946) for the
    variance of a correlated series (from memory).
    """
    square = min(max(lag1, 0.0), MOST_CORRELATED) ** 2
    return max(0.0, min(count - 1.0, count * (1.0 - square) / (1.0 + square)))


def step_sd(sd: float, lsb: float) -> float:
    """Standard deviation of the error that a converter's step leaves in a mean, in the unit.

    LSB/√12 when the reading does not flicker; it vanishes fast once the noise covers half a step.

    Args:
        sd: Standard deviation of the quantised readings about their mean.
        lsb: Step of the converter, 0 where unknown.

    Returns:
        The standard deviation.

    Source: Fourier series of the quantiser's error under normal noise, terms
    lsb²/(2π²k²)·exp(-4π²k²sd²/lsb²), Widrow and Kollár (from memory); JCGM 100 F.2.2.1 for its
    value without noise; Sheppard's correction lsb²/12 of the observed variance.
    """
    if lsb <= 0.0:
        return 0.0
    noise = max(0.0, (sd / lsb) ** 2 - 1.0 / 12.0)
    k = np.arange(1.0, 9.0)
    terms = np.exp(-4.0 * np.pi**2 * k**2 * noise) / (2.0 * np.pi**2 * k**2)
    # What the first eight terms leave out without noise, so that the sum is 1/12 there.
    rest = (1.0 / 12.0 - float((1.0 / (2.0 * np.pi**2 * k**2)).sum())) * float(noise <= 0.0)
    return lsb * float(np.sqrt(terms.sum() + rest))
