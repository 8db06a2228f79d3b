"""From a tolerance limit in the logger's volts to one that also bears a shift of the scale.

The model stands in `calib.measure.tolerance`: a shift moves the whole distribution of readings, so
that the distance which the readings need stays as it is and only what is unknown of it and of the
shift are added in squares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from calib.controls.travel import LevelMeasurement
from calib.measure.tolerance import Reach, reach_after
from calib.measure.uncertainty import Budget


@dataclass(frozen=True)
class AllowedLevel:
    """One end of the travel with an allowance for what repetition does not show.

    Attributes:
        mean_V: The mean that the limits are counted from, V.
        low_V: Lower limit with the allowance, V.
        high_V: Upper limit with the allowance, V.
        budget: The uncertainty budget of tonight's mean.
    """

    mean_V: float
    low_V: float
    high_V: float
    budget: Budget

    def limit_V(self, *, upper: bool) -> float:
        """The limit on one side, V."""
        return self.high_V if upper else self.low_V


def allow(level: LevelMeasurement, budget: Budget) -> AllowedLevel:
    """Limits of one level widened by the shift that its type B uncertainty allows, V.

    Source: `calib.measure.tolerance`, *Scale*.
    """
    limits = level.limits
    u_shift_V = budget.of_kind("B").u
    return AllowedLevel(
        mean_V=limits.centre,
        low_V=limits.centre - limits.below.shifted(u_shift_V, limits.confidence),
        high_V=limits.centre + limits.above.shifted(u_shift_V, limits.confidence),
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
    reach = reach_after(level.spread, level.limits, plateaus=plateaus, upper=upper)
    return _limit(level, reach, budget.of_kind("B").u, upper=upper)


def limit_remedied(level: LevelMeasurement, budget: Budget, *, upper: bool) -> float:
    """Limit that would be left after the best remedy of a type B part, V.

    Source: own choice, as `allow`.
    """
    type_b = budget.of_kind("B")
    best = type_b.best_remedy()
    variance = type_b.u**2
    if best is not None:
        variance += best.u_remedied**2 - best.u**2
    reach = level.limits.above if upper else level.limits.below
    return _limit(level, reach, math.sqrt(max(0.0, variance)), upper=upper)


def _limit(level: LevelMeasurement, reach: Reach, u_shift_V: float, *, upper: bool) -> float:
    whole_V = reach.shifted(u_shift_V, level.limits.confidence)
    return level.limits.centre + whole_V if upper else level.limits.centre - whole_V
