"""A scripted logger on a pseudo-terminal, for tests of the line."""

from __future__ import annotations

import os
import select
import threading
import time
import tty
from collections.abc import Iterable
from types import TracebackType
from typing import Self

UNPLUG = "unplug"
Step = bytes | float | str
"""Bytes to send, seconds to wait, or UNPLUG."""


class Feeder:
    """Plays a script once the port is opened; then stays silent, or unplugs itself.

    Args:
        script: Steps in order.
        start_s: Wait after the port was opened: opening drops what had already come.
    """

    def __init__(self, script: Iterable[Step], start_s: float = 0.05) -> None:
        """Make the pseudo-terminal raw and close its other end."""
        self._master, slave = os.openpty()
        tty.setraw(slave)
        self.path = os.ttyname(slave)
        os.close(slave)
        os.set_blocking(self._master, False)
        self._script = script
        self._start_s = start_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._play, daemon=True)
        self.sent = 0

    def __enter__(self) -> Self:
        """Start to wait for somebody who opens the port."""
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop, and close the pseudo-terminal."""
        self._stop.set()
        self._thread.join(5)
        if self._master >= 0:
            os.close(self._master)

    def opened(self) -> bool:
        """Whether somebody has the port open."""
        poll = select.poll()
        poll.register(self._master, select.POLLOUT)
        return not any(flags & select.POLLHUP for _, flags in poll.poll(0))

    def received(self) -> bytes:
        """What was sent to the logger since the last call."""
        try:
            return os.read(self._master, 4096)
        except OSError:  # nothing waits, or nobody has the port open any more
            return b""

    def _play(self) -> None:
        while not self.opened() and not self._stop.wait(0.005):
            pass
        self._stop.wait(self._start_s)
        for step in self._script:
            if self._stop.is_set():
                return
            if isinstance(step, bytes):
                self._send(step)
            elif isinstance(step, float):
                self._stop.wait(step)
            else:
                time.sleep(0.3)  # closing drops what nobody has read yet
                os.close(self._master)
                self._master = -1
                return

    def _send(self, data: bytes) -> None:
        while data and not self._stop.is_set():
            try:
                sent = os.write(self._master, data)
            except BlockingIOError:
                time.sleep(0.001)
                continue
            except OSError:  # nobody has the port open any more
                return
            self.sent += sent
            data = data[sent:]
