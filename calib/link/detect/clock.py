"""Which column is the logger's clock, in which unit it counts, and where it wraps."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TimeUnit = Literal["s", "ms", "us", "text"]

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

FORWARD_SHARE = 0.98
"""Share of steps that must not go back in a column that is called a time: own choice, for a log in
which its logger started again a few times."""

MS_STEPS = (0.25, 300.0)
"""Mean steps of whole numbers that are taken for milliseconds: own choice, 3 to 4000 samples a
second; larger ones are microseconds, smaller ones seconds that many samples share."""

SURE_MS_STEP = 2.0
"""Mean step with decimals from which it is no second: own choice; a sample in two seconds is slower
than any logger of a hand control."""

LEAST_SHARED = 5.0
"""Samples that must share a stamp before whole numbers are taken for seconds: own choice."""

EPOCHS: tuple[tuple[float, float, TimeUnit], ...] = (
    (1e9, 1e10, "s"), (1e12, 1e13, "ms"), (1e15, 1e16, "us")
)  # fmt: skip
"""Ranges in which a count is one since 1970, in which unit: the years 2001 to 2286."""

_PER_S: dict[TimeUnit, float] = {"s": 1.0, "ms": 1e3, "us": 1e6}
_TIME_NAME = re.compile(
    r"(?:t|ts|time|times|timestamp|stamp|zeit|date ?time|clock|millis|micros|elapsed|uptime|seconds"
    r"|log_m?s|unnamed|c\d+)(?![A-Za-z])",
    re.IGNORECASE,
)
_UNITS: dict[str, TimeUnit] = {"s": "s", "ms": "ms", "us": "us", "milli": "ms", "micro": "us"}
_NAME_UNIT = re.compile(r"(?:^|[^A-Za-z])(ms|us|s)\W*$|(milli)|(micro)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ClockColumn:
    """A column that goes with time.

    Attributes:
        index: Its place, from 0.
        unit: The unit that its text, pace, name or steps speak for; None where none does.
        unit_from: ``text``, ``pace``, ``name``, ``steps``, or empty.
        pace_hz: Counts in one second of the computer's clock; NaN where that is not known.
        wrap: Counts at which it was seen to start again; None where it was not seen.
        may_wrap: It counts in whole numbers, and so may wrap.
        by_one: It rises by one a line: it may count lines.
    """

    index: int
    unit: TimeUnit | None
    unit_from: Literal["text", "pace", "name", "steps", ""]
    pace_hz: float = math.nan
    wrap: int | None = None
    may_wrap: bool = False
    by_one: bool = False


def find_clock(
    values: Floats, arrival_s: Floats, names: Sequence[str], stamped: Collection[int] = ()
) -> ClockColumn | None:
    """The column that is a clock; None where there is none.

    Args:
        values: Numbers as received, shape (n, columns).
        arrival_s: When they came, in s, shape (n,); NaN where that is not known, as in a file:
            then a clock rises evenly from line to line, and only its name can tell its unit.
        names: Of the columns.
        stamped: Places of columns that hold a wall clock; the first of them is the clock.
    """
    if stamped:
        return ClockColumn(min(stamped), "text", "text")
    timed = bool(np.isfinite(arrival_s).all())
    if len(arrival_s) < LEAST_SAMPLES or (timed and arrival_s[-1] - arrival_s[0] < LEAST_S):
        return None
    passed = arrival_s if timed else np.arange(len(arrival_s), dtype=np.float64)
    found = [
        _as_clock(index, counts, passed, name, timed=timed)
        if timed or not _TIME_NAME.match(name)
        else _in_file(index, counts, passed, name)
        for index, (counts, name) in enumerate(zip(values.T, names, strict=False))
        if np.isfinite(counts).all()
    ]
    clocks = (clock for clock in found if clock is not None)
    return min(clocks, key=lambda clock: (clock.unit is None, clock.index), default=None)


def _in_file(index: int, counts: Floats, lines: Floats, name: str) -> ClockColumn | None:
    """A column of a file that is called a time and goes on, however its stamps came."""
    steps = np.diff(counts)
    forward = steps[steps >= 0]
    if len(forward) < FORWARD_SHARE * len(steps) or float(forward.sum()) <= 0.0:
        return None
    stretch = _straightened(counts, lines)
    if re.fullmatch(r"c\d+", name) and not _goes_with_time(stretch):
        return None
    whole, by_name = _is_whole(counts), unit_of_name(name)
    unit = by_name or _unit_of_steps(counts, forward, whole=whole)
    source: Literal["name", "steps", ""] = "name" if by_name else "steps" if unit else ""
    wrap = stretch.wrap if len(forward) == len(steps) - 1 else None
    return ClockColumn(index, unit, source, wrap=wrap, may_wrap=whole)


def _is_whole(counts: Floats) -> bool:
    return bool(np.all(counts == np.round(counts)))


def _unit_of_steps(counts: Floats, forward: Floats, *, whole: bool) -> TimeUnit | None:
    """The unit in which a file's steps make an ordinary logger; None where two do."""
    for low, high, unit in EPOCHS:
        if low <= counts.min() and counts.max() < high:
            return unit
    mean = float(forward.mean())
    if (not whole and mean <= MS_STEPS[0]) or (whole and mean <= 1.0 / LEAST_SHARED):
        return "s"
    if np.all(forward == 1.0) or mean < (MS_STEPS[0] if whole else SURE_MS_STEP):
        return None
    return "ms" if mean <= MS_STEPS[1] else "us"


def _as_clock(
    index: int, counts: Floats, passed: Floats, name: str, *, timed: bool
) -> ClockColumn | None:
    """A column as a clock; None where it does not rise evenly, or only counts lines."""
    if np.count_nonzero(np.diff(counts) < 0) > 1:
        return None
    stretch = _straightened(counts, passed)
    if len(stretch.counts) < LEAST_SAMPLES or not _goes_with_time(stretch):
        return None
    slope = float(np.polyfit(stretch.passed - stretch.passed[0], stretch.counts, 1)[0])
    by_pace, by_name = _unit_of_pace(slope) if timed else None, unit_of_name(name)
    by_one = bool(np.all(np.diff(stretch.counts) == 1.0))
    source: Literal["name", "pace", ""] = "name" if by_name else "pace" if by_pace else ""
    if (by_one or not timed) and not source:
        return None
    pace_hz, whole = slope if timed else math.nan, _is_whole(counts)
    return ClockColumn(index, by_name or by_pace, source, pace_hz, stretch.wrap, whole, by_one)


def _goes_with_time(stretch: _Stretch) -> bool:
    """Whether counts rise with what passed, and evenly; what stands still does not."""
    if min(map(np.ptp, (stretch.counts, stretch.passed))) <= 0.0:
        return False
    correlation = float(np.corrcoef(stretch.counts, stretch.passed)[0, 1])
    steps = np.diff(stretch.counts)
    usual = float(np.median(steps))
    even = np.mean((steps >= 0.5 * usual) & (steps <= 2.0 * usual)) if usual > 0.0 else 0.0
    return correlation >= (WITH_TIME if even >= STEADY_SHARE else STEADY)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Counts that rise all the way, what had passed at each, and where they had wrapped."""

    counts: Floats
    passed: Floats
    wrap: int | None = None


def _straightened(counts: Floats, passed: Floats) -> _Stretch:
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
    near = (unit for unit, per_s in _PER_S.items() if abs(pace_hz / per_s - 1.0) <= PACE_TOLERANCE)
    return next(near, None)


def unit_of_name(name: str) -> TimeUnit | None:
    """The unit that a column's name ends in: ``t_ms``, ``time (us)``, ``millis``."""
    found = _NAME_UNIT.search(name)
    return None if found is None else _UNITS[found[found.lastindex or 0].casefold()]
