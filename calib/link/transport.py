"""The one place where pyserial is opened, read and written, and its errors made ours."""

from __future__ import annotations

import errno
import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Final, Protocol

import serial

from calib.errors import PortError, UsageError
from calib.link.ports import group_of, holders
from calib.store.text import neutral

try:
    from termios import error as termios_error
except ImportError:  # not on Windows
    termios_error = OSError  # type: ignore[assignment,misc]

READ_WAIT_S: Final = 0.05
"""Longest wait of one read: own choice, short enough to stop a reader without being noticed."""

SCHEMES: Final = ("socket://", "rfc2217://", "loop://")
"""URLs that are opened, beside names of devices. Others of pyserial's write files, open a port that
was not named, or load code by name; a rig file may come from anybody."""

MOST_AT_ONCE_BYTES: Final = 65536
"""Most that is taken from a socket at once: own choice."""

WRITE_WAIT_S: Final = 1.0
"""Longest wait for a query to be taken: own choice."""

LINE_ERRORS: Final = (
    OSError,  # serial.SerialException is one
    termios_error,  # is not one: flush and reset_input_buffer on a port that has gone
    TypeError,  # in_waiting after close
    ValueError,  # an unknown URL scheme, a rate that the port refuses
)
"""Everything that pyserial and the system were seen to raise on a serial line."""


_BUSY: Final = (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK, errno.EACCES)
"""No access is no permission where ports have groups, and is told before; Windows says no access
where another program has the port."""

_WINDOWS_ERROR: Final = re.compile(r"Error\(\d+, .*, None, (\d+)\)")
"""Windows' own number of an error, which pyserial gives as text alone."""
_WINDOWS: Final = {
    2: errno.ENOENT, 3: errno.ENOENT, 5: errno.EBUSY, 31: errno.ENODEV, 32: errno.EBUSY,
    170: errno.EBUSY, 433: errno.ENODEV, 1167: errno.ENODEV,
}  # fmt: skip
"""Source: Microsoft, System Error Codes: file or path not found, access denied (another program has
the port), device not functioning, sharing violation, in use, no such device, not connected."""


Now = Callable[[], float]
"""Tells the time by a steady clock, in s."""


class Source(Protocol):
    """Where bytes come from: a serial line, or a poller that makes lines of answers."""

    def read(self) -> bytes:
        """What has come; nothing where nothing came for a short while."""

    def close(self) -> None:
        """Let go of it."""


class Transport(AbstractContextManager["Transport"]):
    """An open serial line. Use it as a context manager.

    Args:
        port: The name of a device, or a URL that begins with one of SCHEMES.
        baud: Bits a second.

    Raises:
        UsageError: It is another kind of URL; nothing was opened.
        PortError: It cannot be opened.
    """

    def __init__(self, port: str, baud: int) -> None:
        """Open it, exclusively where the system can do that."""
        if "://" in port and not port.lower().startswith(SCHEMES):
            raise UsageError.of("address-unknown", port=neutral(port), schemes=", ".join(SCHEMES))
        self.port = port
        try:
            self._line = serial.serial_for_url(
                port, baudrate=baud, timeout=READ_WAIT_S, write_timeout=WRITE_WAIT_S,
                do_not_open=True,
            )  # fmt: skip
            self._line.exclusive = True
            self._line.open()
        except LINE_ERRORS as error:
            raise port_error(error, port) from error
        # An exclusive opening keeps out only those who ask for one too.
        if (shared := shared_port_error(port)) is not None:
            self.close()
            raise shared

    def read(self) -> bytes:
        """What has come, at least one byte unless READ_WAIT_S passed without any.

        It asks for what is waiting, because a longer read loses what it holds when the line goes.

        Raises:
            PortError: The line has gone.
        """
        with self._as_port_error():
            if self.port.lower().startswith("socket://"):
                return self._read_socket()
            return bytes(self._line.read(self._line.in_waiting or 1))

    def _read_socket(self) -> bytes:
        """The same from a socket, which does not tell how much is waiting."""
        first = bytes(self._line.read(1))
        if not first:
            return first
        self._line.timeout = 0
        try:
            return first + bytes(self._line.read(MOST_AT_ONCE_BYTES))
        except LINE_ERRORS:  # it has gone: the next call says so
            return first
        finally:
            self._line.timeout = READ_WAIT_S

    def write(self, query: bytes) -> None:
        """Send a query to an instrument that the rig file declares as polled; nothing else does.

        Raises:
            PortError: The line has gone, or takes nothing.
        """
        with self._as_port_error():
            self._line.write(query)

    def set_baud(self, baud: int) -> None:
        """Change the rate of the open line.

        Raises:
            PortError: The port refuses it.
        """
        with self._as_port_error():
            self._line.baudrate = baud

    def close(self) -> None:
        """Close it; a second call does nothing."""
        with self._as_port_error():
            self._line.close()

    def __exit__(self, *raised: object) -> None:
        """Close it, whatever happened."""
        self.close()

    @contextmanager
    def _as_port_error(self) -> Iterator[None]:
        """What the open line raises, told as ours."""
        try:
            yield
        except LINE_ERRORS as error:
            raise port_error(error, self.port, opened=True) from error


def look_at(port: str) -> None:
    """Refuse a port that is missing or in use, without opening it: that may restart the board.

    Raises:
        PortError: So it is. Nothing is said of a URL, nor where the system cannot be asked.
    """
    if not port.startswith("/"):
        return
    if not Path(port).exists():
        raise port_error(FileNotFoundError(errno.ENOENT, "no such file", port), port)
    if (shared := shared_port_error(port)) is not None:
        raise shared


def port_error(error: BaseException, port: str, *, opened: bool = False) -> PortError:
    """What a lower error on a serial line means, and what to do: the only such mapping.

    Args:
        error: Any of LINE_ERRORS.
        port: The port, as given.
        opened: Whether it had been open: then it is the cable, not the name.
    """
    told = _WINDOWS_ERROR.search(str(error))
    number = getattr(error, "errno", None) or (told and _WINDOWS.get(int(told[1])))
    name = neutral(port)
    if opened:
        return shared_port_error(port) or PortError.of("port-gone", name=name)
    if number in (errno.EACCES, errno.EPERM):
        if (group := group_of(port)) is not None:
            return PortError.of("port-of-a-group", name=name, group=group)
        return PortError.of("port-forbidden", name=name)
    if number in _BUSY or "exclusively lock" in str(error):
        users = holders(port)
        by = f": {', '.join(users)} has it open" if users else ""
        return PortError.of("port-busy", name=name, by=by)
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return PortError.of("no-such-port", name=name)
    return PortError.of("port-not-opened", name=name, error=neutral(str(error), 120))


def shared_port_error(port: str) -> PortError | None:
    """Two programs on one port: which is the other; None where this one has it alone."""
    users = ", ".join(holders(port))
    return PortError.of("port-shared", port=neutral(port), users=users) if users else None
