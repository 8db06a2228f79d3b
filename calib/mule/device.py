"""The simulated logger at its end of a line: sends lines, restarts when its port is opened."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from calib.mule.bench import Bench
from calib.mule.rigfile import columns_of
from calib.mule.sampler import Sampler
from calib.mule.stage import Stage

Act = Callable[[Stage], None]

TICK_S: Final = 0.01
BOOT_S: Final = 0.12  # after its port is opened a board starts anew, and is silent meanwhile
MOST_BEHIND_S: Final = 1.0  # what a tick makes up; a suspended computer's bench stood still
MOST_WAITING_BYTES: Final = 200_000  # what cannot be written by then is lost, as on a real line
SEEN_S: Final = 0.3  # what a bench that is looked at goes on for without a new look
UNSEEN_S: Final = 5.0  # without a look for so long nobody looks any more
MOST_UNREAD_BYTES: Final = 20_000  # what may wait for the reader of a bench that waits for it
KEEP_S: Final = 5.0  # bench time behind which tracks are forgotten
BAUD_SLACK: Final = 0.04  # a receiver this much off still reads right
BITS_PER_BYTE: Final = 10  # start, eight data bits with the lowest first, stop


def header_of(bench: Bench) -> str:
    """The line that names a bench's columns."""
    return ",".join(["t_ms", *columns_of(bench)]) + "\r\n"


class LineEnd(Protocol):
    """The logger's end of a line; ``PseudoTerminal`` and ``Loopback`` are such."""

    path: str

    def is_open(self) -> bool:
        """Whether somebody has the port open; what is sent to the logger is thrown away."""

    def opened(self) -> None:
        """Somebody has opened the port."""

    def baud(self) -> int | None:
        """The speed in bit/s at the other end; None where there is none, or it cannot be asked."""

    def write(self, data: bytes | bytearray) -> int:
        """Send what fits; how many bytes that were. Raises OSError where none fits."""

    def close(self) -> None:
        """Pull the cable."""


def line_end() -> LineEnd:
    """A pseudo-terminal, or a socket on the loopback address where the system has none."""
    try:
        from calib.mule.pseudo_terminal import PseudoTerminal
    except ImportError:  # Windows
        from calib.mule.loopback import Loopback

        return Loopback()
    return PseudoTerminal()


class Device:
    """A logger on a line of its own that runs in a thread of its own.

    Args:
        stage: The bench in motion.
        script: What the hands do, round after round; None keeps them off until `act` is called.
        speed: Seconds of bench time in one second; it may be changed while the bench runs.
        baud: Speed of its line in bit/s; another speed at the other end reads garbage. None
            behaves as a native USB port, which has no speed.
        seed: Draws the logger's noise.
    """

    def __init__(
        self,
        stage: Stage,
        *,
        script: Act | None = None,
        speed: float = 1.0,
        baud: int | None = None,
        seed: int = 0,
    ) -> None:
        """Make the line; nothing is sent before it is started and opened."""
        self._stage = stage
        self._sampler = Sampler(stage, seed)
        self._script = script
        self.speed = speed
        self._baud = baud
        self._acts: queue.Queue[Act] = queue.Queue()
        self._due_s = 0.0  # bench time that should have come by now
        self._seen_at_s: float | None = None  # when it was last looked at, by the wall clock
        self._until_s = 0.0  # bench time that it may reach until the next look
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self.run, name="mule", daemon=True)
        self._end = line_end()
        self.path = self._end.path
        self._waiting = bytearray()
        self._up_at_s: float | None = None  # when the board has started; None: port not open
        self._greeted = False
        self._zero_ms = 0

    @property
    def in_use(self) -> bool:
        """Whether somebody has the port open, as the device last saw it."""
        return self._up_at_s is not None

    def start(self) -> None:
        """Run in a thread."""
        self._thread.start()

    def stop(self) -> None:
        """End the thread and pull the cable."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()
        self._end.close()

    @property
    def now_s(self) -> float:
        """Bench time."""
        return self._sampler.now_s

    @property
    def hands_free(self) -> bool:
        """Whether everything that was asked for is done."""
        return not self._acts.unfinished_tasks and self._stage.cursor_s <= self._sampler.now_s

    def act(self, act: Act) -> None:
        """Have the hands do something as soon as they can, after what they are doing."""
        self._acts.put(act)

    def seen(self, looking: bool) -> None:
        """Somebody looked at what its logger sent: it goes on for a moment, and then waits.

        So a simulated person on a starved machine still sees what the hands have done.

        Args:
            looking: False where nobody looks any more: then it goes on by itself.
        """
        self._until_s = self._due_s + SEEN_S * self.speed
        self._seen_at_s = time.monotonic() if looking else None

    def run(self, for_s: float | None = None) -> None:
        """Serve the port until stopped, or for a time in s."""
        began_s = before_s = time.monotonic()
        while not self._stop.is_set():
            now_s = time.monotonic()
            if for_s is not None and now_s - began_s > for_s:
                return
            self._due_s = self._next_s(now_s, min(now_s - before_s, MOST_BEHIND_S) * self.speed)
            before_s = now_s
            self._tick(now_s)
            self._stop.wait(TICK_S)

    def _next_s(self, now_s: float, passed_s: float) -> float:
        """Bench time that should have come after some more of it has passed.

        A bench that is looked at, or runs quicker than a real one, waits for a reader that is slow.
        """
        due_s, seen_at_s = self._due_s + passed_s, self._seen_at_s
        looked_at = seen_at_s is not None and now_s - seen_at_s <= UNSEEN_S
        if len(self._waiting) > MOST_UNREAD_BYTES and (looked_at or self.speed > 1.0):
            return self._due_s
        return max(self._due_s, min(due_s, self._until_s)) if looked_at else due_s

    def _tick(self, now_s: float) -> None:
        """Move the bench on to now and send what its logger has sampled."""
        self._plan()
        samples = int((self._due_s - self._sampler.now_s) * self._stage.bench.logger.rate_hz)
        block = self._sampler.block(samples) if samples > 0 else None
        self._stage.forget(self._sampler.now_s - KEEP_S)
        if not self._heard(now_s):
            return
        if block is not None and len(block.t_ms):
            rows = np.column_stack([block.t_ms - self._zero_ms, block.counts]).tolist()
            self._send("".join(",".join(map(str, row)) + "\r\n" for row in rows))
        self._write()

    def _plan(self) -> None:
        """Plan what was asked for, or the script's next round when the last one runs out.

        The script waits until a board that somebody listens to is up: who opens the port sees its
        first round from its beginning, with the hands off.
        """
        while not self._acts.empty():
            self._stage.not_before(self._sampler.now_s)
            self._acts.get()(self._stage)
            self._acts.task_done()
        runs_out = self._stage.cursor_s < self._sampler.now_s + 1.0
        if self._script is not None and self._greeted and runs_out:
            self._stage.not_before(self._sampler.now_s)
            self._script(self._stage)

    def _heard(self, now_s: float) -> bool:
        """Whether somebody has the port open and the board is up; it restarts when opened."""
        if not self._end.is_open():
            self._up_at_s = None
            self._greeted = False
            self._waiting.clear()
            return False
        if self._up_at_s is None:
            self._up_at_s = now_s + BOOT_S
            self._end.opened()
        if now_s < self._up_at_s:
            self._zero_ms = round(1000.0 * self._sampler.now_s)
            return False
        if not self._greeted:
            self._greeted = True
            self._send(header_of(self._stage.bench))
        return True

    def _send(self, text: str) -> None:
        data = text.encode("ascii")
        other_baud = self._end.baud() if self._baud is not None else None
        if self._baud and other_baud and abs(other_baud / self._baud - 1.0) > BAUD_SLACK:
            data = heard(data, self._baud, other_baud)
        if len(self._waiting) + len(data) <= MOST_WAITING_BYTES:
            self._waiting += data

    def _write(self) -> None:
        with suppress(OSError):  # full, or closed this very moment: try again at the next tick
            del self._waiting[: self._end.write(self._waiting)]


def heard(sent: bytes, sent_baud: float, heard_baud: float) -> bytes:
    """The bytes that a receiver at another speed reads: mostly wrong ones beyond a few per cent.

    The receiver waits for a falling edge and samples each bit in its middle, by its own clock.
    """
    levels = _levels(sent)
    per_bit = sent_baud / heard_baud  # sent bits that pass during one bit of the receiver
    falling = np.flatnonzero((levels[:-1] == 1) & (levels[1:] == 0)) + 1
    out = bytearray()
    at = 0.0
    while True:
        place = int(np.searchsorted(falling, at))
        if place == len(falling):
            return bytes(out)
        start = float(falling[place])
        middles = start + per_bit * (np.arange(1, 9) + 0.5)
        index = np.minimum(middles.astype(np.int64), len(levels) - 1)
        out.append(int(np.packbits(levels[index], bitorder="little")[0]))
        at = start + per_bit * (BITS_PER_BYTE - 0.5)


def _levels(sent: bytes) -> NDArray[np.uint8]:
    """The line's level in each bit time, idle (high) before and after."""
    data = np.unpackbits(np.frombuffer(sent, dtype=np.uint8)[:, None], axis=1, bitorder="little")
    framed = np.pad(data, ((0, 0), (1, 1)), constant_values=(0, 1))  # a start, a stop
    return np.pad(framed.ravel(), BITS_PER_BYTE, constant_values=1)
