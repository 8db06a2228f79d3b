"""Listens to one port until it is known what its logger sends; sends nothing itself."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from calib.errors import NoDataError
from calib.link.detect.layout import LEAST_SHARE, Heard, Stated, decode, likeliest
from calib.link.detect.rate import BOOT_S, RateFound, Wire, find_rate
from calib.link.layouts.cleaning import fault_in
from calib.link.spool import Chunk
from calib.link.transport import Transport
from calib.store.files import refused_as

CLOSED_S = 0.3
"""Time for which the port stays closed before it is opened once more: own choice, long enough for
a board to see that its line was dropped."""

MOST_BYTES = 2**22
"""Bytes of a file that are looked at: own choice, an hour of an ordinary logger."""

TELLING_BYTES = 2**15
"""Bytes of a file by which its layout is told: own choice, some hundreds of lines."""


@dataclass(frozen=True, slots=True)
class Listened:
    """What a port was heard to send.

    Attributes:
        found: Its rate.
        heard: What the layout made of everything that came at that rate.
    """

    found: RateFound
    heard: Heard


def listen_to(
    port: str,
    rates: Sequence[int],
    stated: Stated,
    *,
    listen_s: float,
    clock: Callable[[], float],
    tell: Callable[[int], None],
    pause: Callable[[float], None] = time.sleep,
) -> Listened:
    """Open one port, find its rate, and listen on; no other port is opened.

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
    return Listened(found, heard)


def read_log(path: Path, stated: Stated) -> Heard:
    """What a text log holds.

    Raises:
        NoDataError: It cannot be read, or no layout fits it.
    """
    hint = "Name a text log with --from."
    with refused_as(NoDataError, f"{path} cannot be read", hint), path.open("rb") as file:
        data = file.read(MOST_BYTES)
    if not data.endswith((b"\n", b"\r", b"\0")):
        data += b"\n"  # the last line of a file ends with the file
    heard = likeliest([Chunk(data[:TELLING_BYTES], 0.0)], stated, whole_start=True)
    if len(data) > TELLING_BYTES:
        heard = decode(heard.link, [Chunk(data, 0.0)], whole_start=True)
    if heard.share < LEAST_SHARE or heard.samples < 2:
        raise NoDataError(
            f"No layout fits {path}{fault_in(heard.first_lost)}.",
            "It must be a log of numbers, one sample a line; --layout, --separator and --decimal "
            "state what cannot be found.",
        )
    return heard


def _more(wire: Wire, listen_s: float, clock: Callable[[], float]) -> list[Chunk]:
    """What comes in a time that begins with the first byte, or after the wait for a board."""
    chunks: list[Chunk] = []
    start_s = clock()
    while clock() - start_s < (listen_s if chunks else BOOT_S):
        data = wire.read()
        if data:
            now_s = clock()
            start_s = start_s if chunks else now_s
            chunks.append(Chunk(data, now_s))
    return chunks
