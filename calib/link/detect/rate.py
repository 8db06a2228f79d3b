"""What a port is heard to send: at which of the usual rates, and then its lines."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from calib.errors import PortError
from calib.link.detect.layout import GOOD_SHARE, Heard, Stated, best_layout, decode
from calib.link.health import GARBAGE_SHARE, unprintable
from calib.link.spool import Chunk
from calib.link.transport import Now, Transport
from calib.store.text import neutral

RATES = (
    115200, 9600, 57600, 38400, 19200, 230400, 250000, 500000, 921600, 1000000, 460800,
    2000000, 4800, 2400, 76800, 128000, 1200, 14400, 28800,
)  # fmt: skip
"""Bits a second, the usual ones of loggers first; common practice, no source. No two are within
4 per cent, at which either decodes."""

BOOT_S = 3.5
"""Wait for the first byte: own choice; a board that restarts when its port is opened is silent for
up to two seconds."""

SILENT_S = 1.2
"""Wait for a byte at each further rate: own choice, for a logger of one line a second."""

DWELL_S = 2.5
"""Longest stay at one rate while what comes is neither text nor garbage for sure: own choice, two
lines of a logger of one line a second."""

SETTLE_S = 0.06
"""Time after a change of rate whose bytes may still be of the last one: own choice."""

ENOUGH_SAMPLES = 8
"""Samples in one layout that settle a rate: own choice, because garbage was seen to make one."""

GARBAGE_BYTES = 200
"""Bytes after which a rate with garbage is left: own choice, some five lines."""

TRY_BYTES = 2**16
"""Bytes kept of one try: own choice, enough for any layout."""

LOOK_S = 0.2
"""Time between two tries to decode: own choice."""

CLOSED_S = 0.3
"""Time for which the port stays closed before it is opened once more: own choice, long enough for
a board to see that its line was dropped."""


Tell = Callable[[int], None]
"""Is called with each rate that is tried."""


class Wire(Protocol):
    """An open line that is only listened to."""

    def read(self) -> bytes:
        """What has come; nothing where nothing came for a short while."""

    def set_baud(self, baud: int) -> None:
        """Change the rate."""


@dataclass(slots=True)
class Tried:
    """One rate that is listened at.

    Attributes:
        baud: Bits a second.
        received: Bytes that came.
        unprintable: Those of them that no text has.
        heard: What decodes; None where nothing does.
        chunks: Those bytes that were kept, untrusted.
    """

    baud: int
    received: int = 0
    unprintable: int = 0
    heard: Heard | None = None
    chunks: list[Chunk] = field(default_factory=list)

    @property
    def garbled(self) -> bool:
        """Whether what came speaks for another rate."""
        return self.unprintable > GARBAGE_SHARE * self.received

    @property
    def merit(self) -> float:
        """How much was understood, 0 to 1; two samples at least."""
        return 0.0 if self.heard is None or self.heard.samples < 2 else self.heard.share

    @property
    def is_clear(self) -> bool:
        """Whether no more need be heard at this rate."""
        if self.heard is not None and self.heard.samples >= ENOUGH_SAMPLES:
            return self.merit >= GOOD_SHARE
        return self.received >= GARBAGE_BYTES and self.garbled

    def take(self, data: bytes, now_s: float) -> None:
        """Bytes came."""
        self.received += len(data)
        self.unprintable += unprintable(data)
        if self.received <= TRY_BYTES:
            self.chunks.append(Chunk(data, now_s))


@dataclass(frozen=True, slots=True)
class RateFound:
    """The rate at which most was understood.

    Attributes:
        best: That rate.
        heard: What the layout made of what came at it.
        tried: All that were listened at, in order.
    """

    best: Tried
    heard: Heard
    tried: tuple[Tried, ...]


def listen_to(
    port: str,
    rates: Sequence[int],
    stated: Stated,
    *,
    listen_s: float,
    clock: Now,
    tell: Tell,
    pause: Callable[[float], None] = time.sleep,
) -> RateFound:
    """Open one port, find its rate, and listen on at it; no other port is opened.

    A board that restarts when its port is opened sends its header then. Where the first rate that
    was tried was a wrong one, that header was lost, so the port is opened once more.

    Args:
        port: Any pyserial URL.
        rates: Rates to try, in order.
        stated: What is known of the lines.
        listen_s: How long to listen once the rate is known, in s.
        clock: A steady clock, in s.
        tell: Is called with each rate that is tried.
        pause: Waits for so many seconds.

    Raises:
        PortError: It cannot be opened, is silent, sends nothing that decodes, or has gone.
    """
    with Transport(port, rates[0]) as wire:
        found = find_rate(wire, rates, stated, port=port, clock=clock, tell=tell)
        chunks = [*found.best.chunks, *_more(wire, listen_s, clock)]
        heard = decode(found.heard.link, chunks, whole_start=False)
    if heard.names is None and len(found.tried) > 1:
        pause(CLOSED_S)
        with Transport(port, found.best.baud) as wire:
            chunks = _more(wire, listen_s, clock)
        afresh = decode(found.heard.link, chunks, whole_start=False)
        heard = afresh if afresh.names is not None else heard
    return replace(found, heard=heard)


def find_rate(
    wire: Wire, rates: Sequence[int], stated: Stated, *, port: str, clock: Now, tell: Tell
) -> RateFound:
    """Listen at one rate after the other; nothing is sent.

    Args:
        wire: The open line, at the first of ``rates``.
        rates: Bits a second, in the order of trying.
        stated: What is known of the lines.
        port: As given, for the words.
        clock: A steady clock, in s.
        tell: Is called with each rate that is tried.

    Raises:
        PortError: Nothing came at any rate, nothing that decodes, or the line has gone.
    """
    tried: list[Tried] = []
    for baud in rates:
        try:
            if tried:
                wire.set_baud(baud)
        except PortError:  # the port cannot do this one
            continue
        tell(baud)
        tried.append(_listen(wire, baud, stated, clock, first=not tried))
        if tried[-1].merit >= GOOD_SHARE:
            break
    best = max(tried, key=lambda each: each.merit)
    if best.heard is None or best.merit <= 0.0:
        wire.read()  # says so where the line has gone
        raise _nothing(port, tried)
    if best is not tried[-1]:
        wire.set_baud(best.baud)
    return RateFound(best, best.heard, tuple(tried))


def _listen(wire: Wire, baud: int, stated: Stated, clock: Now, *, first: bool) -> Tried:
    """Listen at one rate until it is clear whether it is the right one."""
    tried = Tried(baud)
    start_s = looked_s = clock()
    while True:
        data = wire.read()
        now_s = clock()
        if data and (first or now_s - start_s >= SETTLE_S):
            tried.take(data, now_s)
        if now_s - looked_s >= LOOK_S:
            looked_s = now_s
            if tried.chunks:
                tried.heard = best_layout(tried.chunks, stated, whole_start=False)
        if tried.is_clear or now_s - start_s >= _patience_s(tried, first=first):
            return tried


def _patience_s(tried: Tried, *, first: bool) -> float:
    """How long to stay at a rate that is not clear, in s."""
    if tried.received:
        return DWELL_S + (BOOT_S if first else 0.0)
    return BOOT_S if first else SILENT_S


def _nothing(port: str, tried: Sequence[Tried]) -> PortError:
    """What to say where no rate gave anything usable."""
    name = neutral(port)
    rates = ", ".join(str(each.baud) for each in tried)
    if not any(each.received for each in tried):
        return PortError.of("silent-at-every-rate", name=name, rates=rates)
    clean = [each for each in tried if each.received and not each.garbled]
    if clean:
        text = neutral(clean[0].chunks[-1].data[-60:], 60)
        return PortError.of("text-without-layout", name=name, baud=clean[0].baud, text=text)
    return PortError.of("garbage-at-every-rate", name=name, rates=rates)


def _more(wire: Wire, listen_s: float, clock: Now) -> list[Chunk]:
    """What comes in a time that begins with the first byte, or after the wait for a board."""
    chunks: list[Chunk] = []
    start_s = clock()
    while clock() - start_s < (listen_s if chunks else BOOT_S):
        if data := wire.read():
            chunks.append(Chunk(data, clock()))
            start_s = chunks[0].arrival_s
    return chunks
