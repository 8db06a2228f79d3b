"""How evenly samples came: their rate, what is missing between them, and an even time.

Loggers sample evenly. Stamps do not show it where the computer stamped lines as it read them (in
bursts), or where a clock is coarser than the samples. A burst and a gap both have a long step; they
differ in what is missing afterwards: after a burst nothing is.

Method. With the usual step P, ``r = time - P * index`` is how late each stamp is, up to a
constant. A late line may be late by any amount and is never early, so the lower envelope of r is
the sampler's own clock. Where the lower envelope after a long step stays above that before it by
more than its scatter, that many samples are missing. An even time is P times the index, plus the
envelope, straight between minima of blocks of ten seconds (which follows the drift of either
clock), plus the gaps. A clock that rounds down moves r by a constant, and the same holds.

A device that counts evenly and leaves out lines is neither: each of its steps is a whole multiple
of the least one, and the multiples wander, as no even sampler's do. Its stamps stand as they are.

Source: own choice of method, because a line through all stamps would be bent by each delay.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from calib.measure.sliding import least_around, least_of_each

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

LEAST_SAMPLES = 3
"""Samples that have a usual step at all."""

EVEN_BAND = (0.5, 1.5)
"""Steps that are ordinary, in median steps: own choice, between none and a lost line."""

EVEN_SHARE = 0.9
"""Share of ordinary steps from which stamps are even: own choice; bursts of two have half."""

LONG_SHARE = 0.3
"""Share of the time in long steps up to which stamps are even without a closer look: own choice."""

GAP_STEPS = 2.0
"""Usual steps up to which a step is no gap: own choice, because one lost line makes two steps and
jitter seldom doubles a step."""

LEAST_MISSING = 1.75
"""Samples whose time must be missing where stamps are ragged: own choice, for the same reason."""

SCATTER = 6.0
"""Standard deviations of the envelope's scatter that a gap must exceed: own choice; noise does that
once in hundreds of millions."""

COARSE = 0.1
"""Share of the usual long step that a gap must exceed: own choice; where a second is the least that
a clock tells, a few lines more or less in one of them are no gap."""

LASTING = 4
"""Reaches over which the envelope must stay up for a gap: own choice; a few long bursts one after
the other lift it for less."""

BLOCK_S = 10.0
"""Length of a block of the envelope, in s: own choice, because clocks drift over minutes, and some
loggers' loops quicken and slow."""

BLOCK_REACHES = 8
"""Least length of a block in reaches: own choice, so that it surely holds lines that were on
time."""

GRID_ROUNDING = 0.01
"""Share of the least step by which a multiple of it may be off: own choice."""

GRID_MEAN = 2.0
"""Most of the mean step, in least ones, for a device that leaves out lines: own choice; stamps that
are jolted by one tick of a clock so coarse have equal ones among them; bursts lie farther apart."""

GRID_RUN, GRID_WANDER = 256, 3.0
"""Steps of a run, and least steps by which the stamps of a device that leaves out lines stray from
a line through the count of a run: own choice; those of an even sampler stray by one, by two where
they are jolted, and its rate does not change within a run."""

ROUNDING = 1.0 + 1e-9
"""For what is held against a bound that it may meet exactly."""


@dataclass(frozen=True, slots=True)
class Missing:
    """A place where samples are missing.

    Attributes:
        index: Of the first sample after it.
        samples: How many are missing.
        duration_s: From the sample before it to the one after it, s.
    """

    index: int
    samples: int
    duration_s: float


@dataclass(frozen=True, slots=True)
class Pace:
    """How samples came.

    Attributes:
        time_s: Times, s, shape (n,): as stamped where that is even, else an even time.
        step_s: The usual step, s; None for fewer than two samples or no passing time.
        missing: Places where samples are missing, in order.
        laid: An even time was laid through ragged stamps.
        late_s: How late 95 of 100 stamps are at most against that time, s; 0 where none was laid.
    """

    time_s: Floats = field(repr=False)
    step_s: float | None
    missing: tuple[Missing, ...] = ()
    laid: bool = False
    late_s: float = 0.0

    @property
    def rate_hz(self) -> float | None:
        """Samples a second, from their count and the time they took, gaps left out."""
        return None if self.step_s is None else 1.0 / self.step_s


def find_pace(stamps_s: Floats) -> Pace:
    """Rate, gaps and an even time of samples with these stamps.

    Args:
        stamps_s: Stamps, s, shape (n,), no NaN. Where they fall they are left as they are.

    Source: see the module.
    """
    count = stamps_s.shape[0]
    passed_s = float(stamps_s[-1] - stamps_s[0]) if count else 0.0
    if count < LEAST_SAMPLES or passed_s <= 0.0:
        return Pace(stamps_s, passed_s if passed_s > 0.0 else None)  # of two samples
    steps_s = np.diff(stamps_s)
    multiples = multiples_of_least(steps_s)
    if multiples is not None and _wanders(multiples):
        return _with_lines_left_out(stamps_s, steps_s, multiples)
    usual_s = float(np.median(steps_s))
    ordinary = (steps_s >= EVEN_BAND[0] * usual_s) & (steps_s <= EVEN_BAND[1] * usual_s)
    long = np.flatnonzero(steps_s > GAP_STEPS * usual_s * ROUNDING) + 1
    even = _is_even(steps_s, ordinary, long) or bool((steps_s < 0.0).any())
    if usual_s > 0.0 and even and ordinary.any():
        step_s = float(steps_s[ordinary].mean())
        missing = tuple(_missing(stamps_s, step_s, long, step_s, 4))
        due = count - 1 + sum(gap.samples for gap in missing)
        return Pace(stamps_s, passed_s / due, missing)
    return _laid(stamps_s, steps_s)


def multiples_of_least(steps: Floats) -> Floats | None:
    """Each step as a whole multiple of the least one; None where one is not.

    Args:
        steps: Differences of stamps, in any unit, shape (n,).
    """
    least = float(steps.min())
    if least <= 0.0:
        return None
    multiples = steps / least
    whole: Floats = np.rint(multiples)
    return whole if bool(np.all(np.abs(multiples - whole) < GRID_ROUNDING)) else None


def _wanders(multiples: Floats) -> bool:
    """Whether lines were left out of an even count, and no even sampler met a coarse clock."""
    if float(multiples.mean()) > GRID_MEAN:
        return False
    runs = np.array_split(multiples, max(1, multiples.shape[0] // GRID_RUN))
    strays = [float(np.ptp(np.cumsum(run - run.mean()))) for run in runs]
    return float(np.median(strays)) > GRID_WANDER


def _with_lines_left_out(stamps_s: Floats, steps_s: Floats, multiples: Floats) -> Pace:
    """The pace of a device whose stamps are right and whose lines are not all there."""
    places = np.flatnonzero(multiples > 1.0).tolist()
    missing = (Missing(at + 1, int(multiples[at]) - 1, float(steps_s[at])) for at in places)
    return Pace(stamps_s, float(steps_s.sum() / multiples.sum()), tuple(missing))


def _is_even(steps_s: Floats, ordinary: NDArray[np.bool_], long: Indices) -> bool:
    """Whether stamps can stand as they are."""
    if np.count_nonzero(ordinary) < EVEN_SHARE * steps_s.shape[0]:
        return False
    return len(long) < 2 or float(steps_s[long - 1].sum()) <= LONG_SHARE * float(steps_s.sum())


def _laid(stamps_s: Floats, steps_s: Floats) -> Pace:
    """An even time through ragged stamps, and what is missing in it."""
    count = stamps_s.shape[0]
    index = np.arange(count, dtype=np.float64)
    jumps = np.flatnonzero(steps_s > steps_s.mean()) + 1
    run = float(np.quantile(np.diff(jumps, prepend=0, append=count), 0.95))
    reach = int(min(max(8.0, 2.0 * run), count))
    step_s = _first_step_s(stamps_s, jumps - 1)
    coarse_s = COARSE * float(np.median(steps_s[jumps - 1]))
    missing: tuple[Missing, ...] = ()
    for _ in range(3):  # the step is better known once the gaps are, and they once it is
        if step_s <= 0.0:
            return Pace(stamps_s, float(stamps_s[-1] - stamps_s[0]) / (count - 1))
        missing = _gaps(stamps_s, steps_s, step_s, reach, coarse_s)
        late_s = stamps_s - step_s * index - _passed_in(missing, step_s, count)
        envelope_s = least_around(late_s, reach)
        span = max(1, count // 3)
        step_s += float(np.median(envelope_s[span:] - envelope_s[:-span])) / span
    late_s = stamps_s - step_s * index - _passed_in(missing, step_s, count)
    base_s = _base(late_s, max(BLOCK_REACHES * reach, round(BLOCK_S / step_s)))
    even_s = stamps_s - late_s + base_s
    even_s = np.maximum.accumulate(even_s - even_s[0])
    late_s = late_s - base_s
    steps_s = np.diff(even_s)
    gaps = tuple(replace(gap, duration_s=float(steps_s[gap.index - 1])) for gap in missing)
    in_gaps_s = sum(gap.duration_s - step_s for gap in gaps)
    step_s = (float(even_s[-1]) - in_gaps_s) / (count - 1)
    stray_s = float(np.quantile(late_s, 0.95) - late_s.min())
    return Pace(even_s, step_s, gaps, laid=True, late_s=stray_s)


def _first_step_s(stamps_s: Floats, ends: Indices) -> float:
    """The usual step, s, by the last lines of bursts, half of the bursts apart.

    Args:
        stamps_s: Stamps, s, shape (n,).
        ends: Indices of samples before a long step, the least late of their bursts.
    """
    apart = len(ends) // 2
    if not apart:
        return float((stamps_s[-1] - stamps_s[0]) / (stamps_s.shape[0] - 1))
    early, late = ends[:-apart], ends[apart:]
    return float(np.median((stamps_s[late] - stamps_s[early]) / (late - early)))


def _gaps(
    stamps_s: Floats, steps_s: Floats, step_s: float, reach: int, coarse_s: float
) -> tuple[Missing, ...]:
    """What is missing among ragged stamps."""
    late_s = stamps_s - step_s * np.arange(stamps_s.shape[0])
    places = np.flatnonzero(steps_s > EVEN_BAND[1] * step_s) + 1
    if not len(places):
        return ()
    padded = np.pad(late_s, reach, mode="edge")
    lowest = least_of_each(padded, reach)
    jumps_s = lowest[places + reach] - lowest[places]
    middle_s = float(np.median(jumps_s))
    scatter_s = max(
        1.4826 * float(np.median(np.abs(jumps_s - middle_s))),
        (float(np.quantile(jumps_s, 0.9)) - middle_s) / 1.2816,
    )
    least_s = max(LEAST_MISSING * step_s, SCATTER * scatter_s, coarse_s)
    high = places[jumps_s > least_s]
    return tuple(_missing(stamps_s, step_s, high, least_s, LASTING * reach))


def _missing(
    stamps_s: Floats, step_s: float, places: Indices, least_s: float, reach: int
) -> Iterator[Missing]:
    """Those places after which the lines that were waited for did not come.

    Args:
        stamps_s: Stamps, s, shape (n,).
        step_s: The usual step, s.
        places: Indices of samples that came after a long step.
        least_s: Time that must be missing, s.
        reach: Samples on both sides among which one surely was on time.
    """
    last = 0
    for place in places.tolist():
        waited_s = float(stamps_s[place] - stamps_s[place - 1])
        before_s = _late_s(stamps_s, step_s, max(last, place - reach), place)
        after_s = _awaited_s(stamps_s, step_s, place, reach)
        jump_s = float(after_s.min() - before_s.min())
        if jump_s * ROUNDING < least_s:
            continue
        jump_s = min(jump_s, waited_s)
        yield Missing(place, max(1, round(jump_s / step_s)), waited_s)
        last = place


def _awaited_s(stamps_s: Floats, step_s: float, place: int, reach: int) -> Floats:
    """How late the lines are among which those that were waited for must be, s.

    A longer silence that begins among them is waited for as well. Where the file ends while lines
    still catch up, they are taken to have caught up.
    """
    count = stamps_s.shape[0]
    first, waited_s = place, float(stamps_s[place] - stamps_s[place - 1])
    while True:
        stop = first + min(math.ceil(1.2 * waited_s / step_s), count) + reach
        steps_s = np.diff(stamps_s[place:stop])
        longest = int(np.argmax(steps_s)) if len(steps_s) else 0
        if not len(steps_s) or steps_s[longest] <= 2.0 * waited_s:
            break
        first, waited_s = place + longest + 1, float(steps_s[longest])
    late_s = _late_s(stamps_s, step_s, place, stop)
    catching_up = late_s[0] - late_s[-1] > 0.5 * step_s * (late_s.shape[0] - 1)
    if stop > count and late_s.shape[0] > 1 and catching_up:
        return np.append(late_s, -np.inf)
    return late_s


def _late_s(stamps_s: Floats, step_s: float, first: int, stop: int) -> Floats:
    """How late some samples are, s, up to a constant."""
    part = stamps_s[first:stop]
    late_s: Floats = part - step_s * np.arange(first, first + part.shape[0])
    return late_s


def _passed_in(missing: Sequence[Missing], step_s: float, count: int) -> Floats:
    """Time that passed in gaps before each sample, s, shape (count,)."""
    passed = np.zeros(count)
    for gap in missing:
        passed[gap.index] = gap.samples * step_s
    return np.cumsum(passed)


def _base(late_s: Floats, block: int) -> Floats:
    """The lower envelope, straight between the minima of blocks, s, shape (n,)."""
    blocks = max(1, late_s.shape[0] // block)
    edges = np.linspace(0, late_s.shape[0], blocks + 1).astype(np.intp)
    lows = np.minimum.reduceat(late_s, edges[:-1])
    middles = 0.5 * (edges[:-1] + edges[1:])
    if blocks > 1:  # half a block goes on at each end as the envelope came
        middles = np.pad(middles, 1, mode="reflect", reflect_type="odd")
        lows = np.pad(lows, 1, mode="reflect", reflect_type="odd")
    base: Floats = np.interp(np.arange(late_s.shape[0]), middles, lows)
    return base
