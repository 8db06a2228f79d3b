"""The bench's end of a socket on this computer, where a system has no pseudo-terminals."""

from __future__ import annotations

import socket


class Loopback:
    """A socket on the loopback address that serves one listener at a time, as a port does."""

    def __init__(self) -> None:
        """Make it; only programs of this computer reach it."""
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.setblocking(False)
        self._line: socket.socket | None = None
        self.path = f"socket://127.0.0.1:{self._server.getsockname()[1]}"

    def is_open(self) -> bool:
        """Whether somebody has the port open; what is sent to the bench is thrown away."""
        if self._line is not None:
            try:
                if not self._line.recv(4096):
                    self._hang_up()
            except BlockingIOError:  # open, and nothing was sent
                pass
            except OSError:
                self._hang_up()
        try:
            line, _ = self._server.accept()
        except OSError:  # nobody knocks
            return self._line is not None
        if self._line is not None:
            line.close()
            return True
        line.setblocking(False)
        line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._line = line
        return True

    def opened(self) -> None:
        """Nothing is left of the last who had it open."""

    def baud(self) -> int | None:
        """A socket has no speed."""
        return None

    def write(self, data: bytes | bytearray) -> int:
        """Send what fits; how many bytes that were.

        Raises:
            OSError: None fits now, or nobody listens any more.
        """
        return 0 if self._line is None else self._line.send(data)

    def close(self) -> None:
        """Pull the cable."""
        self._hang_up()
        self._server.close()

    def _hang_up(self) -> None:
        if self._line is not None:
            self._line.close()
            self._line = None
