"""Tolerance limits: where a promised share of future readings stays, at a promised confidence."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special, stats

from calib.measure.spread import LevelSpread
from calib.measure.tails import NoiseTail, noise_tail, spread_between_is_odd

Floats = NDArray[np.float64]
Method = Literal["random effects", "one plateau"]

# Points of the quadrature over the two chi-square variables (own choice: doubling either moves
# the limit by less than a thousandth of the spread, see the unit test).
POINTS_BETWEEN = 96
POINTS_WITHIN = 32
# Share of the converter's error (LSB/√12 without flicker) that is taken for the least spread of
# the plateaus' means. Own choice: a campaign of still codes, spreads from 0.02 to 1 LSB, kept
# its promise with it in every cell; the whole of it was kept too, and wasted a third more.
STEP_SHARE = 0.7
# Own choice: the root is found to this share of the farthest value that it could have.
ROOT_SHARE = 1e-10
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
        method: How the spread between plateaus was treated.
        tail_low: The noise's lower tail.
        tail_high: The noise's upper tail.
        between_is_odd: Whether the plateaus' means plainly are no normal sample, so that the
            data speak against the promise.
    """

    low: float
    high: float
    content: float
    confidence: float
    method: Method
    tail_low: NoiseTail
    tail_high: NoiseTail
    between_is_odd: bool


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
    residuals = spread.residuals
    up = _noise_tail(spread, residuals, content, confidence)
    down = _noise_tail(spread, -residuals, content, confidence)
    above = _margin(spread, up, spread.plateaus, content, confidence)
    # Two equal tails have one margin.
    same = down.quantile == up.quantile and down.dof == up.dof
    below = above if same else _margin(spread, down, spread.plateaus, content, confidence)
    return ToleranceLimits(
        low=spread.mean - below,
        high=spread.mean + above,
        content=content,
        confidence=confidence,
        method="random effects" if spread.plateaus > 1 else "one plateau",
        tail_low=down,
        tail_high=up,
        between_is_odd=spread_between_is_odd(spread.means),
    )


def margin_after(
    spread: LevelSpread, limits: ToleranceLimits, *, plateaus: int, upper: bool
) -> float:
    """Margin to expect of another count of plateaus with the same spreads, in their unit.

    Source: own choice, because the spreads found so far are the best guess of the next ones.
    """
    tail = limits.tail_high if upper else limits.tail_low
    return _margin(spread, tail, plateaus, limits.content, limits.confidence)


def _margin(
    spread: LevelSpread, tail: NoiseTail, plateaus: int, content: float, confidence: float
) -> float:
    floor = step_sd_of_means(spread)
    return random_effects_margin(
        sd_means=max(spread.sd_means, floor),
        plateaus=max(plateaus, 2),
        noise_sd=max(tail.sd, floor),
        noise_quantile=max(tail.quantile, float(special.ndtri(content)) * floor),
        dof_noise=tail.dof,
        content=content,
        confidence=confidence,
    )


def _noise_tail(
    spread: LevelSpread, residuals: Floats, content: float, confidence: float
) -> NoiseTail:
    return noise_tail(
        residuals,
        lsb=spread.lsb,
        lag1=spread.lag1,
        dof_within=spread.dof_within,
        content=content,
        confidence=confidence,
    )


def step_sd_of_means(spread: LevelSpread) -> float:
    """Least standard deviation of plateau means that the converter's step lets us claim.

    With one plateau nothing is known of the spread between plateaus: the residual spread is then
    taken for it, with one degree of freedom, and the caller says so.

    Source: own choice, because equal codes on every press do not show a spread of zero; see
    `STEP_SHARE`.
    """
    if spread.plateaus > 1:
        return STEP_SHARE * spread.step_sd
    return max(STEP_SHARE * spread.step_sd, spread.sd_residual)


def random_effects_margin(
    *,
    sd_means: float,
    plateaus: int,
    noise_sd: float,
    noise_quantile: float,
    dof_noise: float,
    content: float,
    confidence: float,
) -> float:
    """Distance from the mean to a one-sided tolerance limit, in the unit of the spreads.

    The limit is the `confidence` quantile of the generalised pivotal quantity

        Z·T/√k + z·S + (q·c - z·W)·W/S,  S² = T² + W²,
        T² = (k-1)·sd_means²/χ²(k-1),  c² = ν/χ²(ν),  W = c·noise_sd,

    with z the `content` quantile of the normal distribution and q that of the noise within a
    plateau. S² is the variance of one reading of one press, whatever the correlation within a
    plateau; what the noise's tail reaches beyond a normal one counts by its share of S. For
    normal noise only Z·T/√k + z·S is left. It is found by quadrature over the two chi-square
    variables, so equal data give equal limits. With nothing within it is the exact noncentral-t
    limit.

    Args:
        sd_means: Standard deviation of the plateaus' means.
        plateaus: Their count k, at least 2.
        noise_sd: Standard deviation of the noise about the plateaus' own means.
        noise_quantile: Its quantile q; z times the standard deviation for normal noise.
        dof_noise: Its effective degrees of freedom ν.
        content: Share, between 0.5 and 1.
        confidence: Confidence, between 0.5 and 1.

    Returns:
        The margin, 0 where nothing varies.

    Raises:
        ValueError: If there are fewer than two plateaus.

    Source: Krishnamoorthy and Mathew, Technometrics 46 (2004), one-sided limits for the balanced
    one-way random model by generalised pivotal quantities (from memory); the split of the
    variance, the term for noise that is not normal (within 4 % of the convolution with gamma,
    exponential and Student noise) and the quadrature are ours.
    """
    _check(content, confidence)
    if plateaus < 2:
        msg = f"{plateaus} plateau(s): a spread between plateaus needs at least two."
        raise ValueError(msg)
    if sd_means <= 0.0 and noise_sd <= 0.0:
        return 0.0
    between, weight_between = _scaled_variances(plateaus - 1.0, POINTS_BETWEEN)
    within, weight_within = (
        (np.ones(1), np.ones(1))
        if dof_noise >= DOF_KNOWN
        else _scaled_variances(dof_noise, POINTS_WITHIN)
    )
    t = sd_means * np.sqrt(between)[:, None]
    z = float(special.ndtri(content))
    scale = np.sqrt(within)[None, :]
    total = np.sqrt(t**2 + (scale * noise_sd) ** 2)
    beyond = scale * max(0.0, noise_quantile - z * noise_sd)
    quantile = z * total + beyond * scale * noise_sd / total
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
    return float(optimize.brentq(short_of, 0.0, top, xtol=ROOT_SHARE * top))


@lru_cache(maxsize=256)
def _scaled_variances(dof: float, points: int) -> tuple[Floats, Floats]:
    """Nodes of ν/χ²(ν) and their weights: Gauss-Legendre in the variable's own probability."""
    probability, weights = _probabilities(points)
    variance = 0.5 * dof / special.gammaincinv(0.5 * dof, probability)
    return np.asarray(variance, dtype=np.float64), weights


@lru_cache(maxsize=8)
def _probabilities(points: int) -> tuple[Floats, Floats]:
    """Nodes between 0 and 1, denser at both ends where a variance runs away, and their weights."""
    nodes, weights = np.polynomial.legendre.leggauss(points)
    s = 0.5 * (nodes + 1.0)
    jacobian = 6.0 * s * (1.0 - s) * 0.5 * weights
    return s**2 * (3.0 - 2.0 * s), jacobian / jacobian.sum()


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


def _check(content: float, confidence: float) -> None:
    for name, value in (("content", content), ("confidence", confidence)):
        if not 0.5 <= value < 1.0:
            msg = f"{name} {value:g} is not between 0.5 and 1."
            raise ValueError(msg)
