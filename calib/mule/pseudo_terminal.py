"""The bench's end of a pseudo-terminal: what opens the other end finds a serial port there."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import struct
import sys
import tty
from typing import Final

TCGETS2: Final = 0x802C542A  # Linux, the request that tells the other end's speed in bit/s
TERMIOS2_BYTES: Final = 44


class PseudoTerminal:
    """A raw pseudo-terminal; a hang-up says that nobody has its other end open."""

    def __init__(self) -> None:
        """Make it."""
        self._master, other_end = pty.openpty()
        tty.setraw(other_end)
        os.set_blocking(self._master, False)
        self.path = os.ttyname(other_end)
        os.close(other_end)

    def is_open(self) -> bool:
        """Whether somebody has the port open; what is sent to the bench is thrown away."""
        poll = select.poll()
        poll.register(self._master, select.POLLIN)
        events = dict(poll.poll(0)).get(self._master, 0)
        if events & select.POLLIN:
            try:
                os.read(self._master, 4096)
            except OSError:  # closed this very moment
                return False
        return not events & select.POLLHUP

    def opened(self) -> None:
        """Take back what the last who had it open may have set."""
        tty.setraw(self._master)

    def baud(self) -> int | None:
        """The speed in bit/s that the other end has set; None where that cannot be asked."""
        if sys.platform != "linux":
            return None
        told = fcntl.ioctl(self._master, TCGETS2, bytes(TERMIOS2_BYTES))
        return int(struct.unpack("=4I B 19B 2I", told)[-1])

    def write(self, data: bytes | bytearray) -> int:
        """Send what fits; how many bytes that were.

        Raises:
            OSError: None fits now.
        """
        return os.write(self._master, data)

    def close(self) -> None:
        """Pull the cable."""
        os.close(self._master)
