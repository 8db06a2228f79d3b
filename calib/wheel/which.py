"""Which column is the wheel's: the one that gave pulses while the wheel was turned."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calib.wheel.counting import WheelUnit, is_high, unit_of, unwrapped

Floats = NDArray[np.float64]

LEAST_PULSES: Final = 5
"""Own choice: fewer may be a drift by a few counts, or a nudge."""

LEAST_REACH: Final = 0.3
"""Share of the higher level that a level falls by, at least. Own choice: a sensor pulls to ground,
and noise on a converter flips between neighbouring counts."""

BETWEEN: Final = (0.2, 0.8)
"""Shares of the way from low to high within which a level is on an edge. Own choice."""

MOST_BETWEEN: Final = 0.1
"""Share of the readings that may lie there. Own choice: of a control that is worked more do."""


@dataclass(frozen=True, slots=True)
class WheelColumn:
    """A column that gave pulses.

    Attributes:
        index: Its place, from 0.
        unit: Level or running count.
        pulses: How many came.
    """

    index: int
    unit: WheelUnit
    pulses: int


def find_wheel(turned: Floats, rest: Floats, skip: Collection[int]) -> list[WheelColumn]:
    """Columns that gave pulses and then stood still, running counts first.

    Args:
        turned: Readings while the wheel was turned, shape (n, columns).
        rest: Readings after that, while it stood, shape (m, columns), m of 1 or more.
        skip: Columns that are none: the clock, and what the rig file knows.
    """
    found = [
        WheelColumn(index, unit, pulses)
        for index in range(rest.shape[1])
        if index not in skip
        for unit, pulses in [_pulses(turned[:, index], rest[:, index])]
        if pulses >= LEAST_PULSES
    ]
    return sorted(found, key=lambda each: each.unit != "pulses")


def _pulses(turned: Floats, rest: Floats) -> tuple[WheelUnit, int]:
    """What a column would be, and its pulses; none where it is no wheel's."""
    both = np.concatenate([turned, rest])
    unit = unit_of(both)
    if not np.isfinite(both).all():
        return unit, 0
    if unit == "pulses":
        steady = float(np.ptp(rest)) == 0.0
        return unit, int(unwrapped(both)[-1]) if steady else 0
    high = is_high(both)
    low, top = float(both.min()), float(both.max())
    share = (both - low) / (top - low)
    on_edge = float(np.mean((share > BETWEEN[0]) & (share < BETWEEN[1])))
    moved_at_rest = float(np.ptp(share[-len(rest) :])) > BETWEEN[0]
    if high is None or on_edge > MOST_BETWEEN or moved_at_rest or top - low < LEAST_REACH * top:
        return unit, 0
    return unit, int(np.count_nonzero(high[1:] & ~high[:-1]))
