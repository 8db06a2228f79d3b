"""Clocks of a line: counter wraps and midnights undone, gaps, repeats and resets found.

Times are as stamped. Whether stamps are ragged shows only in many of them, so the even time through
them, and what is missing in it, are told when a capture is read (`calib/measure/pace.py`). What is
noted here while samples come serves whoever looks on.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections import Counter

import numpy as np
from numpy.typing import NDArray

from calib.measure.pace import GAP_STEPS, ROUNDING, multiples_of_least
from calib.store.samples import Event, EventKind

Floats = NDArray[np.float64]

LEARNING_STEPS = 16
"""Steps from which the usual step is learned: own choice, a fifth of a second at 100 Hz."""

QUIET_S = 1.0
"""Seconds that a logger may plausibly be silent over a wrap: own choice."""

QUIET_STEPS = 50.0
"""The same for slow loggers, in usual steps: own choice."""

ARRIVAL_GAP_S = 0.5
"""Seconds between arrivals above which a gap is told where there is no device clock: own choice,
because USB adapters and the system hand lines over in bursts of up to some tenths of a second."""

EVENTS_NOTED = 5000
"""Events noted one by one: own choice, so that a mad clock cannot fill memory; more are counted."""

EVEN_SHARE = 0.75
"""Share of the learning steps within half to one and a half usual ones from which each long step is
told at once: own choice; bursts of two have half."""

RAGGED_GAPS, RAGGED_SHARE = 3, 0.3
"""Long steps, and their share of the time, from which they are bursts as likely as gaps and are no
longer told at once: own choice."""

GRID_UNITS, GRID_LOST = 2.0, 4.0
"""Least step, in units of the counter, and most of its multiples in the mean, for a device that
counts evenly and leaves out lines: own choice; steps of one unit are multiples of it whatever they
are, and bursts lie farther apart."""

DAY_S = 86_400.0

BACKWARD_S = 1.0
"""Seconds that a stamp may go back and only be out of order: own choice; hosts set their clocks by
less, and a device that starts again goes back to its beginning."""

UNTIMED_HZ = 100.0
"""Rate at which samples without any time are numbered: own choice, so that presses in a log without
a clock can be found at all; no time is told from it."""


class Clock(ABC):
    """Turns the time column, or arrival alone, into seconds from the first sample.

    Events are noted beside that; those that would fill memory are only counted.
    """

    def __init__(self) -> None:
        """Start before the first sample."""
        self._broken = False
        self._arrival_s = math.nan  # of the latest sample
        self._events: list[Event] = []
        self._noted = 0
        self._more = Counter[EventKind]()
        self._more_until_s = 0.0

    @abstractmethod
    def advance(self, raw: Floats, arrival_s: Floats) -> Floats:
        """Time in s since the first sample, shape (n,).

        Args:
            raw: The time column as sent, in counts, shape (n,).
            arrival_s: The computer's clock in s, shape (n,); NaN where unknown.
        """

    def interrupt(self) -> None:
        """The line was broken: the next sample starts a stretch that is joined by arrival."""
        self._broken = True

    def take_events(self, *, final: bool = False) -> list[Event]:
        """Events since the last call in order of time; the last call gives the count of others."""
        events, self._events = self._events, []
        if final:
            events += [
                Event(kind, self._more_until_s, f"{count} more of this kind", count=count)
                for kind, count in self._more.items()
            ]
            self._more.clear()
        return sorted(events, key=lambda event: (round(event.time_s, 6), event.kind))

    def _note(self, kind: EventKind, time_s: float, text: str, duration_s: float = 0.0) -> None:
        self._noted += 1
        if self._noted <= EVENTS_NOTED:
            self._events.append(Event(kind, time_s, text, duration_s))
        else:
            self._more[kind] += 1
            self._more_until_s = time_s


class DeviceClock(Clock):
    """Seconds from a counter that the device sends.

    A step back is a wrap where the counter can wrap and the time that would have passed is
    plausible, or out of order where it is small; else the device has started again, and the new
    stretch is placed by arrival. A sample without a stamp has that of the one before it.

    Args:
        unit_s: Length of one count, in s.
        modulus: Counts after which the counter starts again at nought; None if it never does.
        wall: It is a wall clock: a time of day starts again at midnight, whoever slept meanwhile.
    """

    def __init__(self, unit_s: float, modulus: float | None = None, *, wall: bool = False) -> None:
        """Start before the first sample."""
        super().__init__()
        self._wall = wall
        self._first_raw = math.nan
        self._behind = 0.0  # counts that a stamp out of order is behind the latest
        self._ragged = False
        self._gaps, self._gaps_s = 0, 0.0
        self._on_grid = False
        self._unit_s = unit_s
        self._modulus = modulus
        self._raw = math.nan
        self._total = 0.0  # counts since the first sample
        self._usual: float | None = None  # counts
        self._learning: list[tuple[float, float]] = []  # (time_s before it, step in counts)
        self._repeating = False
        self._reset_s = math.nan  # when it started again last

    def advance(self, raw: Floats, arrival_s: Floats) -> Floats:
        """Time in s since the first sample, shape (n,), by the counts of shape (n,)."""
        raw = self._without_missing(raw)
        pieces = [np.empty(0)]
        while len(raw):
            # Till the usual step is known one by one, so that no split changes anything.
            count = 1 if self._usual is None else len(raw)
            pieces.append(self._advance(raw[:count], arrival_s[:count]))
            raw, arrival_s = raw[count:], arrival_s[count:]
        return np.concatenate(pieces)

    def _advance(self, raw: Floats, arrival_s: Floats) -> Floats:
        """Times of at least one sample; of one only while the usual step is not known."""
        if math.isnan(self._raw):
            self._raw, self._arrival_s = float(raw[0]), float(arrival_s[0])
            self._first_raw = self._raw
            if self._wall and self._raw <= DAY_S:
                self._modulus = DAY_S
            self._broken = False
            return np.zeros(1)
        steps = np.diff(raw, prepend=self._raw)
        waits_s = np.diff(arrival_s, prepend=self._arrival_s)
        odd = self._odd_places(steps, waits_s)
        if self._behind and 0 not in odd:
            odd.insert(0, 0)
        for place in odd:
            before = self._total + float(steps[:place].sum())
            if self._is_out_of_order(float(steps[place]), float(raw[place])):
                self._hold_back(steps, place, before)
            elif place or not self._behind or steps[place] < 0 or self._broken:
                self._behind = 0.0
                steps[place] = self._corrected(float(steps[place]), float(waits_s[place]), before)
                self._first_raw = float(raw[place])
            else:
                self._catch_up(steps, place)
        totals = self._total + np.cumsum(steps)
        times_s = totals * self._unit_s
        before_s = np.append(self._total * self._unit_s, times_s[:-1])
        if self._usual is None:
            self._learning.append((float(before_s[0]), float(steps[0])))
            if len(self._learning) == LEARNING_STEPS:
                self._learn()
        else:
            self._judge_all(steps, before_s)
        self._raw, self._arrival_s = float(raw[-1]), float(arrival_s[-1])
        self._total = float(totals[-1])
        return times_s

    def take_events(self, *, final: bool = False) -> list[Event]:
        """Events since the last call; the last call judges also what was still unsure."""
        if final and self._usual is None and len(self._learning) > 1:
            self._learn()
        return super().take_events(final=final)

    def _odd_places(self, steps: Floats, waits_s: Floats) -> list[int]:
        """Where a step cannot be taken as it is."""
        odd = steps < 0
        if self._modulus is not None:
            odd |= waits_s > 0.5 * self._modulus * self._unit_s
        odd[0] |= self._broken
        return [int(place) for place in np.flatnonzero(odd)]

    def _without_missing(self, raw: Floats) -> Floats:
        """The counts with that of the sample before where one is missing."""
        missing = np.isnan(raw)
        if not missing.any():
            return raw
        latest = np.maximum.accumulate(np.where(missing, -1, np.arange(len(raw))))
        known = raw[latest]
        known[latest < 0] = self._raw
        return np.where(np.isnan(known), raw[~missing][0] if (~missing).any() else 0.0, known)

    def _is_out_of_order(self, step: float, raw: float) -> bool:
        """Whether a step back is too small for a new start."""
        small = -BACKWARD_S <= step * self._unit_s < 0
        wraps = self._modulus is not None and -step > 0.5 * self._modulus
        return small and not wraps and not self._broken and raw > self._first_raw

    def _hold_back(self, steps: Floats, place: int, before: float) -> None:
        """Time stands still until a stamp that went back has caught up."""
        text = f"a stamp went back by {-steps[place] * self._unit_s:.3f} s: out of order"
        self._note(EventKind.REPEAT, before * self._unit_s, text)
        self._behind -= float(steps[place])
        steps[place] = 0.0
        self._catch_up(steps, place + 1)

    def _catch_up(self, steps: Floats, place: int) -> None:
        """Take what is still behind off the steps from a place on, up to the next step back."""
        while self._behind > 0 and place < len(steps) and steps[place] >= 0:
            taken = min(self._behind, float(steps[place]))
            steps[place] -= taken
            self._behind -= taken
            place += 1

    def _corrected(self, step: float, wait_s: float, before: float) -> float:
        """The counts that really passed over an odd step; a new start is noted."""
        known_wait_s = 0.0 if math.isnan(wait_s) else wait_s
        broken, self._broken = self._broken, False
        if self._modulus is not None and not broken:
            turned = step + self._modulus if step < 0 else step
            missed = round((known_wait_s / self._unit_s - turned) / self._modulus)
            turned += max(missed, 0) * self._modulus
            quiet_s = max(QUIET_S, QUIET_STEPS * (self._usual or 0.0) * self._unit_s)
            if self._wall:
                quiet_s = 0.5 * DAY_S
            if turned >= 0 and turned * self._unit_s <= known_wait_s + quiet_s:
                return turned
        passed = max(known_wait_s / self._unit_s, self._usual or 0.0)
        if not broken:
            what = "the wall clock was set back" if self._wall else "it started again"
            text = f"the device's clock went back by {-step * self._unit_s:.3f} s: {what}"
            self._reset_s = before * self._unit_s
            self._note(EventKind.RESET, self._reset_s, text, passed * self._unit_s)
        return passed

    def _learn(self) -> None:
        """The usual step is the median of those held; judge each by it."""
        before_s, steps = np.array(self._learning).T
        self._learning = []
        self._on_grid = on_a_grid(steps)
        self._usual = float(steps.min() if self._on_grid else np.median(steps))
        ordinary = (steps >= 0.5 * self._usual) & (steps <= 1.5 * self._usual)
        long = steps[steps > GAP_STEPS * self._usual * ROUNDING]
        bursts = len(long) > 1 and float(long.sum()) > RAGGED_SHARE * float(steps.sum())
        self._ragged = not self._on_grid and (bursts or float(ordinary.mean()) < EVEN_SHARE)
        self._judge_all(steps, before_s)

    def _judge_all(self, steps: Floats, before_s: Floats) -> None:
        """Find gaps, and the first of each run of repeats."""
        usual = self._usual or math.inf
        first = (steps == 0) & (np.append(self._repeating, steps[:-1] == 0) == 0)
        self._repeating = bool(steps[-1] == 0)
        for place in np.flatnonzero(first | (steps > GAP_STEPS * usual * ROUNDING)).tolist():
            at_s, step_s = float(before_s[place]), float(steps[place]) * self._unit_s
            told = abs(at_s - self._reset_s) < 0.5 * self._unit_s  # how long a new start took
            if self._ragged or told:
                continue
            if steps[place] == 0:
                self._note(EventKind.REPEAT, at_s, "the device sent the same time again")
                continue
            self._note(EventKind.GAP, at_s, f"{step_s:.3f} s without a sample", step_s)
            self._gaps += 1
            self._gaps_s += step_s
            long_share = self._gaps_s / (at_s + step_s)
            bursts = self._gaps >= RAGGED_GAPS and long_share > RAGGED_SHARE
            self._ragged = bursts and not self._on_grid


def on_a_grid(steps: Floats) -> bool:
    """Whether a device counted evenly and left out lines: every step is a multiple of the least.

    Args:
        steps: Differences of its counter, in the counter's units, shape (n,).
    """
    least = float(steps.min())
    near = least >= GRID_UNITS and float(steps.mean()) <= GRID_LOST * least
    return near and multiples_of_least(steps) is not None


class ArrivalClock(Clock):
    """Seconds by arrival alone; lines that came in one read are spread over the wait for it.

    Arrival goes on over a broken line, and the gap shows.
    """

    def __init__(self) -> None:
        """Start before the first sample."""
        super().__init__()
        self._start_s = math.nan

    def advance(self, raw: Floats, arrival_s: Floats) -> Floats:  # noqa: ARG002 (no time column)
        """Time in s since the first sample, shape (n,)."""
        if not len(arrival_s):
            return np.empty(0)
        if math.isnan(self._start_s):
            self._start_s = self._arrival_s = float(arrival_s[0])
        starts = np.flatnonzero(np.diff(arrival_s, prepend=math.nan) != 0)
        ends = np.append(starts[1:], len(arrival_s))
        spread_s = np.empty(len(arrival_s))
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
            now_s = float(arrival_s[start])
            wait_s = now_s - self._arrival_s
            share = np.arange(1, end - start + 1) / (end - start)
            spread_s[start:end] = self._arrival_s + wait_s * share
            if wait_s > ARRIVAL_GAP_S:
                before_s = self._arrival_s - self._start_s
                self._note(EventKind.GAP, before_s, f"{wait_s:.3f} s without a sample", wait_s)
                spread_s[start:end] = now_s
            self._arrival_s = now_s
        return spread_s - self._start_s


class CountClock(Clock):
    """Seconds by counting samples that come evenly.

    Args:
        rate_hz: Samples a second; None where nobody knows it: then times only number the samples,
            and an event says so.
    """

    def __init__(self, rate_hz: float | None) -> None:
        """Start before the first sample."""
        super().__init__()
        self._step_s = 1.0 / (rate_hz or UNTIMED_HZ)
        self._samples = 0
        self._away_s = 0.0
        if rate_hz is None:
            self._note(EventKind.NO_CLOCK, 0.0, "no clock: times only number the samples")

    def advance(self, raw: Floats, arrival_s: Floats) -> Floats:
        """Time in s since the first sample, shape (n,)."""
        if self._broken and len(raw):
            self._broken = False
            away_s = float(arrival_s[0]) - self._arrival_s
            self._away_s += 0.0 if math.isnan(away_s) else away_s
        numbers = np.arange(self._samples, self._samples + len(raw), dtype=np.float64)
        times_s: Floats = numbers * self._step_s + self._away_s
        self._samples += len(raw)
        self._arrival_s = float(arrival_s[-1]) if len(raw) else self._arrival_s
        return times_s
