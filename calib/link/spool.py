"""Bytes between the thread that reads the port and whoever decodes them: nothing is lost.

What memory should not hold goes to an unnamed file on disk and comes back in order.
"""

from __future__ import annotations

import struct
import tempfile
import threading
from collections import deque
from dataclasses import dataclass
from typing import IO

from calib.errors import PortError

MEMORY_BYTES = 8 * 2**20
"""Bytes held in memory at most: own choice, seven seconds of a full USB 2.0 full-speed line."""

TAKE_BYTES = 2**17
"""Bytes given out at once at most: own choice. A tenth of a second of a full line; after a stall,
larger blocks would hold the interpreter so long that the reader overruns."""

IDLE_BYTES = 2**16
"""Bytes kept while nobody listens: own choice."""

_HEAD = struct.Struct("<dI")


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes that one read gave.

    Args:
        data: As received.
        arrival_s: When, by the computer's monotonic clock, in s.
    """

    data: bytes
    arrival_s: float


class Spool:
    """A queue of chunks with bounded memory; one thread puts, another takes.

    Args:
        memory_bytes: Bytes held in memory; what is more goes to disk.
    """

    def __init__(self, memory_bytes: int = MEMORY_BYTES) -> None:
        """Start empty, with somebody listening."""
        self._memory_bytes = memory_bytes
        self._ready = threading.Condition()
        self._chunks: deque[Chunk] = deque()
        self._held = 0
        self._spill: IO[bytes] | None = None
        self._spill_read = self._spill_written = 0
        self._error: PortError | None = None
        self._listening = True
        self._lost = False

    def put(self, chunk: Chunk) -> None:
        """Add bytes at the end."""
        with self._ready:
            if not self._listening:
                self._keep_newest(chunk)
            elif self._spilled or self._held + len(chunk.data) > self._memory_bytes:
                self._to_disk(chunk)
            else:
                self._chunks.append(chunk)
                self._held += len(chunk.data)
            self._ready.notify()

    def fail(self, error: PortError) -> None:
        """No more bytes will come; take raises this once all that came before is taken."""
        with self._ready:
            self._error = error
            self._ready.notify()

    def take(self, wait_s: float) -> list[Chunk]:
        """Chunks in order, some TAKE_BYTES at most; none where none came within wait_s.

        Raises:
            PortError: The line has gone, and everything before that was taken.
        """
        with self._ready:
            self._ready.wait_for(lambda: self._chunks or self._spilled or self._error, wait_s)
            if not self._chunks and self._spill is not None:
                self._from_disk(self._spill)
            taken: list[Chunk] = []
            size = 0
            while self._chunks and size < TAKE_BYTES:
                taken.append(self._chunks.popleft())
                size += len(taken[-1].data)
            self._held -= size
            if not taken and self._error is not None:
                raise self._error
            return taken

    def lost(self) -> bool:
        """Whether bytes were lost since the last call: nobody listened, or the disk was full."""
        with self._ready:
            lost, self._lost = self._lost, False
            return lost

    def listen(self, *, on: bool) -> None:
        """Keep everything (on), or only the newest bytes while nobody wants them (off)."""
        with self._ready:
            if on and not self._listening:
                self._chunks.clear()
                self._held = 0
                self._lost = True
                if self._spill is not None:
                    self._empty(self._spill)
            self._listening = on

    def recover(self) -> None:
        """The line is back after it had failed."""
        with self._ready:
            self._error = None

    def close(self) -> None:
        """Give the disk back."""
        with self._ready:
            if self._spill is not None:
                self._spill.close()
                self._spill = None

    @property
    def _spilled(self) -> bool:
        return self._spill_written > self._spill_read

    def _keep_newest(self, chunk: Chunk) -> None:
        self._chunks.append(chunk)
        self._held += len(chunk.data)
        while self._held > IDLE_BYTES and len(self._chunks) > 1:
            self._held -= len(self._chunks.popleft().data)
            self._lost = True

    def _to_disk(self, chunk: Chunk) -> None:
        try:
            if self._spill is None:
                self._spill = tempfile.TemporaryFile(prefix="calib-")  # noqa: SIM115 (closed in close)
            self._spill.seek(self._spill_written)
            self._spill.write(_HEAD.pack(chunk.arrival_s, len(chunk.data)) + chunk.data)
            self._spill.flush()
        except OSError:
            self._lost = True
            return
        self._spill_written += _HEAD.size + len(chunk.data)

    def _from_disk(self, spill: IO[bytes]) -> None:
        spill.seek(self._spill_read)
        while self._spilled and self._held < TAKE_BYTES:
            arrival_s, size = _HEAD.unpack(spill.read(_HEAD.size))
            self._chunks.append(Chunk(spill.read(size), arrival_s))
            self._spill_read += _HEAD.size + size
            self._held += size
        if not self._spilled:
            self._empty(spill)

    def _empty(self, spill: IO[bytes]) -> None:
        spill.seek(0)
        spill.truncate()
        self._spill_read = self._spill_written = 0
