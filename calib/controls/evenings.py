"""Several evenings of one control: how far a level moves from one to the next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calib.controls.travel import LevelMeasurement
from calib.measure.distributions import normal_quantile
from calib.measure.spread import LevelSpread
from calib.measure.tails import NoiseTail
from calib.measure.tolerance import STEP_SHARE, Reach, ToleranceLimits, reach
from calib.measure.uncertainty import effective_dof

# Requirement of this project: with fewer evenings their spread says too little to be a limit.
LEAST_EVENINGS = 4


@dataclass(frozen=True)
class Evening:
    """One end of the travel as one evening measured it, V.

    Attributes:
        mean_V: Mean of the stays' levels.
        stays: Count of stays, one a release or press.
        sd_means_V: Standard deviation of the stays' levels as measured.
        sd_within_V: Standard deviation of a reading about its stay's level.
        dof_within: Degrees of freedom of that.
    """

    mean_V: float
    stays: int
    sd_means_V: float
    sd_within_V: float
    dof_within: float


def evening_of(spread: LevelSpread) -> Evening:
    """Tonight's evening."""
    return Evening(
        mean_V=spread.mean,
        stays=spread.plateaus,
        sd_means_V=spread.sd_means,
        sd_within_V=spread.sd_within,
        dof_within=spread.dof_within,
    )


def sd_of_evenings(evenings: Sequence[Evening]) -> float:
    """Standard deviation of the means of at least two evenings, V."""
    return float(np.std([evening.mean_V for evening in evenings], ddof=1))


def evening_limits(tonight: LevelMeasurement, earlier: Sequence[Evening]) -> ToleranceLimits:
    """Limits of one future reading on a future evening, V.

    Args:
        tonight: What was measured tonight.
        earlier: The evenings before, at least three.

    Returns:
        The limits, counted from the grand mean of the evenings.

    Raises:
        ValueError: If there are fewer than four evenings in all.

    Source: `calib.measure.tolerance`, *Evenings*; what presses and noise scatter within an evening
    is pooled over the evenings, its degrees of freedom after JCGM 100, eq. (G.2b).
    """
    evenings = (*earlier, evening_of(tonight.spread))
    if len(evenings) < LEAST_EVENINGS:
        msg = f"{len(evenings)} evenings: their spread needs at least {LEAST_EVENINGS}."
        raise ValueError(msg)
    limits, step_V = tonight.limits, STEP_SHARE * tonight.spread.step_sd
    between_V = max(sd_of_evenings(evenings), step_V)
    press_V, press_dof = _pooled([(each.sd_means_V, each.stays - 1.0) for each in evenings])
    noise_V, noise_dof = _pooled([(each.sd_within_V, each.dof_within) for each in evenings])
    press_V = max(press_V, step_V)
    dof = effective_dof([(press_V, press_dof), (noise_V, noise_dof)])

    def of(tail: NoiseTail) -> Reach:
        z = normal_quantile(limits.content)
        heavier = max(z, tail.quantile / tail.sd) if tail.sd > 0.0 else z
        return reach(
            sd_levels=between_V,
            count=len(evenings),
            noise_quantile=math.hypot(z * press_V, heavier * noise_V),
            dof_noise=dof,
            content=limits.content,
            confidence=limits.confidence,
        )

    return replace(
        limits,
        centre=float(np.mean([evening.mean_V for evening in evenings])),
        below=of(limits.tail_low),
        above=of(limits.tail_high),
        method="evenings",
    )


def _pooled(parts: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Pooled standard deviation and its degrees of freedom."""
    dof = sum(part for _, part in parts)
    if dof <= 0.0:
        return 0.0, math.inf
    return math.sqrt(sum(part * sd**2 for sd, part in parts) / dof), dof
