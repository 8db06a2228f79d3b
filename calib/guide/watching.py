"""Look on for hours in constant memory: newest values, extremes, rate, and the last seconds."""

from __future__ import annotations

import math
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from calib.errors import StoppedError
from calib.guide.protocols import Line, Reading
from calib.guide.seen import Gauge
from calib.guide.watch import SHOW_EVERY_S, Clock
from calib.store.samples import EventKind, Samples

BIN_S = 0.25
"""Own choice: a quarter of a second a mark, so that a dropped contact is seen to come and go."""

BINS = 24
"""Own choice: six seconds of the past, about as long as one looks away."""

RATE_OVER_S = 2.0
"""Own choice: long enough for a steady figure, short enough to see a logger slow down."""


@dataclass(frozen=True, slots=True)
class Trace:
    """One channel as it is now.

    Attributes:
        reading: Newest value and extremes.
        recent: The last seconds, oldest first, one value a bin: the one farthest from the bin
            before, so that the shortest drop-out leaves its mark.
    """

    reading: Reading
    recent: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class View:
    """All that a watcher sees at one moment.

    Attributes:
        traces: The channels, in the rig file's order.
        samples: Count of samples so far.
        rejected_lines: Count of lines that could not be decoded.
        gaps: Count of gaps in time.
        resets: Count of times that the logger restarted.
        rate_hz: Samples a second over the last two seconds; None before the first.
        elapsed_s: Device time since the first sample.
    """

    traces: tuple[Trace, ...]
    samples: int = 0
    rejected_lines: int = 0
    gaps: int = 0
    resets: int = 0
    rate_hz: float | None = None
    elapsed_s: float = 0.0


class Past:
    """The last seconds of one channel, one value a bin of device time, oldest first."""

    def __init__(self) -> None:
        """Nothing seen yet."""
        self.bins: deque[float] = deque(maxlen=BINS)
        self._number: int | None = None

    def look(self, time_s: NDArray[np.float64], values: NDArray[np.float64]) -> None:
        """Take in a run of readings and their device times, both of shape (n,) and n > 0."""
        numbers = np.floor_divide(time_s, BIN_S).astype(np.int64)
        starts = np.flatnonzero(np.diff(numbers, prepend=numbers[0] - 1))
        lows, highs = np.minimum.reduceat(values, starts), np.maximum.reduceat(values, starts)
        bins = zip(numbers[starts].tolist(), lows.tolist(), highs.tolist(), strict=True)
        for number, low, high in bins:
            self._put(number, low, high)

    def _put(self, number: int, low: float, high: float) -> None:
        before = self.bins[-1] if self.bins else high
        farthest = low if abs(low - before) > abs(high - before) else high
        if number == self._number and self.bins:
            earlier = self.bins[-2] if len(self.bins) > 1 else before
            if abs(farthest - earlier) > abs(before - earlier):
                self.bins[-1] = farthest
            return
        self.bins.append(farthest)
        self._number = number


class Rate:
    """Samples a second over the last two seconds of device time; None before there is a rate."""

    def __init__(self) -> None:
        """Nothing seen yet."""
        self._marks: deque[tuple[float, int]] = deque()
        self.rate_hz: float | None = None

    def look(self, time_s: float, samples: int) -> None:
        """Note how many samples there are at ``time_s``."""
        if self._marks and time_s < self._marks[-1][0]:
            self._marks.clear()
        if not self._marks or time_s - self._marks[-1][0] >= SHOW_EVERY_S:
            self._marks.append((time_s, samples))
        while len(self._marks) > 2 and time_s - self._marks[1][0] > RATE_OVER_S:
            self._marks.popleft()
        (first_s, first), (last_s, last) = self._marks[0], self._marks[-1]
        self.rate_hz = (last - first) / (last_s - first_s) if last_s > first_s else None


@dataclass
class Watching:
    """An observer that shows twenty views a second and keeps nothing that grows.

    Attributes:
        gauges: The channels to show.
        show: Shows a view.
        duration_s: Device time to look on, s.
        clock: The host's clock, s.
        view: What there is to see now.
    """

    gauges: Sequence[Gauge]
    show: Callable[[View], None]
    duration_s: float = math.inf
    clock: Clock = field(default=time.monotonic, kw_only=True)
    view: View = field(init=False)
    _pasts: list[Past] = field(init=False)
    _rate: Rate = field(init=False, default_factory=Rate)
    _shown_s: float = field(init=False, default=-math.inf)

    def __post_init__(self) -> None:
        """Nothing seen yet."""
        self._pasts = [Past() for _ in self.gauges]
        self.view = View(tuple(Trace(gauge.now(0.0), ()) for gauge in self.gauges))

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether the time is over."""
        now_s, was = self.clock(), self.view
        count, elapsed_s = was.samples + len(samples), was.elapsed_s
        if len(samples):
            elapsed_s = float(samples.time_s[-1])
            self._rate.look(elapsed_s, count)
        kinds = [event.kind for event in samples.events]
        self.view = View(
            traces=tuple(map(partial(_trace, samples, now_s), self.gauges, self._pasts)),
            samples=count,
            rejected_lines=was.rejected_lines + len(samples.rejected),
            gaps=was.gaps + kinds.count(EventKind.GAP) + kinds.count(EventKind.REPLUG),
            resets=was.resets + kinds.count(EventKind.RESET),
            rate_hz=self._rate.rate_hz,
            elapsed_s=elapsed_s,
        )
        if now_s - self._shown_s >= SHOW_EVERY_S:
            self._shown_s = now_s
            self.show(self.view)
        return elapsed_s >= self.duration_s


def _trace(samples: Samples, now_s: float, gauge: Gauge, past: Past) -> Trace:
    """One channel once a run of samples is taken in."""
    values = gauge.values(samples) if len(samples) else samples.time_s
    there = np.isfinite(values)
    if there.any():
        past.look(samples.time_s[there], values[there])
    return Trace(gauge.look(samples, now_s), tuple(past.bins))


def watch(line: Line, watching: Watching) -> None:
    """Look on until the time is over or the line ends; nothing is kept.

    Raises:
        StoppedError: The person pressed Ctrl-C.
        PortError: The cable went, or nothing decodable came.
    """
    try:
        for samples in line.blocks():
            if watching(samples):
                return
    except KeyboardInterrupt as error:
        raise StoppedError("Stopped by Ctrl-C.", "Nothing was kept; --keep keeps it.") from error


@dataclass(frozen=True, slots=True)
class Paced:
    """A replayed line that comes as fast as its device's clock ran.

    Attributes:
        line: The line to pace.
        speed: Seconds of device time in one second.
        clock: The host's clock in seconds.
        sleep: Waits for so many seconds.
    """

    line: Line
    speed: float
    clock: Clock = field(default=time.monotonic, kw_only=True)
    sleep: Callable[[float], None] = field(default=time.sleep, kw_only=True)

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns."""
        return self.line.columns

    def blocks(self) -> Iterator[Samples]:
        """The line's samples, a frame's worth at a time, each when its time has come."""
        began_s = self.clock()
        for samples in self.line.blocks():
            for part in _frames(samples, SHOW_EVERY_S * self.speed):
                if len(part):
                    due_s = began_s + float(part.time_s[-1]) / self.speed
                    self.sleep(max(0.0, due_s - self.clock()))
                yield part


def _frames(samples: Samples, frame_s: float) -> Iterator[Samples]:
    """A run of samples cut where a new frame of device time begins."""
    numbers = np.floor_divide(samples.time_s, frame_s)
    cuts = [0, *(np.flatnonzero(np.diff(numbers)) + 1).tolist(), len(samples)]
    for first, stop in pairwise(cuts):
        yield Samples(
            time_s=samples.time_s[first:stop],
            arrival_s=samples.arrival_s[first:stop],
            values=samples.values[first:stop],
            rows=samples.rows[first:stop],
            rejected=samples.rejected if first == 0 else (),
            events=samples.events if first == 0 else (),
        )
