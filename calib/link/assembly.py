"""From decoded blocks to samples: columns, device time, events."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from calib.errors import UsageError
from calib.link.clock import ArrivalClock, Clock, CountClock, DeviceClock
from calib.link.layouts.rows import Block, Floats, Kind, joined
from calib.store.asked import plain_rig
from calib.store.columns import column_index
from calib.store.rig import Rig
from calib.store.samples import Event, EventKind, RejectedLine, Samples
from calib.store.text import neutral


def column_names(names: tuple[str, ...] | None, width: int, rig: Rig) -> tuple[str, ...]:
    """Names of the columns: the rig file's list, the header's, or numbers.

    Raises:
        UsageError: The rig file lists another count of columns.
    """
    listed = rig.link.columns
    if listed and len(listed) != width:
        raise UsageError.of("columns-of-another", path=rig.path, count=len(listed), width=width)
    return listed or names or tuple(f"c{number}" for number in range(width))


def wanted_names(rig: Rig) -> set[str]:
    """Columns that the rig file asks for by name.

    They are what is waited for; no reading rests on a column that merely has to be there.
    """
    plain = plain_rig(rig)
    asked = [plain.time.column, *(channel.column for channel in plain.channels.values())]
    return {column for column in asked if isinstance(column, str)}


class Assembler:
    """Makes samples of blocks of one line.

    Args:
        rig: What the columns are.
        columns: Their names, in order.
        stamped: Places of those that hold a wall clock.
        live: Arrival is known, so it serves where there is no other clock.

    Raises:
        UsageError: The rig file's time column is none of them, or holds no wall clock.
    """

    def __init__(
        self, rig: Rig, columns: tuple[str, ...], *, stamped: frozenset[int], live: bool = True
    ) -> None:
        """Find the time column."""
        self.columns = columns
        self._rig = rig
        self._live = live
        self._stamped = stamped
        self._time_index: int | None = None
        if (wanted := rig.time.column) is not None:
            self._time_index = column_index(columns, wanted)
            if self._time_index is None:
                there = ", ".join(neutral(name, 20) for name in columns)
                raise UsageError.of("time-not-sent", path=rig.path, wanted=wanted, there=there)
            if rig.time.unit == "text" and self._time_index not in stamped:
                raise UsageError.of("no-wall-clock", path=rig.path, wanted=wanted)
        elif stamped and not live and rig.time.rate_hz is None:
            self._time_index = min(stamped)
        self.restart(0.0)

    def restart(self, start_s: float) -> None:
        """A new capture begins: both times count from here.

        Args:
            start_s: Its start by the computer's monotonic clock.
        """
        self._start_s = start_s
        self._count = 0
        self._last_time_s = 0.0
        self._extra: list[Event] = []
        self._cut = False
        self._clock = self._fresh_clock()

    def _fresh_clock(self) -> Clock:
        """The clock that the rig file, or the lines themselves, name."""
        time = self._rig.time
        if self._time_index in self._stamped:
            return DeviceClock(1.0, wall=True)
        if self._time_index is not None:
            return DeviceClock(time.seconds_per_count, time.wrap)
        if time.rate_hz is not None or not self._live:
            return CountClock(time.rate_hz)
        return ArrivalClock()

    def interrupt(self, text: str, duration_s: float) -> None:
        """The logger was unplugged and is back: nothing is joined across that."""
        self._clock.interrupt()
        self._extra.append(Event(EventKind.REPLUG, self._last_time_s, text, duration_s))

    def take(self, blocks: Sequence[Block], *, final: bool = False) -> Samples:
        """Samples of these blocks, in order.

        Args:
            blocks: As decoded; all of one width.
            final: Nothing will follow: what was unsure of the clock is judged now.
        """
        values, arrival_s = joined(blocks, len(self.columns))
        raw = values[:, self._time_index or 0]
        time_s = self._clock.advance(raw, arrival_s)
        lost = (line for block in blocks for line in block.rejected if line.kind is not Kind.HEADER)
        self._extra.extend(self._banners(blocks, time_s))
        if len(time_s):
            self._last_time_s = float(time_s[-1])
        self._count += len(time_s)
        self._extra += [*self._noted(blocks), *self._clock.take_events(final=final)]
        events, self._extra = self._extra, []
        rows = [row for block in blocks for row in block.rows]
        rejected = [RejectedLine(line.text, line.kind.value) for line in lost]
        return Samples(time_s, arrival_s - self._start_s, values, rows, rejected, events)

    def _noted(self, blocks: Sequence[Block]) -> list[Event]:
        """What was first cleaned off these lines, and a header that ends the capture."""
        fresh = sorted({remark for block in blocks for remark in block.remarks})
        events = [Event(EventKind.CLEANED, self._last_time_s, remark) for remark in fresh]
        changed = (line for block in blocks for line in block.rejected if line.kind is Kind.CHANGED)
        first = None if self._cut else next(changed, None)
        if first is not None:
            self._cut = True
            text = f"its header changed to {neutral(first.text, 60)}; what came after is left out."
            events.append(Event(EventKind.CUT, self._last_time_s, text))
        return events

    def _banners(self, blocks: Sequence[Block], time_s: Floats) -> Iterator[Event]:
        """A header line after samples: the logger has started again."""
        before = 0
        for block in blocks:
            for line in block.rejected:
                place = before + line.after
                if line.kind is Kind.HEADER and self._count + place:
                    at_s = float(time_s[place - 1]) if place else self._last_time_s
                    text = "the logger sent its header again: it started again"
                    yield Event(EventKind.BANNER, at_s, text)
            before += len(block.rows)
