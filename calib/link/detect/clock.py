"""Which column is the logger's clock, in which unit it counts, and where it wraps."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

TimeUnit = Literal["s", "ms", "us"]

LEAST_SAMPLES = 8
"""Samples from which a clock can be told: own choice, so that noise does not rise all the way."""

LEAST_S = 0.8
"""Time from which the pace of a clock can be told, in s: own choice, many times the bursts in
which a USB adapter hands lines over."""

WITH_TIME = 0.98
"""Correlation with arrival from which a column may go with time: own choice; lines that a busy
computer reads a tenth of a second late leave it above."""

STEADY_SHARE = 0.9
"""Share of steps that must be half to twice the usual one: own choice; a slow drift at rest has
noise in its steps, and a hand does not move evenly."""

STEADY = 0.999
"""Correlation that serves in place of even steps, for a clock that is coarser than the lines: own
choice."""

PACE_TOLERANCE = 0.2
"""Share by which a clock's pace may differ from a unit's: own choice; the units are a factor of
1000 apart, and a burst of lines at the start of a short stretch makes some per cent."""

MODULI = (2**32, 2**31, 2**30, 2**24, 2**16, 10**6, 10**5, 10**4, 10**3)
"""Where counters wrap: widths of common counters, and digits of common displays."""

WRAP_STEPS = 3.0
"""Usual steps by which a wrap may miss a modulus: own choice, for a line or two that were lost."""

_PER_S: dict[TimeUnit, float] = {"s": 1.0, "ms": 1e3, "us": 1e6}
_NAME_UNIT = re.compile(r"(?:^|[^A-Za-z])(ms|us|s)\W*$|(milli)|(micro)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ClockColumn:
    """A column that goes with time.

    Attributes:
        index: Its place, from 0.
        pace_hz: Counts in one second of the computer's clock; NaN where that is not known.
        unit: The unit that pace or name speaks for; None where neither does.
        unit_from: ``pace``, ``name``, or empty.
        contradicted: Pace and name speak for different units, or the pace for none.
        wrap: Counts at which it was seen to start again; None where it was not seen.
        may_wrap: It counts in whole numbers, and so may wrap.
        by_one: It rises by one a line: it may count lines.
    """

    index: int
    pace_hz: float
    unit: TimeUnit | None
    unit_from: Literal["pace", "name", ""]
    contradicted: bool
    wrap: int | None
    may_wrap: bool
    by_one: bool


def find_clock(
    values: NDArray[np.float64], arrival_s: NDArray[np.float64], names: Sequence[str]
) -> ClockColumn | None:
    """The first column that rises evenly with time; None where there is none.

    Args:
        values: Numbers as received, shape (n, columns).
        arrival_s: When they came, in s, shape (n,); NaN where that is not known, as in a file:
            then a clock rises evenly from line to line, and only its name can tell its unit.
        names: Of the columns.
    """
    timed = bool(np.isfinite(arrival_s).all())
    if len(arrival_s) < LEAST_SAMPLES or (timed and arrival_s[-1] - arrival_s[0] < LEAST_S):
        return None
    passed = arrival_s if timed else np.arange(len(arrival_s), dtype=np.float64)
    found = [
        clock
        for index, name in enumerate(names)
        if (clock := _as_clock(index, values[:, index], passed, name, timed=timed)) is not None
    ]
    return min(found, key=lambda clock: (clock.unit is None, clock.index), default=None)


def _as_clock(
    index: int,
    counts: NDArray[np.float64],
    passed: NDArray[np.float64],
    name: str,
    *,
    timed: bool,
) -> ClockColumn | None:
    """A column as a clock; None where it does not rise evenly, or only counts lines."""
    if np.count_nonzero(np.diff(counts) < 0) > 1:
        return None
    stretch = _straightened(counts, passed)
    if (
        len(stretch.counts) < LEAST_SAMPLES
        or min(map(np.ptp, (stretch.counts, stretch.passed))) <= 0
    ):
        return None
    if not _goes_with_time(stretch):
        return None
    slope = float(np.polyfit(stretch.passed - stretch.passed[0], stretch.counts, 1)[0])
    by_pace, by_name = _unit_of_pace(slope) if timed else None, unit_of_name(name)
    by_one = bool(np.all(np.diff(stretch.counts) == 1.0))
    if by_one and by_name is None and by_pace is None:
        return None
    return ClockColumn(
        index=index,
        pace_hz=slope if timed else math.nan,
        unit=by_pace if by_name is None else by_name,
        unit_from="name" if by_name else "pace" if by_pace else "",
        contradicted=timed and (by_name or by_pace) != by_pace,
        wrap=stretch.wrap,
        may_wrap=bool(np.all(counts == np.round(counts))),
        by_one=by_one,
    )


def _goes_with_time(stretch: _Stretch) -> bool:
    """Whether counts rise with what passed, and evenly."""
    correlation = float(np.corrcoef(stretch.counts, stretch.passed)[0, 1])
    steps = np.diff(stretch.counts)
    usual = float(np.median(steps))
    even = np.mean((steps >= 0.5 * usual) & (steps <= 2.0 * usual)) if usual > 0.0 else 0.0
    return correlation >= (WITH_TIME if even >= STEADY_SHARE else STEADY)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Counts that rise all the way, what had passed at each, and where they had wrapped."""

    counts: NDArray[np.float64]
    passed: NDArray[np.float64]
    wrap: int | None = None


def _straightened(counts: NDArray[np.float64], passed: NDArray[np.float64]) -> _Stretch:
    """A column with its one wrap undone; where it started again, the longer of the two parts."""
    steps = np.diff(counts)
    back = np.flatnonzero(steps < 0)
    if not len(back):
        return _Stretch(counts, passed)
    place = int(back[0])
    wrap = _modulus(float(steps[place]), float(np.median(steps)))
    if wrap is not None:
        unwrapped = np.concatenate([counts[: place + 1], counts[place + 1 :] + wrap])
        return _Stretch(unwrapped, passed, wrap)
    longer = slice(None, place + 1) if place >= len(steps) / 2 else slice(place + 1, None)
    return _Stretch(counts[longer], passed[longer])


def _modulus(step: float, usual: float) -> int | None:
    """Where a counter wrapped that stepped back by ``step``; None where that fits no counter."""
    near = [each for each in MODULI if abs(each + step - usual) <= WRAP_STEPS * usual]
    return near[0] if near else None


def _unit_of_pace(pace_hz: float) -> TimeUnit | None:
    for unit, per_s in _PER_S.items():
        if abs(pace_hz / per_s - 1.0) <= PACE_TOLERANCE:
            return unit
    return None


def unit_of_name(name: str) -> TimeUnit | None:
    """The unit that a column's name ends in: ``t_ms``, ``time (us)``, ``millis``."""
    found = _NAME_UNIT.search(name)
    if found is None:
        return None
    if found[2] or (found[1] or "").casefold() == "ms":
        return "ms"
    return "us" if found[3] or found[1].casefold() == "us" else "s"
