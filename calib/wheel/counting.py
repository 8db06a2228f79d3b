"""From a column of levels, or a running count that wraps, to pulses."""

from __future__ import annotations

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
    found: NDArray[np.bool_] = share[last] > 0.5
    return found


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
    short = np.flatnonzero(rising[:-1] <= MOST_BOUNCE_S) if len(rising) > 1 else np.empty(0, int)
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
