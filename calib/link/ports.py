"""The serial ports of this computer: what the system knows of them, and who has them open."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from calib.store.text import neutral

try:
    from grp import getgrgid
except ImportError:  # not on Windows
    getgrgid = None  # type: ignore[assignment]

PROC = Path("/proc")


@dataclass(frozen=True, slots=True)
class UsbIdentity:
    """By which a USB device is known again under another name.

    Attributes:
        vendor: USB vendor number.
        product: USB product number.
        serial: Serial number; None where the device has none.
        location: Place in the tree of hubs, which serves where there is no serial number; None
            where there is one.
    """

    vendor: int
    product: int
    serial: str | None
    location: str | None

    @property
    def text(self) -> str:
        """Vendor, product and serial number, in whatever socket it is; neutral."""
        return neutral(f"{self.vendor:04x}:{self.product:04x} {self.serial or ''}".strip(), 80)


@dataclass(frozen=True, slots=True)
class Port:
    """One serial port; every text is neutral.

    Attributes:
        path: Its name, to be given to ``--port``.
        description: What the system calls it.
        maker: Who made it, by its own word.
        identity: Of the USB device behind it; None where there is none.
        users: Programs of this user that have it open.
    """

    path: str
    description: str
    maker: str
    identity: UsbIdentity | None
    users: tuple[str, ...]


def known_ports() -> list[Port]:
    """Every serial port that the system lists, USB devices first; none is opened."""
    found = [
        Port(
            path=info.device,
            description=neutral(_described(info), 40),
            maker=neutral(info.manufacturer or "", 30),
            identity=_identity(info),
            users=holders(info.device),
        )
        for info in list_ports.comports()
    ]
    return sorted(found, key=lambda port: (port.identity is None, port.path))


def _described(info: ListPortInfo) -> str:
    """What the system calls it; empty where it has no name but the port's own."""
    words = info.product or info.description or ""
    return "" if words in ("n/a", info.name) else words


def _identity(info: ListPortInfo) -> UsbIdentity | None:
    if info.vid is None or info.pid is None:
        return None
    location = info.location if info.serial_number is None else None
    return UsbIdentity(info.vid, info.pid, info.serial_number, location)


def identity_of(path: str) -> UsbIdentity | None:
    """The USB device behind a port, None where there is none."""
    names = (path, os.path.realpath(path))
    found = (_identity(info) for info in list_ports.comports() if info.device in names)
    return next(found, None)


def find_again(identity: UsbIdentity) -> str | None:
    """The port that a USB device has now; None while it is unplugged or cannot be told apart."""
    same = [info.device for info in list_ports.comports() if _identity(info) == identity]
    return same[0] if len(same) == 1 else None


def holders(path: str, proc: Path = PROC) -> tuple[str, ...]:
    """Programs, this one left out, that have a port open, as ``name (process N)``.

    Only processes that this user may look into are seen, and only where there is a /proc.
    """
    real, own = os.path.realpath(path), str(os.getpid())
    found = (each for each in proc.glob("[0-9]*") if each.name != own and _has_open(each, real))
    return tuple(sorted(f"{_name_of(each)} (process {each.name})" for each in found))


def _has_open(process: Path, real: str) -> bool:
    try:
        with os.scandir(process / "fd") as entries:
            return any(os.readlink(entry) == real for entry in entries)  # noqa: PTH115 (a Path for each of thousands costs more than all the rest)
    except OSError:
        return False


def _name_of(process: Path) -> str:
    """How it was called, since many are run by an interpreter whose name says nothing."""
    try:
        words = (process / "cmdline").read_bytes().split(b"\0")
    except OSError:
        return "a program"
    words[0] = words[0].rpartition(b"/")[2]
    return neutral(b" ".join(words).strip() or b"a program", 40)


def group_of(port: str) -> str | None:
    """The group that may use a port, where there are groups and it has a name."""
    try:
        return getgrgid(Path(port).stat().st_gid).gr_name
    except (OSError, KeyError, TypeError):
        return None
