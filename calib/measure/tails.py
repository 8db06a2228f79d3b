"""Tails of the noise within plateaus: whether they are normal, and how far out they reach."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calib.measure.distributions import binomial_up_to, normal_quantile

Floats = NDArray[np.float64]
TailMethod = Literal["normal", "extrapolated", "distribution-free"]

# Own choice: a tail is plainly heavier than normal when its excess is this many standard
# deviations of what normal noise would show, so that normal noise is called heavy in about one
# capture in 200.
PLAINLY_SDS = 2.6
# Own choice: share of the readings taken as the tail to extrapolate from, where they are few,
# and count that is enough where they are many.
TAIL_SHARE = 0.10
ENOUGH_TAIL = 200.0
LEAST_TAIL_SHARE = 0.04
# Own choice: an order statistic serves from this rank on; the very largest readings wander so
# much that they would waste more than the extrapolation.
LEAST_RANK = 8
# Own choice: effective readings in the tail below which it is not extrapolated.
LEAST_TAIL = 12.0
# Own choice: shape of the tail before data, and its standard deviation. Noise that reaches far
# on one side only is taken for nearly exponential there; noise that reaches far on both sides
# for one like Student's t with five degrees of freedom, whose shape is 0.2.
PRIOR_SHAPE_ONE_SIDED = 0.0
PRIOR_SHAPE_BOTH_SIDES = 0.2
PRIOR_SHAPE_SD = 0.10
# Own choice: the outer tenths' means differ by more than this share of their sum in one-sided
# noise; a gamma law of skewness 1 has 0.24, a symmetrical one 0.
ONE_SIDED_SHARE = 0.12
# Own choice: with a coarser step than this many standard deviations the codes show no tail.
COARSE_LSB_SDS = 1.5
SHAPE_BOUNDS = (-0.25, 0.40)


@dataclass(frozen=True)
class NoiseTail:
    """How far one tail of the noise reaches.

    Attributes:
        sd: Standard deviation of the noise, without the converter's own.
        quantile: Distance from the plateau's level that holds the promised share, in the unit.
        dof: Degrees of freedom of that distance, as if it were a standard deviation.
        method: How it was found.
    """

    sd: float
    quantile: float
    dof: float
    method: TailMethod


def noise_tail(
    residuals: Floats,
    *,
    lsb: float,
    lag1: float,
    dof_within: float,
    content: float,
    confidence: float,
) -> NoiseTail:
    """Upper tail of the noise about its plateau's level, in the unit of the readings.

    Normal unless the data plainly speak against it; then the order statistic that needs no
    distribution where there are enough effective readings, and else the outermost tenth of the
    readings, continued by a generalised Pareto tail. For the lower tail turn the residuals round.

    Args:
        residuals: Readings less their plateau's mean, shape (n,), n at least 1.
        lsb: Step of the converter, 0 where unknown.
        lag1: Correlation of neighbours, 0 to 1.
        dof_within: Degrees of freedom of the residuals' root mean square, which is also taken
            for the count of independent readings in the tails.
        content: Promised share.
        confidence: Confidence of an order statistic.

    Returns:
        The tail.

    Source: Cornish-Fisher expansion for the excess (Abramowitz and Stegun 26.2.49, from memory);
    order statistics after Wilks; peaks over a threshold after Pickands, Ann. Statist. 3 (1975),
    fitted by probability-weighted moments after Hosking and Wallis, Technometrics 29 (1987) (both
    from memory), its shape drawn towards a nearly exponential tail (own choice).
    """
    sd = float(np.sqrt((residuals**2).mean()))
    z = normal_quantile(content)
    analog_sd = without_step(sd, lsb)
    normal = NoiseTail(analog_sd, z * analog_sd, dof_within, "normal")
    independent = min(dof_within, float(len(residuals)))
    if sd <= 0.0 or lsb > COARSE_LSB_SDS * sd or excess_sds(residuals / sd, lag1, z) < PLAINLY_SDS:
        return normal
    rank = order_statistic_rank(int(independent), content, confidence)
    if rank is not None and rank >= LEAST_RANK:
        # The same share of the readings lies beyond it, however correlated they are.
        outer = max(1, int(rank * len(residuals) / independent))
        limit = float(np.partition(residuals, -outer)[-outer])
        return NoiseTail(sd, max(limit, z * sd), float("inf"), "distribution-free")
    if TAIL_SHARE * independent < LEAST_TAIL:
        return NoiseTail(sd, z * sd, dof_within, "normal")
    tail = _extrapolated(residuals, independent, content)
    return tail if tail is not None and tail.quantile > z * sd else normal


def order_statistic_rank(n: int, content: float, confidence: float) -> int | None:
    """Rank from the largest reading that is a distribution-free limit, or None if n is too few.

    Source: Wilks, Ann. Math. Statist. 12 (1941) (from memory): binomial tail.
    """
    rank = 0
    while rank < n and binomial_up_to(rank, n, 1.0 - content) <= 1.0 - confidence:
        rank += 1
    return rank or None


def without_step(sd: float, lsb: float) -> float:
    """Standard deviation of noise before the converter, in its unit.

    Args:
        sd: Standard deviation of the readings.
        lsb: Step of the converter.

    Returns:
        The same without LSB²/12 where the noise covers the step, unchanged where it does not.

    Source: Sheppard's correction.
    """
    if lsb > COARSE_LSB_SDS * sd:
        return sd
    return float(np.sqrt(sd**2 - lsb**2 / 12.0))


def excess_sds(standardised: Floats, lag1: float, z: float) -> float:
    """How much farther than a normal tail the noise reaches, in standard deviations of chance.

    Args:
        standardised: Residuals over their root mean square, shape (n,).
        lag1: Correlation of neighbours; that of third and fourth powers is its power.
        z: Normal quantile at which the tails are compared.

    Returns:
        The excess; positive where the upper tail is heavier.

    Source: Cornish-Fisher expansion to second order; variances 6/n and 24/n of skewness and
    kurtosis, inflated for correlation.
    """
    n = len(standardised)
    square = standardised**2
    skewness = float((square * standardised).mean())
    kurtosis = float((square * square).mean()) - 3.0
    r3, r4 = lag1**3, lag1**4
    variance_3 = 6.0 / n * (1.0 + r3) / (1.0 - r3)
    variance_4 = 24.0 / n * (1.0 + r4) / (1.0 - r4)
    weight_3, weight_4 = (z**2 - 1.0) / 6.0, (z**3 - 3.0 * z) / 24.0
    excess = weight_3 * skewness + weight_4 * kurtosis
    chance = float(np.sqrt(weight_3**2 * variance_3 + weight_4**2 * variance_4))
    return excess / chance


def _extrapolated(residuals: Floats, independent: float, content: float) -> NoiseTail | None:
    n = len(residuals)
    share = min(TAIL_SHARE, max(LEAST_TAIL_SHARE, ENOUGH_TAIL / independent))
    count = max(10, int(share * n))
    outer = np.sort(np.partition(residuals, n - count - 1)[n - count - 1 :])
    threshold, excess = float(outer[0]), outer[1:] - outer[0]
    mean = float(excess.mean())
    if mean <= 0.0:
        return None
    rank = (np.arange(1, count + 1) - 0.35) / count
    weighted = float(((1.0 - rank) * excess).mean())
    effective = share * independent
    fitted = 2.0 - mean / max(mean - 2.0 * weighted, 1e-9 * mean)
    variance = (1.0 + max(fitted, 0.0)) ** 2 / effective
    prior = PRIOR_SHAPE_SD**2
    before = PRIOR_SHAPE_ONE_SIDED if _is_one_sided(residuals) else PRIOR_SHAPE_BOTH_SIDES
    shape = (fitted / variance + before / prior) / (1.0 / variance + 1.0 / prior)
    shape = min(max(shape, SHAPE_BOUNDS[0]), SHAPE_BOUNDS[1])
    shape_variance = 1.0 / (1.0 / variance + 1.0 / prior)
    log_ratio = float(np.log(count / n / (1.0 - content)))
    reach = float(np.expm1(shape * log_ratio) / shape) if abs(shape) > 1e-9 else log_ratio
    distance = mean * (1.0 - shape) * reach
    # The scale is known to 1/√count, the shape tilts the reach by half its logarithm.
    relative = (1.0 / effective + shape_variance * (0.5 * log_ratio - 1.0) ** 2) ** 0.5
    quantile = threshold + distance
    relative_total = relative * distance / quantile
    sd = float(np.sqrt((residuals**2).mean()))
    return NoiseTail(sd, quantile, 0.5 / relative_total**2, "extrapolated")


def _is_one_sided(residuals: Floats) -> bool:
    """Whether the upper tenth reaches clearly farther than the lower one."""
    count = max(1, len(residuals) // 10)
    ordered = np.partition(residuals, [count - 1, len(residuals) - count])
    up, down = float(ordered[-count:].mean()), -float(ordered[:count].mean())
    return up - down > ONE_SIDED_SHARE * (up + down)
