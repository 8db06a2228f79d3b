"""Tolerance limits: where a promised share of future readings stays, at a promised confidence."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special, stats

from calib.measure.spread import LevelSpread

Floats = NDArray[np.float64]
Method = Literal["random effects", "one plateau"]

# Points of the quadrature over the two chi-square variables (own choice: doubling either moves
# the limit by less than a thousandth of the spread, see the unit test).
POINTS_BETWEEN = 96
POINTS_WITHIN = 32
# Above this many degrees of freedom the spread within plateaus is taken as known (own choice:
# its relative uncertainty is then below one per cent).
DOF_KNOWN = 5000.0


@dataclass(frozen=True)
class ToleranceLimits:
    """One-sided tolerance limits of one future reading after one future press or release.

    Attributes:
        low: Limit above which the promised share lies, in the unit of the readings.
        high: Limit below which the promised share lies.
        content: Promised share.
        confidence: Confidence of the promise.
        method: How the limits were found.
    """

    low: float
    high: float
    content: float
    confidence: float
    method: Method


def tolerance_limits(
    spread: LevelSpread, *, content: float = 0.999, confidence: float = 0.95
) -> ToleranceLimits:
    """One-sided tolerance limits of a level, in the unit of the readings.

    Args:
        spread: What the plateaus said.
        content: Share of future readings that shall stay within each limit.
        confidence: Confidence of that.

    Returns:
        Both limits; each keeps its promise by itself.

    Raises:
        ValueError: If content or confidence is not between 0.5 and 1.

    Source: see `random_effects_margin`. The defaults are a requirement of this project.
    """
    _check(content, confidence)
    floor = step_sd_of_means(spread)
    method: Method = "random effects" if spread.plateaus > 1 else "one plateau"
    margin = random_effects_margin(
        sd_means=max(spread.sd_means, floor),
        plateaus=max(spread.plateaus, 2),
        sd_residual=max(spread.sd_residual, floor),
        dof_within=spread.dof_within,
        content=content,
        confidence=confidence,
    )
    return ToleranceLimits(
        low=spread.mean - margin,
        high=spread.mean + margin,
        content=content,
        confidence=confidence,
        method=method,
    )


def step_sd_of_means(spread: LevelSpread) -> float:
    """Least standard deviation of plateau means that the converter's step lets us claim.

    With one plateau nothing is known of the spread between plateaus: the residual spread is then
    taken for it, with one degree of freedom, and the caller says so.

    Source: own choice, because equal codes on every press do not show a spread of zero.
    """
    if spread.plateaus > 1:
        return spread.step_sd
    return max(spread.step_sd, spread.sd_residual)


def random_effects_margin(
    *,
    sd_means: float,
    plateaus: int,
    sd_residual: float,
    dof_within: float,
    content: float,
    confidence: float,
) -> float:
    """Distance from the mean to a one-sided tolerance limit, in the unit of the spreads.

    The limit is the `confidence` quantile of the generalised pivotal quantity

        Z·T/√k + z·√(T² + W²),  T² = (k-1)·sd_means²/χ²(k-1),  W² = ν·sd_residual²/χ²(ν),

    with z the `content` quantile of the normal distribution. T² + W² is the variance of one
    reading of one press whatever the correlation within a plateau. It is found by quadrature
    over the two chi-square variables, so equal data give equal limits. With nothing within it is
    the exact noncentral-t limit.

    Args:
        sd_means: Standard deviation of the plateaus' means.
        plateaus: Their count k, at least 2.
        sd_residual: Root mean square about the plateaus' own means.
        dof_within: Its effective degrees of freedom ν.
        content: Share, between 0.5 and 1.
        confidence: Confidence, between 0.5 and 1.

    Returns:
        The margin, 0 where nothing varies.

    Raises:
        ValueError: If there are fewer than two plateaus.

    Source: Krishnamoorthy and Mathew, Technometrics 46 (2004), one-sided limits for the balanced
    one-way random model by generalised pivotal quantities (from memory); the split of the
    variance and the quadrature are ours.
    """
    _check(content, confidence)
    if plateaus < 2:
        msg = f"{plateaus} plateau(s): a spread between plateaus needs at least two."
        raise ValueError(msg)
    if sd_means <= 0.0 and sd_residual <= 0.0:
        return 0.0
    between, weight_between = _scaled_variances(plateaus - 1.0, POINTS_BETWEEN)
    within, weight_within = (
        (np.ones(1), np.ones(1))
        if dof_within >= DOF_KNOWN
        else _scaled_variances(dof_within, POINTS_WITHIN)
    )
    t = sd_means * np.sqrt(between)[:, None]
    z = float(special.ndtri(content))
    quantile = z * np.sqrt(t**2 + sd_residual**2 * within[None, :])
    weights = weight_between[:, None] * weight_within[None, :]
    return _pivotal_quantile(t / np.sqrt(plateaus), quantile, weights, confidence)


def _pivotal_quantile(
    u_mean: Floats, quantile: Floats, weights: Floats, confidence: float
) -> float:
    """The `confidence` quantile of the mixture of normal variables N(quantile, u_mean²)."""
    scale = np.maximum(u_mean, 1e-300)

    def short_of(margin: float) -> float:
        return float((weights * special.ndtr((margin - quantile) / scale)).sum()) - confidence

    top = float((quantile + 9.0 * u_mean).max())
    return float(optimize.brentq(short_of, 0.0, top, xtol=1e-12 + 1e-9 * top))


@lru_cache(maxsize=256)
def _scaled_variances(dof: float, points: int) -> tuple[Floats, Floats]:
    """Nodes of ν/χ²(ν) and their weights: Gauss-Legendre in the variable's own probability."""
    nodes, weights = np.polynomial.legendre.leggauss(points)
    # Substitution p = s²(3 - 2s) thickens the nodes at both tails, where the variable runs away.
    s = 0.5 * (nodes + 1.0)
    probability = s**2 * (3.0 - 2.0 * s)
    jacobian = 6.0 * s * (1.0 - s) * 0.5 * weights
    variance = dof / stats.chi2.ppf(probability, dof)
    return np.asarray(variance, dtype=np.float64), np.asarray(jacobian / jacobian.sum())


def one_sided_factor(n: int, content: float, confidence: float) -> float:
    """Exact one-sided tolerance factor of a normal sample, no unit.

    Args:
        n: Sample size, at least 2.
        content: Share.
        confidence: Confidence.

    Returns:
        k such that mean + k·sd holds the share.

    Source: noncentral t, NIST/SEMATECH e-Handbook 7.2.6.3 (its own figure 1.8752 for n = 43 is
    the handbook's approximation; the exact one is 1.873954).
    """
    root = float(np.sqrt(n))
    shift = float(special.ndtri(content)) * root
    return float(special.nctdtrit(n - 1, shift, confidence)) / root


def two_sided_factor(n: int, content: float, confidence: float) -> float:
    """Exact two-sided tolerance factor of a normal sample, no unit.

    Source: Odeh and Owen (1980), integral over the mean's error (from memory), solved here by
    quadrature.
    """
    nodes, weights = np.polynomial.legendre.leggauss(80)
    x = 4.5 * (nodes + 1.0)
    density = 4.5 * weights * 2.0 * np.exp(-0.5 * x**2) / np.sqrt(2.0 * np.pi)
    radius = np.sqrt(stats.ncx2.ppf(content, 1, x**2 / n))

    def short_of(k: float) -> float:
        needed = (n - 1) * radius**2 / k**2
        return float((density * stats.chi2.sf(needed, n - 1)).sum()) - confidence

    return float(optimize.brentq(short_of, 0.1, 1e4, xtol=1e-10))


def howe_factor(n: int, content: float, confidence: float) -> float:
    """Howe's approximation of the two-sided tolerance factor, no unit.

    Source: NIST/SEMATECH e-Handbook 7.2.6.3.
    """
    z = float(special.ndtri(0.5 * (1.0 + content)))
    chi2 = float(stats.chi2.ppf(1.0 - confidence, n - 1))
    return z * float(np.sqrt((n - 1) * (1.0 + 1.0 / n) / chi2))


def order_statistic_count(content: float, confidence: float, *, rank: int = 1) -> int:
    """Least count of independent readings for a distribution-free one-sided limit.

    Args:
        content: Share.
        confidence: Confidence.
        rank: 1 where the limit is the largest reading, 2 the second largest, and so on.

    Returns:
        The count.

    Source: Wilks, Ann. Math. Statist. 12 (1941) (from memory): binomial tail.
    """
    n = rank
    while float(special.bdtr(rank - 1, n, 1.0 - content)) > 1.0 - confidence:
        step = max(1, n // 64)
        while step > 1 and float(special.bdtr(rank - 1, n + step - 1, 1.0 - content)) <= (
            1.0 - confidence
        ):
            step //= 2
        n += step
    return n


def order_statistic_rank(n: int, content: float, confidence: float) -> int | None:
    """Rank from the largest reading that is a distribution-free limit, or None if n is too few.

    Source: as `order_statistic_count`.
    """
    best: int | None = None
    rank = 1
    while rank <= n and float(special.bdtr(rank - 1, n, 1.0 - content)) <= 1.0 - confidence:
        best = rank
        rank += 1
    return best


def _check(content: float, confidence: float) -> None:
    for name, value in (("content", content), ("confidence", confidence)):
        if not 0.5 <= value < 1.0:
            msg = f"{name} {value:g} is not between 0.5 and 1."
            raise ValueError(msg)
