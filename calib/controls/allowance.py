"""From a tolerance limit in the logger's volts to one that also bears the scale's uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy import special

from calib.controls.travel import LevelMeasurement
from calib.measure.tolerance import margin_after
from calib.measure.uncertainty import Budget


@dataclass(frozen=True)
class AllowedLevel:
    """One end of the travel with an allowance for what repetition does not show.

    Attributes:
        mean_V: Mean level, V.
        low_V: Lower limit with the allowance, V.
        high_V: Upper limit with the allowance, V.
        budget: The mean's uncertainty budget.
    """

    mean_V: float
    low_V: float
    high_V: float
    budget: Budget


def allow(level: LevelMeasurement, budget: Budget) -> AllowedLevel:
    """Limits of one level widened by its type B uncertainty, V.

    The tolerance margin and the one-sided expanded type B uncertainty, at the same confidence,
    are independent and add in squares.

    Source: own choice; JCGM 100, 5.1.2 for independent contributions.
    """
    z = float(special.ndtri(level.limits.confidence))
    extra_V = z * budget.of_kind("B").u
    return AllowedLevel(
        mean_V=level.mean,
        low_V=level.mean - math.hypot(level.mean - level.limit_low, extra_V),
        high_V=level.mean + math.hypot(level.limit_high - level.mean, extra_V),
        budget=budget,
    )


def limit_after(level: LevelMeasurement, budget: Budget, *, plateaus: int, upper: bool) -> float:
    """Limit to expect after more presses, all else being equal, V.

    Args:
        level: What was measured.
        budget: Its budget.
        plateaus: Count of plateaus that there would be.
        upper: Whether the upper limit is asked for.

    Source: own choice: the spreads found so far are taken for the true ones.
    """
    margin_V = margin_after(level.spread, level.limits, plateaus=plateaus, upper=upper)
    z = float(special.ndtri(level.limits.confidence))
    whole_V = math.hypot(margin_V, z * budget.of_kind("B").u)
    return level.mean + whole_V if upper else level.mean - whole_V


def limit_remedied(level: LevelMeasurement, budget: Budget, *, upper: bool) -> float:
    """Limit that would be left after the best remedy of a type B part, V.

    Source: own choice, as `allow`.
    """
    type_b = budget.of_kind("B")
    best = type_b.best_remedy()
    variance = type_b.u**2
    if best is not None:
        variance += best.u_remedied**2 - best.u**2
    z = float(special.ndtri(level.limits.confidence))
    margin_V = level.limit_high - level.mean if upper else level.mean - level.limit_low
    whole_V = math.hypot(margin_V, z * math.sqrt(max(0.0, variance)))
    return level.mean + whole_V if upper else level.mean - whole_V
