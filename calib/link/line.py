"""A live line: a thread that only moves bytes, and samples for whoever asks for them."""

from __future__ import annotations

import math
import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress

from msgspec import structs

from calib.errors import PortError, UsageError
from calib.link.assembly import Assembler, column_names, wanted_names
from calib.link.health import Health
from calib.link.layouts.choose import layout_for
from calib.link.layouts.rows import Block
from calib.link.polled import ModbusPoller, ScpiPoller, checked_queries
from calib.link.ports import find_again, identity_of
from calib.link.spool import Chunk, Spool
from calib.link.transport import Source, Transport
from calib.store.rig import Rig
from calib.store.samples import Samples
from calib.store.text import neutral

PERIOD_S = 0.02
"""Time between two runs of samples: own choice, fifty a second; a screen shows twenty."""

IDLE_S = 0.08
"""Longest wait for bytes before an empty run is given out: under the protocol's 0.1 s."""

NAMES_WAIT_S = 3.0
"""Wait for a header that the rig file needs: own choice; a board that restarts when the port is
opened is silent for up to two seconds before it sends one."""

REPLUG_WAIT_S = 20.0
"""Time that an unplugged logger is waited for: own choice, to find and push in a plug."""

LOOK_S = 0.25
"""Time between two looks for an unplugged logger: own choice."""

FRESH_S = 0.25
"""Age up to which what came while the columns were found belongs to the first capture: own choice;
when it begins later, the person was asked to do something in between, such as to pull a wire."""

JOIN_S = 2.0
"""Time that the reader is given to end: own choice, many times its longest wait."""


SWITCH_S = 0.0005
"""Longest that busy Python code keeps the reader waiting for its turn: own choice. At Python's
usual 5 ms, and three turns a read, a full-speed line overruns the 18 kB that a pseudo-terminal
holds."""

PSEUDO_TERMINALS = "/dev/pts/"

Reopen = Callable[[], Source | None]
"""Opens a line again that has gone; None while it is away."""


class _Reader(threading.Thread):
    """Moves bytes from a source into a spool from now on, and does nothing else."""

    def __init__(self, source: Source, spool: Spool) -> None:
        super().__init__(name="calib-reader", daemon=True)
        self._source = source
        self._spool = spool
        self._stopping = threading.Event()
        self.start()

    def run(self) -> None:
        """Read until told to stop or the line goes."""
        try:
            while not self._stopping.is_set():
                if data := self._source.read():
                    self._spool.put(Chunk(data, time.monotonic()))
        except PortError as error:
            self._spool.fail(error)

    def stop(self) -> None:
        """Ask it to end, and wait until it has."""
        self._stopping.set()
        self.join(JOIN_S)


class LiveLine:
    """A running logger on a serial line.

    ``blocks`` may be called again: each call is a capture of its own, and what came between two
    of them belongs to none.

    Args:
        rig: Port, rate, layout and columns.
        source: The open line.
        reopen: Opens it again after it has gone; None while it is away.
        outlasts_s: Silence after the first sample that is waited for, s.

    Attributes:
        columns: Names of the columns of ``Samples.values``, in order.
    """

    def __init__(
        self, rig: Rig, source: Source, reopen: Reopen | None = None, *, outlasts_s: float = 0.0
    ) -> None:
        """Start the reader and wait until the columns are known."""
        self._outlasts_s = outlasts_s
        self._rig = rig
        self._source = source
        self._reopen = reopen
        self._spool = Spool()
        self._layout = layout_for(rig.link, whole_start=False)
        now_s = time.monotonic()
        self._health = Health(rig.link.port, rig.link.baud, now_s)
        self._opening: list[Block] = []
        self._reader = _Reader(source, self._spool)
        try:
            self.columns = self._find_columns(now_s)
            self._assembler = Assembler(rig, self.columns, stamped=self._layout.stamped)
        except BaseException:
            self.close()
            raise
        self._opened_s = time.monotonic()

    def blocks(self) -> Iterator[Samples]:
        """Runs of samples in order, one every PERIOD_S or a little more, maybe empty.

        Raises:
            PortError: The cable went and the logger did not come back; nothing decodable came.
        """
        start_s = time.monotonic()
        opening, self._opening = self._opening, []
        if start_s - self._opened_s > FRESH_S:
            opening = []
            self._spool.listen(on=False)
        self._spool.listen(on=True)
        self._health.restart(start_s)
        self._assembler.restart(opening[0].arrival_s if opening else start_s)
        try:
            yield self._assembler.take(opening)
            while True:
                began_s = time.monotonic()
                yield from self._next_run()
                time.sleep(max(0.0, PERIOD_S - (time.monotonic() - began_s)))
        finally:
            self._spool.listen(on=False)

    def close(self) -> None:
        """Stop the reader and close the line."""
        self._reader.stop()
        self._source.close()
        self._spool.close()

    def _next_run(self) -> Iterator[Samples]:
        """One run; while the logger is away, empty ones."""
        try:
            blocks = self._decode(IDLE_S)
        except PortError as error:
            if self._reopen is None:
                yield self._assembler.take([self._layout.finish(time.monotonic())], final=True)
                raise
            yield from self._wait_for_return(error, self._reopen)
            return
        decoded_s = time.monotonic()  # not after the yield: a slow listener is not a silent line
        yield self._assembler.take(blocks)
        if not self._health.is_quiet(decoded_s, self._outlasts_s):
            self._health.judge(decoded_s)

    def _decode(self, wait_s: float) -> list[Block]:
        """What has come since the last call, decoded."""
        chunks = self._spool.take(wait_s)
        if self._spool.lost():
            self._layout.resync()
        blocks = []
        for chunk in chunks:
            blocks.append(self._layout.feed(chunk.data, chunk.arrival_s))
            # By when they are decoded: what waits in the spool is late, but the line is not silent.
            self._health.saw(chunk.data, blocks[-1], time.monotonic())
        return blocks

    def _find_columns(self, start_s: float) -> tuple[str, ...]:
        """Names of the columns, once a first sample and the names that are needed have come."""
        wanted = wanted_names(self._rig) - set(self._rig.link.columns)
        while True:
            self._opening += self._decode(IDLE_S)
            now_s = time.monotonic()
            width = self._layout.width
            if width is not None:
                names = column_names(self._layout.names, width, self._rig)
                if wanted <= set(names) or self._layout.names is not None:
                    return names
                if now_s - start_s > NAMES_WAIT_S:
                    asked = ", ".join(neutral(name, 20) for name in sorted(wanted_names(self._rig)))
                    raise UsageError.of("no-header", width=width, path=self._rig.path, asked=asked)
            self._health.judge(now_s)

    def _wait_for_return(self, error: PortError, reopen: Reopen) -> Iterator[Samples]:
        """Empty runs until the logger is back, then the note of the break.

        Raises:
            PortError: It did not come back.
        """
        gone_s = time.monotonic()
        yield self._assembler.take([self._layout.finish(gone_s)])
        self._reader.stop()
        with suppress(PortError):  # it has gone: that it cannot be closed says nothing new
            self._source.close()
        while (source := reopen()) is None:
            if time.monotonic() - gone_s > REPLUG_WAIT_S:
                raise error
            time.sleep(IDLE_S)
            yield self._assembler.take([])
        away_s = time.monotonic() - gone_s
        self._source = source
        self._spool.recover()
        self._layout.resync()
        self._reader = _Reader(source, self._spool)
        self._health.restart(time.monotonic())
        text = f"the logger was unplugged and came back after {away_s:.1f} s"
        self._assembler.interrupt(text, away_s)


def _return_of(rig: Rig) -> Reopen | None:
    """What opens a logger again that was unplugged: known by its USB identity, else by its name.

    The number of a pseudo-terminal comes back as somebody else's, so a name that still leads to the
    old one is not opened again; None where there is nothing else by which it could be known.
    """
    port = rig.link.port
    identity, place = identity_of(port), os.path.realpath(port)
    if identity is None and port.startswith(PSEUDO_TERMINALS):
        return None
    looked_s = -math.inf

    def reopen() -> Source | None:
        nonlocal looked_s
        now_s = time.monotonic()
        if now_s - looked_s < LOOK_S:
            return None
        looked_s = now_s
        found = port if identity is None else find_again(identity)
        old = identity is None and place.startswith(PSEUDO_TERMINALS)
        if found is None or (old and os.path.realpath(port) == place):
            return None
        link = structs.replace(rig.link, port=found)
        with suppress(PortError):
            return open_source(structs.replace(rig, link=link))
        return None

    return reopen


def open_source(rig: Rig) -> Source:
    """What the layout reads from: the bare line, or a poller of a declared instrument.

    Raises:
        PortError: The port cannot be opened.
        RigError: The queries are not such that only ask.
    """
    if rig.link.layout == "modbus":
        return ModbusPoller(rig)
    if rig.link.layout == "scpi":
        queries = checked_queries(rig)  # before the port is opened
        return ScpiPoller(Transport(rig.link.port, rig.link.baud), queries, rig.link.poll_s)
    return Transport(rig.link.port, rig.link.baud)


@contextmanager
def open_line(rig: Rig, *, outlasts_s: float = 0.0) -> Iterator[LiveLine]:
    """The logger of a rig file, open and running; closed at the end.

    Args:
        rig: Its ``[link]`` says which port; no other is opened.
        outlasts_s: Silence after the first sample that is waited for, s.

    Raises:
        PortError: It cannot be opened, or nothing decodable comes for PATIENCE_S.
        UsageError: No port is named, or the columns are not those of the rig file.
    """
    if not rig.link.port:
        raise UsageError.of("no-port-named", path=rig.path)
    source, reopen = open_source(rig), _return_of(rig)
    switch_s = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH_S)
    try:
        with closing(LiveLine(rig, source, reopen, outlasts_s=outlasts_s)) as line:
            yield line
    finally:
        sys.setswitchinterval(switch_s)
