"""Which column moved while a control was worked, in numbers as received: no scale is known yet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST_SHARE = 0.08
"""Share of a column's span from which it moved: own choice, because a control behind a 2:1 divider
with a weak magnet still makes a tenth, and a supply that a lamp pulls down, or a sensor that the
hands shake, makes a few hundredths."""

LEAST_SDS = 8.0
"""Standard deviations at rest from which a column moved: own choice, above what noise reaches."""

LEAST_HELD_S = 0.05
"""Time in s that a reach must be held in all: own choice, longer than a glitch, shorter than a
hand."""

SPANS = (1024.0, 4096.0, 65536.0)
"""Spans of whole numbers, in counts: the usual converters of 10, 12 and 16 bits."""

SPAN_V = 5.0
"""Span of numbers with decimals: common practice, no source; a control is fed from 5 V."""

RIVAL = 0.4
"""Share of the widest mover's reach from which another column moved as well: own choice; two tracks
of one control differ by a factor of two at most."""

AWAY, HOME = 0.5, 0.25
"""Shares of the reach at which a work begins and ends: own choice, far apart against chatter."""

TOGETHER = 0.95
"""Correlation from which two columns are two tracks of one control: own choice."""

BETWEEN_PER_THROW = 2.5
"""Readings between the two levels for each change, up to which a column knows only on and off: own
choice; a control that is worked slowly has many."""


@dataclass(frozen=True, slots=True)
class Mover:
    """A column that moved.

    Attributes:
        index: Its place, from 0.
        rest: Where it rests, as received.
        far: The farthest from rest that it was held, as received.
        share: Its reach over its likely span.
        works: How often it went out and came back.
        is_home: It rests at the end.
        two_level: It knows only on and off.
    """

    index: int
    rest: float
    far: float
    share: float
    works: int
    is_home: bool
    two_level: bool


def find_movers(rest: Floats, worked: Floats, rate_hz: float, skip: Collection[int]) -> list[Mover]:
    """Columns that moved, the widest first.

    Args:
        rest: Readings while nobody touched anything, shape (m, columns), m at least 2.
        worked: Readings since then, shape (n, columns).
        rate_hz: Readings a second.
        skip: Columns that are none of them: the clock.
    """
    held = max(2, round(LEAST_HELD_S * rate_hz))
    if len(worked) < held:
        return []
    places = (index for index in range(rest.shape[1]) if index not in skip)
    found = (_mover(index, rest[:, index], worked[:, index], held) for index in places)
    movers = [mover for mover in found if mover is not None]
    return sorted(movers, key=lambda mover: -mover.share)


def _mover(index: int, rest: Floats, worked: Floats, held: int) -> Mover | None:
    """A column as a mover; None where it did not move."""
    home = float(np.median(rest))
    away = worked - home
    reach = float(np.sort(np.abs(away))[-held])
    share = reach / _span(np.concatenate([rest, worked]))
    noise = float(np.subtract(*np.percentile(rest, [84.0, 16.0]))) / 2.0
    if share < LEAST_SHARE or reach < LEAST_SDS * noise:
        return None
    sign = 1.0 if np.sum(away[np.abs(away) >= reach]) > 0.0 else -1.0
    level = sign * away / reach
    works = _works(level)
    is_home, two_level = bool(level[-1] < HOME), _is_two_level(level, works)
    return Mover(index, home, home + sign * reach, share, works, is_home, two_level)


def _span(values: Floats) -> float:
    """The span that a column's numbers are likely to have."""
    highest = float(np.abs(values).max())
    if np.all(values == np.round(values)):
        return next((span for span in SPANS if highest < span), highest)
    return max(SPAN_V, highest)


def _works(level: Floats) -> int:
    """How often a level went from home to away and home again."""
    places = np.flatnonzero((level > AWAY) | (level < HOME))
    out = level[places] > AWAY
    return int(np.count_nonzero(out[:-1] & ~out[1:]))


def _is_two_level(level: Floats, works: int) -> bool:
    """Whether next to no reading lies between rest and reach."""
    between = int(np.count_nonzero((level > 0.15) & (level < 0.85)))
    return between <= BETWEEN_PER_THROW * 2 * max(works, 1)


def move_together(worked: Floats, one: Mover, other: Mover) -> bool:
    """Whether two columns rise and fall as one, in the same sense or against each other.

    Args:
        worked: Readings while they moved, shape (n, columns).
        one: The wider mover.
        other: Another.
    """
    pair = np.corrcoef(worked[:, one.index], worked[:, other.index])
    return abs(float(pair[0, 1])) >= TOGETHER


def rivals(movers: list[Mover]) -> list[Mover]:
    """Movers, after the first, that moved nearly as far."""
    return [other for other in movers[1:] if other.share >= RIVAL * movers[0].share]
