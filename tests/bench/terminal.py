"""Pseudo-terminals for benchmarks: a port that a device feeds, and a screen that is read."""

from __future__ import annotations

import fcntl
import os
import select
import struct
import subprocess
import sys
import termios
import threading
import time
import tty
from collections.abc import Callable
from pathlib import Path

from tests.tools import REPOSITORY

ROWS, COLUMNS = 24, 80


class Port:
    """A raw pseudo-terminal to be fed; the other end is closed until somebody opens it."""

    def __init__(self) -> None:
        """Make it."""
        self.master, slave = os.openpty()
        tty.setraw(slave)
        self.path = os.ttyname(slave)
        os.close(slave)

    def wait_until_open(self, timeout_s: float = 30.0) -> None:
        """Wait until somebody has opened the port."""
        deadline_s = time.monotonic() + timeout_s
        while time.monotonic() < deadline_s:
            if self.opened():
                return
            time.sleep(0.01)
        message = "nobody opened the port"
        raise TimeoutError(message)

    def opened(self) -> bool:
        """Whether somebody has the other end open."""
        poll = select.poll()
        poll.register(self.master, select.POLLOUT)
        return not dict(poll.poll(0)).get(self.master, 0) & select.POLLHUP

    def close(self) -> None:
        """Unplug it; what nobody has read yet is dropped."""
        os.close(self.master)


def never_waiting() -> Port:
    """A port whose device never waits: what is not taken at once raises BlockingIOError."""
    port = Port()
    os.set_blocking(port.master, False)
    return port


class Screen:
    """``calib`` on a terminal of 80 by 24 whose output is read as it comes.

    Args:
        arguments: What follows the program's name.
        cwd: Where it runs.
        saw: Called with the moment (monotonic, s) and the bytes of every read.
    """

    def __init__(
        self, arguments: list[str], cwd: Path, saw: Callable[[float, bytes], None]
    ) -> None:
        """Start it."""
        self._master, slave = os.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        self.process = subprocess.Popen(
            [sys.executable, "-m", "calib", *arguments],
            cwd=cwd,
            env=os.environ | {"PYTHONPATH": str(REPOSITORY), "TERM": "xterm-256color"},
            stdin=slave,
            stdout=slave,
            stderr=slave,
        )
        os.close(slave)
        self._saw = saw
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def rss_bytes(self) -> int:
        """Memory that the process holds now."""
        pages = Path(f"/proc/{self.process.pid}/statm").read_text(encoding="ascii").split()[1]
        return int(pages) * os.sysconf("SC_PAGE_SIZE")

    def end(self) -> None:
        """Interrupt it, and wait until it has ended."""
        self.process.send_signal(2)
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()

    def _read(self) -> None:
        while True:
            try:
                data = os.read(self._master, 65536)
            except OSError:
                return
            self._saw(time.monotonic(), data)
