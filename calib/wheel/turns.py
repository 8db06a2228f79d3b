"""How many pulses a turn of the wheel gives, from whole turns by hand past a mark."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MARK_TURNS: Final = 0.03
"""How far from the mark a hand stops, as a share of a turn. Own choice: 60 mm at the tyre of a
wheel that rolls 2 m."""

MOST_PULSES: Final = 128
"""Pulses a turn that are looked for. Own choice: twice the largest wheel sensor that is usual."""

APART: Final = math.log(1.6)
"""How far a gap may differ from its neighbours, as a logarithm, before it is told as a missed or a
doubled pulse. Own choice: between the even gaps of a ring and the double gap of a missing one."""

APART_FEW: Final = math.log(4.0)
"""The same below `FEW_PULSES` a turn, where a hand's speed changes from gap to gap. Own choice."""

FEW_PULSES: Final = 4
"""Own choice: from so many pulses a turn on the speed changes little from one gap to the next."""

PAUSE: Final = 4.0
"""How many times the usual gap a standstill lasts at least. Own choice."""

LEAST_PAUSE_S: Final = 0.4
"""And how long, s. Own choice: a hand that stops at a mark stays for that."""

REPEATS: Final = 0.1
"""Largest share of the gaps' unevenness that may be left over where a pattern repeats. Own choice:
nine tenths of it are then the magnets' own."""

BETTER: Final = 0.5
"""Share of what a pattern leaves over from which a multiple of it is the truer one. Own choice:
half of a turn may look much like the other half."""

LEAST_TURNS_SEEN: Final = 6.0
"""Turns that a pattern must be seen to repeat over. Own choice."""

LEAST_STOPS: Final = 4
"""Stretches between standstills that must all hold as many pulses as the pattern repeats after,
where nobody counted turns. Own choice: a hand that swings evenly makes a pattern too, but none that
stops at the mark with it."""

STEADY: Final = math.log(1.15)
"""How far a gap may differ from turn to turn, as a logarithm and in the median, and still be the
ring's. Own choice: a hand that stops at the mark makes the gap there another one each time."""

MOST_NEIGHBOURS: Final = 4
"""Gaps to either side that a gap of the ring is held against, of an eighth of a turn. Own choice:
two neighbours of magnets that a hand placed are as uneven as the gap itself."""

LEAST_UNEVEN: Final = 0.02
"""Unevenness of the gaps, as a standard deviation of their logarithm, from which a pattern can be
seen at all. Own choice: below it a hand's own unevenness is as large."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """What repeats every turn.

    Attributes:
        gaps_deg: Angle from each pulse to the next, degrees, shape (pulses a turn,); the first
            is any.
        widths: Width of each pulse as a share of the usual one, shape (pulses a turn,); None where
            no level column showed it.
        longest: Largest gap over its neighbours' mean, of those that are the same every turn.
        shortest: Smallest such gap over its neighbours' mean.
    """

    gaps_deg: tuple[float, ...]
    widths: tuple[float, ...] | None
    longest: float
    shortest: float


@dataclass(frozen=True, slots=True)
class Turns:
    """What some turns by hand gave.

    Attributes:
        pulses: Count of pulses.
        turns: Turns that were made; None where nobody counted them.
        possible: Pulses a turn that the count allows, rising.
        repeating: Pulses after which the gaps repeat; None where no pattern is seen.
        missed: Gaps that are too long for their place, standstills left out.
        doubled: Gaps that are too short for their place.
        mended: Pulses a turn if each gap that is long or short beside its neighbours, at whatever
            place, were a pulse missed or doubled.
        stops: Pulses from each standstill to the next.
        pattern: What repeats every turn; None where times or pulses are too few.
    """

    pulses: int
    turns: int | None
    possible: tuple[int, ...]
    repeating: int | None
    missed: int
    doubled: int
    stops: tuple[int, ...]
    pattern: Pattern | None
    mended: tuple[int, ...] = ()

    @property
    def is_doubtful(self) -> bool:
        """Whether odd gaps leave another number possible than the one that the count allows.

        A magnet that is missed in most turns makes a count that fits one magnet less.
        """
        odd = self.missed + self.doubled > 0 and len(self.possible) == 1
        return odd and bool(set(self.mended) - set(self.possible))

    @property
    def pulses_a_turn(self) -> int | None:
        """The one number that turns and pattern leave; None where they leave none or several."""
        if self.turns is None:
            return self.repeating if self._stops_with_it else None
        return self.possible[0] if len(self.possible) == 1 else None

    @property
    def _stops_with_it(self) -> bool:
        """Whether the hand stopped each time the pattern had come round."""
        per = self.repeating
        if per is None or len(self.stops) < LEAST_STOPS:
            return False
        return all(abs(each - per) <= allowed_pulses(per) for each in self.stops)

    def half_turns(self) -> int:
        """Stops half a turn from the mark, by the number found or the usual way between stops."""
        per = self.pulses_a_turn or round(float(np.median(self.stops or (0,))))
        if per < FEW_PULSES or len(self.stops) < 2:
            return 0
        shares = np.array(self.stops) / per % 1.0
        return int(np.count_nonzero(np.abs(shares - 0.5) < 0.15))


def possible_counts(pulses: float, turns: int) -> tuple[int, ...]:
    """Whole numbers of pulses a turn that give so many pulses over some turns.

    One pulse more or less at the ends, and what the hand's stops are off the mark, are allowed.

    Args:
        pulses: Pulses counted.
        turns: Turns from mark to mark.

    Source: counting; `MARK_TURNS` is an own choice.
    """
    near = round(pulses / turns)
    found = range(max(1, near - 2), near + 3)
    return tuple(n for n in found if abs(pulses - n * turns) <= allowed_pulses(n))


def allowed_pulses(pulses_a_turn: int) -> float:
    """How far a count over whole turns may be off, pulses."""
    return 1.0 + 2.0 * MARK_TURNS * pulses_a_turn


def turns_needed(pulses_a_turn: int) -> int:
    """Turns that tell a number of pulses a turn from its neighbours."""
    return math.floor(2.0 * allowed_pulses(pulses_a_turn + 1)) + 1


UNSEEN_TURNS: Final = 20
"""Turns from which a count is believed whose gaps no sample shows. Own choice: a magnet that is
missed every other time then costs ten pulses, which is no whole number of them a turn; in ten turns
it may cost six to ten, and look like one magnet less."""


def count_only(pulses: int, turns: int | None) -> Turns:
    """What a running count says that is too coarse for the gaps between pulses."""
    possible = () if turns is None else possible_counts(pulses, turns)
    return Turns(pulses, turns, possible, None, 0, 0, (), None)


def find_turns(start_s: Floats, turns: int | None, width_s: Floats | None = None) -> Turns:
    """Pulses a turn from the times of pulses.

    Args:
        start_s: When each pulse began, s, shape (n,), rising.
        turns: Turns from mark to mark; None where nobody counted them.
        width_s: How long each pulse lasted, s, shape (n,); None where it is not known.

    Source: own choice of method.
    """
    gaps_s = np.diff(start_s)
    count = len(start_s)
    stands = _standstills(gaps_s)
    edges = [-1, *np.flatnonzero(stands).tolist(), len(gaps_s)]
    stops = tuple(after - before for before, after in pairwise(edges))
    possible = () if turns is None else possible_counts(count, turns)
    logs = np.where(stands, np.nan, np.log(np.maximum(gaps_s, 1e-9)))
    ratio = _against_neighbours(logs, 1)
    repeating = _repeating(ratio)
    per = possible[0] if len(possible) == 1 else repeating if turns is None else None
    about = per or (1 if turns is None else round(count / turns))
    most = APART if about >= FEW_PULSES else APART_FEW
    missed, doubled = _odd_gaps(ratio, per, most)
    long, short = _odd_gaps(ratio, None, most)
    mended = () if turns is None else (
        *possible_counts(count + long, turns), *possible_counts(count - short, turns)
    )  # fmt: skip
    pattern = None if per is None else _pattern(gaps_s, logs, per, width_s)
    return Turns(count, turns, possible, repeating, missed, doubled, stops, pattern, mended)


def _standstills(gaps_s: Floats) -> NDArray[np.bool_]:
    """Gaps in which the wheel stood still, shape (n,)."""
    if len(gaps_s) < 3:
        return np.zeros(len(gaps_s), dtype=np.bool_)
    least_s = max(PAUSE * float(np.median(gaps_s)), LEAST_PAUSE_S)
    return np.asarray(gaps_s > least_s, dtype=np.bool_)


def _against_neighbours(logs: Floats, reach: int) -> Floats:
    """Logarithm of each gap over the mean of so many to either side, shape (n,).

    NaN near a standstill.
    """
    ratio = np.full(len(logs), np.nan)
    if len(logs) > 2 * reach:
        around = np.lib.stride_tricks.sliding_window_view(logs, 2 * reach + 1)
        own = logs[reach:-reach]
        ratio[reach:-reach] = own - (around.sum(axis=1) - own) / (2 * reach)
    return ratio


def _repeating(ratio: Floats) -> int | None:
    """The fewest pulses after which the gaps repeat; None where no pattern is seen."""
    seen = ratio[np.isfinite(ratio)]
    whole = float(seen.var()) if len(seen) else 0.0
    if math.sqrt(whole) < LEAST_UNEVEN:
        return None
    most = min(MOST_PULSES, int(len(ratio) / LEAST_TURNS_SEEN), len(seen) - 1)
    left = {
        per: float(np.nansum(_changes(ratio, per, np.nanmean) ** 2)) / (len(seen) - per)
        for per in range(2, most + 1)
    }  # variance that a pattern of so many pulses leaves over
    found = next((per for per, each in left.items() if each <= REPEATS * whole), None)
    if found is None:
        return None
    better = min((left[per] for per in range(2 * found, most + 1, found)), default=math.inf)
    return found if better > BETTER * left[found] else None


def _by_phase(values: Floats, per: int, of: Callable[..., Floats]) -> Floats:
    """A figure of the values at each place within a turn, shape (per,); 0 where none is known."""
    padded = np.pad(values, (0, -len(values) % per), constant_values=np.nan)
    table = padded.reshape(-1, per)
    known = np.isfinite(table).any(axis=0)
    found = np.zeros(per)
    if known.any():
        found[known] = of(table[:, known], axis=0)
    return found


def _changes(values: Floats, per: int, of: Callable[..., Floats]) -> Floats:
    """What a value differs by from the figure of all at its place within a turn, shape (n,)."""
    return values - np.resize(_by_phase(values, per, of), len(values))


def _odd_gaps(ratio: Floats, per: int | None, most: float) -> tuple[int, int]:
    """How many gaps are too long, and how many too short, for their place."""
    left = ratio if per is None else _changes(ratio, per, np.nanmedian)
    with np.errstate(invalid="ignore"):
        return int((left > most).sum()), int((left < -most).sum())


def _pattern(gaps_s: Floats, logs: Floats, per: int, width_s: Floats | None) -> Pattern | None:
    """What repeats every turn; None with fewer than two turns."""
    whole = len(gaps_s) // per
    if whole < 2 or not np.isfinite(logs).any():
        return None
    table = gaps_s[: whole * per].reshape(whole, per)
    shares = np.median(table / table.sum(axis=1, keepdims=True), axis=0)
    widths = None
    if width_s is not None:
        # beside an empty place, or a stop at the mark, the other gap says how fast it went by
        pitch_s = np.minimum(gaps_s, np.concatenate([gaps_s[:1], gaps_s[:-1]]))
        own = width_s[:-1] / np.maximum(pitch_s, 1e-9)
        by_place = _by_phase(own, per, np.nanmedian)
        widths = tuple((by_place / max(float(np.median(by_place)), 1e-9)).tolist())
    wide, near = _steady(logs, per) if per >= FEW_PULSES else (np.empty(0), np.empty(0))
    return Pattern(
        gaps_deg=tuple((360.0 * shares / shares.sum()).tolist()),
        widths=widths,
        longest=math.exp(float(wide.max(initial=0.0))),
        shortest=math.exp(float(near.min(initial=0.0))),
    )


def _steady(logs: Floats, per: int) -> tuple[Floats, Floats]:
    """Logarithms of the ring's own gaps, over many neighbours and over the two next to each.

    Many tell a missing magnet from magnets that a hand placed; of pairs, every other gap is long.
    """
    next_to = _against_neighbours(logs, 1)
    ratio = _against_neighbours(logs, max(1, min(MOST_NEIGHBOURS, per // 8)))
    usual = _by_phase(ratio, per, np.nanmedian)
    own = _by_phase(np.abs(_changes(ratio, per, np.nanmedian)), per, np.nanmedian) < STEADY
    return usual[own], _by_phase(next_to, per, np.nanmedian)[own]
