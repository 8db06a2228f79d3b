from __future__ import annotations

import errno
import os
import subprocess
import sys
import termios
from pathlib import Path

import pytest
import serial

from calib.errors import PortError
from calib.link import transport
from calib.link.ports import holders, known_ports
from calib.link.transport import Transport, port_error
from tests.feeder import UNPLUG, Feeder
from tests.tools import needs_posix

LOWER = [
    serial.SerialException("device reports readiness to read but returned no data"),
    serial.PortNotOpenError(),
    OSError(errno.EIO, "Input/output error"),
    termios.error(5, "Input/output error"),
    TypeError("an integer is required"),
    ValueError("invalid URL, protocol 'x' not known"),
]


@needs_posix
@pytest.mark.parametrize("error", LOWER, ids=lambda error: type(error).__name__)
@pytest.mark.parametrize("opened", [False, True])
def test_every_lower_error_is_mapped(error: Exception, opened: bool) -> None:
    """Whatever pyserial, the terminal or the system raises becomes ours, with what to do."""
    assert isinstance(error, transport.LINE_ERRORS)
    ours = port_error(error, "/dev/nowhere", opened=opened)
    assert ours.exit_code == 3
    assert ours.what.startswith("Port /dev/nowhere: ")
    assert ours.hint


def test_a_port_that_is_not_there(tmp_path: Path) -> None:
    """Missing: 'calib ports' is named."""
    with pytest.raises(PortError, match=r"there is no such port.*calib ports"):
        Transport(str(tmp_path / "ttyNone"), 115200)


def test_no_permission_names_the_group(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The group of the port is named, and how to join it (this may run as root: fake the errno)."""
    port = tmp_path / "ttyACM0"
    port.touch()
    monkeypatch.setattr(transport, "group_of", lambda _: "dialout")
    error = port_error(serial.SerialException(errno.EACCES, "could not open port"), str(port))
    assert "no permission" in error.what
    assert "usermod -aG dialout $USER" in error.hint


def windows_error(kind: str, number: int, text: str, code: int) -> serial.SerialException:
    """What pyserial raises on Windows: its own sentence around what ctypes.WinError shows.

    Source: serial/serialwin32.py of pyserial 3.5, Serial.open.
    """
    shown = f"{kind}({number}, {text!r}, None, {code})"
    return serial.SerialException(f"could not open port 'COM7': {shown}")


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (
            windows_error("FileNotFoundError", 2, "The system cannot find the file specified.", 2),
            "there is no such port",
        ),
        (windows_error("PermissionError", 13, "Access is denied.", 5), "busy"),
        (windows_error("PermissionError", 13, "Zugriff verweigert", 5), "busy"),
        (windows_error("OSError", 22, "The requested resource is in use.", 170), "busy"),
        (
            windows_error("OSError", 22, "A device which does not exist was specified.", 433),
            "there is no such port",
        ),
        (
            windows_error("OSError", 22, "The semaphore timeout period has expired.", 121),
            "cannot be opened",
        ),
    ],
)
def test_windows_ports_get_the_same_words(error: Exception, words: str) -> None:
    """Missing and busy COM ports are told as on Linux, in whatever language Windows speaks.

    Source: Microsoft, System Error Codes 2, 5, 121, 170 and 433.
    """
    assert words in port_error(error, "COM7").what


@pytest.mark.parametrize("call", ["ClearCommError", "ReadFile", "GetOverlappedResult"])
def test_a_logger_that_goes_on_windows_is_told_as_one(call: str) -> None:
    """What Windows calls a denied access on an open port is an unplugged logger."""
    error = serial.SerialException(f"{call} failed (PermissionError(13, 'Denied', None, 5))")
    assert "has gone" in port_error(error, "COM7", opened=True).what


@needs_posix
def test_a_port_in_use_tells_by_whom() -> None:
    """Opened exclusively elsewhere: busy, and the program is named with its number."""
    with Feeder([]) as feeder:
        hold = (
            "import serial, sys; p = serial.Serial(sys.argv[1], exclusive=True); "
            "print('open', flush=True); sys.stdin.read()"
        )
        with subprocess.Popen(
            [sys.executable, "-c", hold, feeder.path], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        ) as other:
            assert other.stdout is not None
            assert other.stdout.readline() == b"open\n"
            assert any(str(other.pid) in user for user in holders(feeder.path))
            with pytest.raises(PortError, match=rf"busy: python.*\(process {other.pid}\)"):
                Transport(feeder.path, 115200)
            other.communicate()
        with Transport(feeder.path, 115200):
            pass


def test_a_line_that_goes_while_reading() -> None:
    """Every byte before the unplugging is read; then it is told as an unplugging."""
    with Feeder([b"1,2\n" * 10, UNPLUG]) as feeder, Transport(feeder.path, 115200) as line:
        reads: list[bytes] = []
        with pytest.raises(PortError, match="has gone: unplugged"):
            reads.extend(iter(line.read, None))
    assert b"".join(reads) == b"1,2\n" * 10


@needs_posix
def test_two_readers_are_told_apart_from_an_unplugging() -> None:
    """When another program has the port too, the same error means that it takes our bytes."""
    with Feeder([]) as feeder:
        steal = (
            "import os, sys; fd = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY); "
            "print('open', flush=True); sys.stdin.read()"
        )
        with subprocess.Popen(
            [sys.executable, "-c", steal, feeder.path],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        ) as other:
            assert other.stdout is not None
            other.stdout.readline()
            error = port_error(serial.SerialException("returned no data"), feeder.path, opened=True)
            assert f"(process {other.pid})" in error.what
            with pytest.raises(PortError, match=rf"reads it too: python.*\(process {other.pid}"):
                Transport(feeder.path, 115200)
            other.communicate()


def test_listing_ports_opens_none() -> None:
    """The list comes from the system's tables; no device file is opened for it."""
    before = set(os.listdir("/proc/self/fd"))  # noqa: PTH208 (names are wanted)
    known_ports()
    assert set(os.listdir("/proc/self/fd")) == before  # noqa: PTH208 (names are wanted)


@pytest.mark.parametrize(
    ("code", "words"),
    [(2, "no such port"), (3, "no such port"), (31, "no such port"), (433, "no such port"),
     (1167, "no such port"), (5, "busy"), (32, "busy"), (170, "busy"), (4, "cannot be opened"),
     (33, "cannot be opened"), (1168, "cannot be opened")],
)  # fmt: skip
def test_each_number_of_windows_has_its_words(code: int, words: str) -> None:
    """Source: Microsoft, System Error Codes; one that is not among ours is shown as it came."""
    assert words in port_error(windows_error("OSError", 22, "Text.", code), "COM7").what


@pytest.mark.parametrize(
    ("number", "words"),
    [(errno.EACCES, "no permission"), (errno.EPERM, "no permission"), (errno.EBUSY, "busy."),
     (errno.EAGAIN, "busy."), (errno.ENOENT, "no such port"), (errno.ENODEV, "no such port"),
     (errno.ENXIO, "no such port"), (errno.EIO, "cannot be opened: ")],
)  # fmt: skip
def test_each_number_of_the_system_has_its_words(number: int, words: str) -> None:
    """Whichever error carries it; behind a port that was open it is the cable."""
    assert words in port_error(OSError(number, "x"), "/dev/nowhere").what
    assert words in port_error(serial.SerialException(number, "x"), "/dev/nowhere").what
    assert "has gone" in port_error(OSError(number, "x"), "/dev/nowhere", opened=True).what


def test_a_port_that_others_locked_is_busy_without_a_number() -> None:
    """The serial library says it in words alone."""
    error = serial.SerialException("Could not exclusively lock port /dev/nowhere: x")
    assert "busy" in port_error(error, "/dev/nowhere").what


def test_a_port_without_a_known_group_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system knows no groups there is no command to give."""
    monkeypatch.setattr(transport, "group_of", lambda _: None)
    hint = port_error(OSError(errno.EACCES, "x"), "/dev/nowhere").hint
    assert hint == "Ask for the right to use it, then try again."


def test_a_port_is_looked_at_without_opening_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A missing one and one in use are refused; of an address nothing is said."""
    port = tmp_path / "ttyACM0"
    with pytest.raises(PortError, match="there is no such port"):
        transport.look_at(str(port))
    port.touch()
    transport.look_at(str(port))
    transport.look_at("socket://nowhere:1")
    transport.look_at("COM7")
    monkeypatch.setattr(transport, "holders", lambda _: ("monitor (process 7)", "x (process 8)"))
    with pytest.raises(PortError, match=r"reads it too: monitor \(process 7\), x \(process 8\)"):
        transport.look_at(str(port))
    assert "busy: monitor (process 7), x (process 8) has it open" in (
        port_error(OSError(errno.EBUSY, "x"), str(port)).what
    )


class Socket:
    """A line that keeps what it was asked, and gives back what is scripted."""

    def __init__(self, *pieces: bytes | Exception) -> None:
        """Nothing was asked yet."""
        self.pieces = list(pieces)
        self.asked: list[tuple[int, float]] = []
        self.options: dict[str, object] = {}
        self.timeout = 0.05
        self.in_waiting = 0
        self.exclusive = False

    def read(self, most: int) -> bytes:
        """The next piece."""
        self.asked.append((most, self.timeout))
        piece = self.pieces.pop(0)
        if isinstance(piece, Exception):
            raise piece
        return piece

    def open(self) -> None:
        """As a port is opened."""

    def close(self) -> None:
        """As a port is closed."""


def opened(patch: pytest.MonkeyPatch, line: Socket, port: str) -> Transport:
    """A transport over a line of ours."""

    def made(name: str, **options: object) -> Socket:
        line.options = options | {"name": name}
        return line

    patch.setattr(serial, "serial_for_url", made)
    return Transport(port, 9600)


def test_a_port_is_opened_for_itself_and_with_short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    """A twentieth of a second for what comes, a second for what goes; nothing before it is set."""
    line = Socket()
    opened(monkeypatch, line, "/dev/nowhere")
    assert line.options == {
        "name": "/dev/nowhere", "baudrate": 9600, "timeout": 0.05, "write_timeout": 1.0,
        "do_not_open": True,
    }  # fmt: skip
    assert line.exclusive


@pytest.mark.parametrize(("waiting", "asked"), [(0, 1), (1, 1), (700, 700)])
def test_a_port_is_read_by_what_waits_in_it(
    monkeypatch: pytest.MonkeyPatch, waiting: int, asked: int
) -> None:
    """At least one byte, which is waited for."""
    line = Socket(b"x")
    line.in_waiting = waiting
    assert opened(monkeypatch, line, "/dev/nowhere").read() == b"x"
    assert line.asked == [(asked, 0.05)]


def test_a_socket_gives_its_first_byte_and_then_what_is_there(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Up to 64 kB, without a wait; if it goes meanwhile, the next call says so."""
    line = Socket(b"a", b"bc", b"", b"d", OSError(errno.EIO, "gone"), OSError(errno.EIO, "gone"))
    wire = opened(monkeypatch, line, "SOCKET://nowhere:1")
    assert [wire.read(), wire.read(), wire.read()] == [b"abc", b"", b"d"]
    assert line.asked == [(1, 0.05), (65536, 0), (1, 0.05), (1, 0.05), (65536, 0)]
    with pytest.raises(PortError, match="has gone"):
        wire.read()
