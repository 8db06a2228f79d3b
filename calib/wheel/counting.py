"""From a column of levels, or a running count that wraps, to pulses; and which column has them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
WheelUnit = Literal["level", "pulses"]

LOW_SHARE, HIGH_SHARE = 0.4, 0.6
"""Shares of the way from lowest to highest reading at which a level changes over. Own choice: a
fifth of it between them, so that noise on a slow edge is no pulse."""

MODULI: Final = (2**8, 2**16, 2**32)
"""Where a running count starts again, unless stated: the widths of usual counters."""

MOST_BOUNCE_S: Final = 5e-3
"""Longest that a stay of a bouncing contact lasts, s. Common practice, no source: a fraction of a
millisecond to several, as the bench check takes it for switches."""

BOUNCE_GAP: Final = 2.5
"""How many times as long as the longest bounce the shortest real stay must be. Own choice: where
the two kinds run into one another nobody can part them."""

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
class Pulses:
    """Pulses of a level column; a pulse is a stay at the level that takes less of the time.

    Attributes:
        start_s: When each began, s, shape (n,).
        width_s: How long each lasted, s, shape (n,).
        samples_between: Samples in the shortest stay at either level; None without two pulses.
        bounces: Changes that were taken for the bounce of a contact.
        index: Sample at which each began, shape (n,).
    """

    start_s: Floats
    width_s: Floats
    samples_between: int | None
    bounces: int
    index: NDArray[np.intp]

    @property
    def count(self) -> int:
        """Count of the pulses."""
        return len(self.start_s)


def unwrapped(counts: Floats, modulus: float | None = None) -> Floats:
    """A running count with its wraps undone, from 0; it falls where the wheel turned back.

    Between two samples it may go on by less than half of the modulus.

    Args:
        counts: As received, shape (n,), n of 1 or more.
        modulus: Where it starts again; the usual width that holds all readings when None.

    Source: differences modulo the width, as for any encoder's counter.
    """
    width = modulus or next((m for m in MODULI if counts.max() < m), 2.0**53)
    steps = (np.diff(counts) + width / 2.0) % width - width / 2.0
    return np.concatenate([[0.0], np.cumsum(steps)])


def unit_of(values: Floats) -> WheelUnit:
    """What a wheel's column seems to be: a running count where it never falls, else a level.

    Args:
        values: As received, shape (n,); NaN where missing.
    """
    there = values[np.isfinite(values)]
    if not len(there) or np.any(there != np.round(there)):
        return "level"
    return "level" if np.any(np.diff(unwrapped(there)) < 0.0) else "pulses"


def is_high(levels: Floats) -> NDArray[np.bool_] | None:
    """Whether each reading is at the higher level, shape (n,); None where there is only one."""
    low, high = float(levels.min()), float(levels.max())
    if high <= low:
        return None
    share = (levels - low) / (high - low)
    sure = (share >= HIGH_SHARE) | (share <= LOW_SHARE)
    last = np.maximum.accumulate(np.where(sure, np.arange(len(levels)), 0))
    return np.asarray(share[last] > 0.5, dtype=np.bool_)


def pulses_of(time_s: Floats, levels: Floats) -> Pulses:
    """Pulses in a level column, the bounce of a contact taken out.

    What bounces are stays that are short beside all others and come in rows: between two long
    stays at different levels they are one change, between two at the same level one pulse.

    Args:
        time_s: When each reading was taken, s, shape (n,), rising.
        levels: Readings of either level, shape (n,).

    Source: own choice of method.
    """
    high = is_high(levels)
    if high is None:
        nothing = np.empty(0)
        return Pulses(nothing, nothing, None, 0, np.empty(0, dtype=np.intp))
    changes = np.flatnonzero(high[1:] != high[:-1]) + 1
    starts = np.concatenate([[0], changes])
    ends = np.append(changes, len(high) - 1)
    at_high = high[starts]
    lasts_s = time_s[ends] - time_s[starts]
    kept, bounces = _without_bounce(at_high, lasts_s)
    starts, at_high = starts[kept], at_high[kept]
    ends = np.append(starts[1:], len(high) - 1)
    lasts_s = time_s[ends] - time_s[starts]
    active = bool(lasts_s[at_high].sum() <= lasts_s[~at_high].sum())
    # the first stay began before anybody looked
    pulse = np.flatnonzero(at_high == active)
    pulse = pulse[pulse > 0]
    inner = np.diff(starts)[1:]
    return Pulses(
        start_s=time_s[starts[pulse]],
        width_s=lasts_s[pulse],
        samples_between=int(inner.min()) if len(inner) > 1 else None,
        bounces=bounces,
        index=starts[pulse],
    )


def bounce_limit_s(lasts_s: Floats) -> float:
    """Length below which a stay is a bounce, s; 0 where nothing sets short stays apart.

    Args:
        lasts_s: How long the inner stays lasted, s, shape (n,).
    """
    rising = np.sort(lasts_s)
    short = np.flatnonzero(rising[:-1] <= MOST_BOUNCE_S)
    if not len(short):
        return 0.0
    ratios = rising[short + 1] / np.maximum(rising[short], 1e-9)
    best = int(np.argmax(ratios))
    if ratios[best] < BOUNCE_GAP:
        return 0.0
    place = int(short[best])
    return float(np.sqrt(rising[place] * rising[place + 1]))


def _without_bounce(at_high: NDArray[np.bool_], lasts_s: Floats) -> tuple[NDArray[np.intp], int]:
    """Indices of the stays that begin one after the bounce is joined, and how many changes went."""
    limit_s = bounce_limit_s(lasts_s[1:-1])
    if not limit_s:
        return np.arange(len(at_high)), 0
    kept = [0]
    place = 1
    last = len(at_high) - 1
    while place <= last:
        row_end = place
        while row_end < last and lasts_s[row_end] <= limit_s:
            row_end += 1
        # stays place .. row_end-1 are short; the one at row_end is long, or the last
        if at_high[row_end] != at_high[kept[-1]]:
            kept.append(place)
        elif row_end > place:
            kept += [place, row_end]
        place = row_end + 1
    return np.array(kept, dtype=np.intp), len(at_high) - len(kept)


def way_of(pulses: Pulses, second: Floats) -> float | None:
    """Share of the pulses at which a second track stood high; None without two levels on it.

    Near 0 or near 1 the wheel turned one way; in between both ways.

    Args:
        pulses: Of the first track.
        second: Readings of the second track, shape (n,).
    """
    high = is_high(second)
    if high is None or not pulses.count:
        return None
    return float(high[pulses.index].mean())


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
    places = (index for index in range(rest.shape[1]) if index not in skip)
    seen = (WheelColumn(each, *_pulses_in(turned[:, each], rest[:, each])) for each in places)
    found = [column for column in seen if column.pulses >= LEAST_PULSES]
    return sorted(found, key=lambda each: each.unit != "pulses")


def _pulses_in(turned: Floats, rest: Floats) -> tuple[WheelUnit, int]:
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
