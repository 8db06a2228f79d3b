"""Counts the presses of a hand control, live or afterwards, and finds its stays at both ends."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from calib.measure.plateaus import SHORTEST_S, SHORTEST_SAMPLES, Plateaus, find_plateaus
from calib.measure.sliding import edges_of, largest_of_each, least_of_each, mean_around

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]

# Own choice: a control is at full travel within this share of the largest travel seen, and at rest
# within as much of rest.
FULL_SHARE = 0.85
REST_SHARE = 0.15
# Own choice: what does not go farther than this from rest is a thumb left on, and no press.
THUMB_SHARE = 0.25
# Own choice: a control moved when it moved by so many standard deviations of the noise that is left
# of it; the range of noise alone is eight of them.
LEAST_TRAVEL_SDS = 12.0
# Own choice, because no hand control in use has a span below it (needs: at least 2 V on 5 V).
LEAST_TRAVEL_V = 0.15
# Own choice: noise above this share of the travel is averaged away before presses are counted, over
# whole periods of 50 and 60 Hz.
NOISY_SHARE = 0.01
SMOOTH_S = 0.1
# Own choice: no hand or spring crosses this share of the range within this time (or from one
# reading to the next, down to 50 Hz), from standing to standing, both on the way in and on the way
# out; a line that breaks and makes contact again does.
JUMP_SHARE = 0.2
JUMP_S = 0.012
SLOWEST_STEP_S = 0.0205
STANDING_SHARE = 0.05
# Own choice: an excursion that is over within this time is a glitch of the line or a drop-out; the
# quickest hand needs longer to press and let go.
SHORTEST_PRESS_S = 0.08
# Own choice: the ends of the travel are held at least this long, which a spring's rebound is not.
EXTREME_S = 0.05
# Own choice: the outermost level of rest is one that was held this long, which a spring's rebound
# is not; at full travel the shortest hold is enough, because nothing goes beyond the stop.
HELD_S = 0.1
# Own choice, shares of the travel: what is so close to the outermost level has arrived, and what
# stands still so close to it later is still the same stay; twice a tremble of 2 % fits in. A stay
# that is too short so takes in more of what lies between the two.
ARRIVED_SHARE = 0.01
STAY_SHARE = 0.045
WIDER_SHARES = (ARRIVED_SHARE, 0.015, 0.02, 0.03, STAY_SHARE)
LEAST_STAY_S = 0.2
# Own choice: share of the travel a second from which a plateau is a slow coming or going.
MOVING_SHARE_HZ = 0.01
# Own choice: share of the travel a second by which a hand has let go, and does no longer sink.
LET_GO_SHARE_HZ = 0.15
# Own choice: a press counts as held when it stood at full travel so long, for so many readings; one
# that turns round at the stop does not.
SHORTEST_HOLD_S = 0.05
SHORTEST_HOLD = (SHORTEST_HOLD_S, 3)
# Own choice: a spring's rebound is over by then.
REBOUND_S = 0.25


class Place(Enum):
    """At which end of the travel a stay is."""

    REST = "rest"
    FULL = "full"


@dataclass(frozen=True)
class Stay:
    """One stay at one end of the travel: after one release, or at full travel in one press.

    Attributes:
        place: At which end.
        first: Index of its first reading.
        stop: Index one past its last reading.
        start_s: When the control had arrived, s.
        end_s: When it left, s.
    """

    place: Place
    first: int
    stop: int
    start_s: float
    end_s: float


@dataclass(frozen=True)
class Press:
    """One full press and its release.

    Attributes:
        leave_s: When the control left rest, s.
        full_s: When it had arrived at full travel, s.
        let_go_s: When it left full travel for the last time, s.
        back_s: When it first stood still within 15 % of rest again, s.
    """

    leave_s: float
    full_s: float
    let_go_s: float
    back_s: float


@dataclass(frozen=True)
class Presses:
    """What a hand did with a control.

    Attributes:
        plateaus: Where the signal stands still.
        presses: Full presses with their release, in order.
        away_s: From when to when the control was off its rest, in order, s; half presses too, and
            what the record begins or ends in.
        half: Count of presses that were let go before 85 % of the largest travel.
        unheld: Count of presses that reached full travel but did not stay there.
        reached: How far each press went that was let go, full or not, as a share of the farthest.
        worked: Whether the control moved at all.
        released: Whether it is at rest at the end.
        starts_at_rest: Whether it is at rest at the beginning.
        reversed: Whether rest is the higher voltage.
        rest_V: Rest as far as presses need it, V; None where nothing stands still.
        travel_V: From there to the farthest that was reached, V, negative where reversed; 0 where
            it never moved.
        stays: Stays at rest and at full travel, in order; one for each release, one for each full
            press, none shorter than what makes a level.
        breaks: Drop-outs of the line: readings between a leap away and a leap back that no hand
            makes; none of them is part of a press.
    """

    plateaus: Plateaus
    presses: tuple[Press, ...] = ()
    away_s: tuple[tuple[float, float], ...] = ()
    half: int = 0
    unheld: int = 0
    reached: tuple[float, ...] = ()
    worked: bool = False
    released: bool = False
    starts_at_rest: bool = False
    reversed: bool = False
    rest_V: float | None = None
    travel_V: float = 0.0
    stays: tuple[Stay, ...] = ()
    breaks: tuple[slice, ...] = ()

    @property
    def count(self) -> int:
        """Full presses with their release."""
        return len(self.presses)


@dataclass(frozen=True)
class _Trace:
    """The signal on the grid, holes and drop-outs left out: times (s), volts, index, step (s)."""

    time_s: Floats
    volts: Floats
    first: Indices
    step_s: float

    def points(self, duration_s: float) -> int:
        """Grid points in a time, at least one."""
        return max(1, round(duration_s / self.step_s))

    def without(self, flags: Flags) -> _Trace:
        """The same without the flagged points."""
        kept = ~flags
        return _Trace(self.time_s[kept], self.volts[kept], self.first[kept], self.step_s)


def count_presses(
    time_s: Floats, volts: Floats, *, lsb_V: float = 0.0, gaps: Sequence[int] = ()
) -> Presses:
    """Presses of a control seen so far; cheap enough to be called five times a second.

    A press is what leaves rest, reaches full travel, stays there and comes back to rest, however
    quickly and with whatever halts on the way. The hand is taken to be off the control when the
    capture begins.

    Args:
        time_s: Times, s, shape (n,).
        volts: Readings, V, shape (n,); NaN means missing.
        lsb_V: Step of the converter, V.
        gaps: Indices of readings before which the record has a gap.

    Returns:
        What was counted; the same as `measure_travel` counts on the same readings.

    Source: own choice of method.
    """
    plateaus = find_plateaus(time_s, volts, lsb=lsb_V, gaps=gaps)
    trace = _trace(time_s, plateaus)
    if trace.volts.size < SHORTEST_SAMPLES:
        return _unmoved(plateaus, trace, ())
    flags, breaks = _breaks(trace, plateaus)
    trace = trace.without(flags)
    if trace.volts.size < SHORTEST_SAMPLES:
        return _unmoved(plateaus, trace, breaks)
    trace, noise_V = _quiet(trace, plateaus)
    rest_V, full_V = _ends(trace)
    if abs(full_V - rest_V) < max(LEAST_TRAVEL_V, LEAST_TRAVEL_SDS * noise_V):
        return _unmoved(plateaus, trace, breaks)
    share = (trace.volts - rest_V) / (full_V - rest_V)
    walk = _Walk(trace, share, 3.0 * noise_V / abs(full_V - rest_V), plateaus)
    return walk.told(rest_V, full_V, breaks)


def _trace(time_s: Floats, plateaus: Plateaus) -> _Trace:
    known = np.isfinite(plateaus.grid)
    first = plateaus.grid_first[known]
    block = int(plateaus.grid_first[1]) if len(plateaus.grid_first) > 1 else 1
    step_s = block / plateaus.rate_hz if plateaus.rate_hz > 0.0 else 1.0
    return _Trace(time_s[first], plateaus.grid[known], first, step_s)


def _quiet(trace: _Trace, plateaus: Plateaus) -> tuple[_Trace, float]:
    """The trace, averaged where its noise would hide the movement, and the noise left, V."""
    noise_V = plateaus.white_sd
    if noise_V <= NOISY_SHARE * plateaus.span:
        return trace, noise_V
    mean = mean_around(trace.volts, trace.points(SMOOTH_S))
    return replace(trace, volts=mean), noise_V / float(np.sqrt(trace.points(SMOOTH_S)))


def _unmoved(plateaus: Plateaus, trace: _Trace, breaks: tuple[slice, ...]) -> Presses:
    if not trace.volts.size:
        return Presses(plateaus=plateaus, breaks=breaks)
    start_s, end_s = float(trace.time_s[0]), float(trace.time_s[-1])
    return Presses(
        plateaus=plateaus,
        breaks=breaks,
        stays=(Stay(Place.REST, int(trace.first[0]), int(trace.first[-1]) + 1, start_s, end_s),),
        released=True,
        starts_at_rest=True,
        rest_V=float(np.median(trace.volts)),
    )


def _ends(trace: _Trace) -> tuple[float, float]:
    """Rest and the farthest that was held from it, V: rest is where the capture begins."""
    width = trace.points(EXTREME_S) + 1
    high_V = float(_opened(trace.volts, width).max())
    low_V = -float(_opened(-trace.volts, width).max())
    head = trace.volts[: max(3, trace.points(HELD_S))]
    tail = trace.volts[-len(head) :]
    for part in (head, tail):
        share = (float(np.median(part)) - low_V) / max(high_V - low_V, 1e-12)
        if share <= REST_SHARE:
            return low_V, high_V
        if share >= 1.0 - REST_SHARE:
            return high_V, low_V
    return low_V, high_V


def _opened(values: Floats, width: int) -> Floats:
    """Least value in each window of `width` points; shape (n - width + 1,), at least one."""
    return least_of_each(values, min(width, len(values)))


def _runs(flags: Flags) -> list[tuple[int, int]]:
    starts, stops = edges_of(flags)
    return list(zip(starts.tolist(), stops.tolist(), strict=True))


def _breaks(trace: _Trace, plateaus: Plateaus) -> tuple[Flags, tuple[slice, ...]]:
    """Points between a leap and the leap back, each from standing to standing."""
    flags = np.zeros(trace.volts.size, dtype=np.bool_)
    reach = max(1, int(JUMP_S / trace.step_s))
    if trace.step_s > SLOWEST_STEP_S or trace.volts.size <= 3 * reach:
        return flags, ()
    volts, span = trace.volts, plateaus.span
    leap = volts[reach:] - volts[:-reach]
    at = np.arange(reach, len(leap) - reach)
    stood = np.maximum(np.abs(leap[at - reach]), np.abs(leap[at + reach]))
    quick = trace.time_s[at + reach] - trace.time_s[at] <= 2.0 * max(JUMP_S, trace.step_s)
    edges = at[(np.abs(leap[at]) > JUMP_SHARE * span) & (stood < STANDING_SHARE * span) & quick]
    found: list[slice] = []
    stop = 0
    for out in edges[:-1]:
        if out < stop:
            continue
        later = edges[edges > out]
        returned = np.abs(volts[later + reach] - volts[out]) < 2.0 * STANDING_SHARE * span
        backs = later[(leap[later] * leap[out] < 0.0) & returned]
        if backs.size:
            stop = int(backs[0]) + reach
            flags[out + 1 : stop] = True
            found.append(slice(int(trace.first[out + 1]), int(trace.first[stop])))
    return flags, tuple(found)


@dataclass(frozen=True)
class _Walk:
    """The way of the hand: the trace, its share of the travel, and what of that is noise."""

    trace: _Trace
    share: Floats
    noise: float
    plateaus: Plateaus

    def told(self, rest_V: float, full_V: float, breaks: tuple[slice, ...]) -> Presses:
        """What the hand did from the first reading to the last."""
        ways, end = self._ways(), len(self.share)
        sinces = [0, *(stop for _, stop in ways)]
        untils = [*(start for start, _ in ways), end]
        rests = (self._stay(Place.REST, *ends) for ends in zip(sinces, untils, strict=True))
        stays = [rest for rest in rests if rest is not None]
        presses: list[Press] = []
        away_s: list[tuple[float, float]] = []
        reached: list[float] = []
        half = unheld = 0
        for since, (start, stop), until in zip(sinces, ways, untils[1:], strict=False):
            leave_s, back_s = self._leave_s(since, start), self._back_s(stop, until)
            away_s.append((leave_s, back_s))
            if start == 0 or stop == end:
                continue
            farthest = float(self.share[start:stop].max())
            held = self._at_full(start, stop) if farthest >= FULL_SHARE else None
            if held is not None:
                stays.append(held)
                let_go_s = max(held.end_s, self._let_go_s(start, stop))
                presses.append(Press(leave_s, held.start_s, let_go_s, back_s))
            half += farthest < FULL_SHARE
            unheld += farthest >= FULL_SHARE and held is None
            reached.append(farthest if held is None else self._level(held))
        return Presses(
            plateaus=self.plateaus,
            presses=tuple(presses),
            away_s=tuple(away_s),
            half=half,
            unheld=unheld,
            reached=tuple(reached),
            worked=True,
            released=not ways or ways[-1][1] < end,
            starts_at_rest=not ways or ways[0][0] > 0,
            reversed=full_V < rest_V,
            rest_V=rest_V,
            travel_V=full_V - rest_V,
            stays=tuple(sorted(stays, key=lambda stay: stay.first)),
            breaks=breaks,
        )

    def _ways(self) -> list[tuple[int, int]]:
        """Where the control is off rest, from rest to rest; thumbs and glitches are no way."""
        # nobody knows how long it was off rest before the first point and after the last
        time_s = np.pad(self.trace.time_s, 1, constant_values=(-np.inf, np.inf))
        return [
            (start, stop)
            for start, stop in _runs(self.share > REST_SHARE)
            if self.share[start:stop].max() > THUMB_SHARE
            and time_s[stop + 1] - time_s[start] >= SHORTEST_PRESS_S
        ]

    def _leave_s(self, since: int, start: int) -> float:
        """When the control last stood still at rest before a way, s."""
        time_s = self.trace.time_s
        stood = [p.end_s for p in self.plateaus.found if time_s[since] <= p.end_s <= time_s[start]]
        return stood[-1] if stood and start else float(time_s[max(start - 1, 0)])

    def _back_s(self, stop: int, until: int) -> float:
        """When the control first stands still at rest after a way, s."""
        time_s = self.trace.time_s
        if stop == len(time_s):
            return float(time_s[-1])
        starts_s = (plateau.start_s for plateau in self.plateaus.found)
        stands = (at_s for at_s in starts_s if time_s[stop] <= at_s <= time_s[until - 1])
        return next(stands, float(time_s[stop]))

    def _let_go_s(self, start: int, stop: int) -> float:
        """When the control was last held or sank slowly before it came home, s."""
        reach = self.trace.points(EXTREME_S)
        last = start + int(np.flatnonzero(self.share[start:stop] >= FULL_SHARE)[-1])
        ahead = np.minimum(np.arange(start, last + 1) + reach, len(self.share) - 1)
        speed_Hz = (self.share[start : last + 1] - self.share[ahead]) / (reach * self.trace.step_s)
        slow = np.flatnonzero(np.abs(speed_Hz) < LET_GO_SHARE_HZ)
        slow = slow[self.share[start + slow] >= FULL_SHARE]
        return float(self.trace.time_s[start + int(slow[-1])]) if slow.size else 0.0

    def _at_full(self, start: int, stop: int) -> Stay | None:
        return self._stay(Place.FULL, *_reach(self.share[start:stop] >= FULL_SHARE, start))

    def _level(self, stay: Stay) -> float:
        first, stop = np.searchsorted(self.trace.first, [stay.first, stay.stop])
        return float(np.median(self.share[first:stop]))

    def _stay(self, place: Place, start: int, stop: int) -> Stay | None:
        """The stay between two grid points; None where nothing is held long enough.

        What comes before the outermost held level is the way there, with its halts. What stands
        still near it afterwards, a hand that sinks or a thumb that is laid on, is in the stay.
        """
        if stop - start < 2:
            return None
        outward = self.share[start:stop] if place is Place.FULL else -self.share[start:stop]
        least_s = HELD_S if place is Place.REST else SHORTEST_HOLD_S
        opened = _opened(outward, self.trace.points(least_s))
        held, where = float(opened.max()), int(opened.argmax())
        near = _closed(outward >= held - STAY_SHARE - self.noise, self.trace.points(HELD_S))
        first, last = next(run for run in _runs(near) if run[0] <= where < run[1])
        near_by = (outward[first:last] >= held - share - self.noise for share in WIDER_SHARES)
        ways = [_reach(flags, first) for flags in near_by]
        long = (way for way in ways if (way[1] - way[0]) * self.trace.step_s >= LEAST_STAY_S)
        begin, end = next(long, ways[0])
        brief = (end - begin) * self.trace.step_s < LEAST_STAY_S
        if brief and outward[begin:end].max() > held + ARRIVED_SHARE + self.noise:
            return None  # it turned round there
        return self._trimmed(place, (start + begin, start + end), start + last)

    def _trimmed(self, place: Place, arrived: tuple[int, int], last: int) -> Stay | None:
        """The stay from where it stands to where it last stands, in readings."""
        index, step_s = self.trace.first, self.trace.step_s
        begin, end = arrived
        for first, stop in self._standing(begin, last):
            if begin == arrived[0] and begin < first < end:
                begin = first if (first - begin) * step_s <= REBOUND_S else begin
            end = max(end, stop)
        readings = (int(index[begin]), int(index[end - 1]) + round(step_s * self.plateaus.rate_hz))
        start_s, end_s = float(self.trace.time_s[begin]), float(self.trace.time_s[end - 1])
        least_s, least = (SHORTEST_S, SHORTEST_SAMPLES) if place is Place.REST else SHORTEST_HOLD
        if end_s - start_s < least_s - 2.0 * step_s or readings[1] - readings[0] < least:
            return None
        return Stay(place, *readings, start_s, end_s)

    def _standing(self, begin: int, last: int) -> Iterator[tuple[int, int]]:
        """Where it really stands between two grid points: plateaus without their moving ends."""
        for each in self.plateaus.found:
            first, stop = np.searchsorted(self.trace.first, [each.first, each.stop])
            first, stop = max(begin, int(first)), min(last, int(stop))
            if stop - first < 2:
                continue
            share = self.share[first:stop]
            third = max(1, len(share) // 3)
            moved = abs(float(np.median(share[-third:]) - np.median(share[:third])))
            if moved > MOVING_SHARE_HZ * max(len(share) * self.trace.step_s, REBOUND_S):
                continue
            yield _reach(np.abs(share - np.median(share)) <= ARRIVED_SHARE + self.noise, first)


def _reach(flags: Flags, since: int) -> tuple[int, int]:
    """From the first point that is flagged to one past the last, counted from a point on."""
    places = np.flatnonzero(flags) + since
    return int(places[0]), int(places[-1]) + 1


def _closed(flags: Flags, width: int) -> Flags:
    """The same with gaps of up to `width` points filled."""
    half = width // 2
    padded = np.pad(flags.astype(np.int8), 2 * half)
    return least_of_each(largest_of_each(padded, 2 * half + 1), 2 * half + 1).astype(np.bool_)
