"""Which ports there are, how a device is known again, and who else has one open."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from calib.link.ports import (
    UsbIdentity,
    find_again,
    group_of,
    holders,
    identity_of,
    known_ports,
)

LOGGER = UsbIdentity(0x1209, 0x0001, "A1", None)
NUMBERLESS = UsbIdentity(0x1209, 0x0001, None, "1-2")


def device(path: str, identity: UsbIdentity | None = None) -> ListPortInfo:
    """A port as the system lists it."""
    info = ListPortInfo(path)
    info.device = path
    if identity is not None:
        info.vid, info.pid = identity.vendor, identity.product
        info.serial_number, info.location = identity.serial, identity.location
    return info


def listed(patch: pytest.MonkeyPatch, *infos: ListPortInfo) -> None:
    """These are the ports of this computer."""
    patch.setattr(list_ports, "comports", lambda: list(infos))


def test_ports_of_usb_devices_come_first_in_the_order_of_their_names(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A port without both numbers of USB has no identity."""
    half = device("/dev/none0")
    half.vid = 1
    other = device("/dev/none1")
    other.pid = 1
    listed(monkeypatch, half, device("/dev/none9", LOGGER), other, device("/dev/none5", NUMBERLESS))
    ports = known_ports()
    assert [port.path for port in ports] == [
        "/dev/none5", "/dev/none9", "/dev/none0", "/dev/none1",
    ]  # fmt: skip
    assert [port.identity for port in ports] == [NUMBERLESS, LOGGER, None, None]
    assert all(port.users == () for port in ports)


@pytest.mark.parametrize(
    ("product", "description", "shown"),
    [("Logger", "other", "Logger"), (None, "Bridge", "Bridge"), (None, "n/a", ""),
     (None, "none0", ""), (None, None, ""), ("P" * 50, None, "P" * 40 + "\u2026")],
)  # fmt: skip
def test_a_port_is_described_by_its_product(
    monkeypatch: pytest.MonkeyPatch, product: str | None, description: str | None, shown: str
) -> None:
    """Else by what the system calls it; its own name says nothing. Long words are cut."""
    info = device("/dev/none0")
    info.name, info.product = "none0", product
    vars(info)["description"] = description  # some systems give none
    listed(monkeypatch, info)
    (port,) = known_ports()
    assert (port.description, port.maker) == (shown, "")


@pytest.mark.parametrize(
    ("wanted", "there", "found"),
    [
        (LOGGER, [("a", LOGGER)], "a"),
        (LOGGER, [("a", UsbIdentity(0x1209, 0x0001, "A1", "3-4"))], "a"),
        (LOGGER, [("a", UsbIdentity(0x1209, 0x0001, "B2", "1-2")), ("b", LOGGER)], "b"),
        (LOGGER, [("a", UsbIdentity(0x1209, 0x0002, "A1", "1-2"))], None),
        (LOGGER, [("a", UsbIdentity(0x1208, 0x0001, "A1", "1-2"))], None),
        (LOGGER, [("a", LOGGER), ("b", LOGGER)], None),
        (LOGGER, [], None),
        (NUMBERLESS, [("a", NUMBERLESS)], "a"),
        (NUMBERLESS, [("a", UsbIdentity(0x1209, 0x0001, None, "3-4"))], None),
        (NUMBERLESS, [("a", UsbIdentity(0x1209, 0x0001, None, "3-4")), ("b", NUMBERLESS)], "b"),
        (NUMBERLESS, [("a", LOGGER)], None),
    ],
)
def test_a_device_is_known_again_by_its_serial_number(
    monkeypatch: pytest.MonkeyPatch,
    wanted: UsbIdentity,
    there: list[tuple[str, UsbIdentity]],
    found: str | None,
) -> None:
    """In whatever socket; without one it must be in the same. Two alike cannot be told apart."""
    listed(monkeypatch, *(device(path, identity) for path, identity in there))
    assert find_again(wanted) == found


def test_the_device_behind_a_port_is_known_by_its_name_and_by_a_link_to_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """None where the system lists no such port."""
    port, link = tmp_path / "port", tmp_path / "by-id"
    port.touch()
    link.symlink_to(port)
    listed(monkeypatch, device("/dev/none0", NUMBERLESS), device(str(port), LOGGER))
    assert identity_of(str(port)) == LOGGER
    assert identity_of(str(link)) == LOGGER
    assert identity_of(str(tmp_path / "none")) is None


def process(proc: Path, number: int, cmdline: bytes | None, *opened: Path) -> None:
    """A running program with some files open."""
    (proc / str(number) / "fd").mkdir(parents=True)
    for place, path in enumerate(opened):
        (proc / str(number) / "fd" / str(place)).symlink_to(path)
    if cmdline is not None:
        (proc / str(number) / "cmdline").write_bytes(cmdline)


def test_programs_that_have_a_port_open_are_named(tmp_path: Path) -> None:
    """By the last part of their path and what they were given; this program is left out."""
    port, other, proc = tmp_path / "port", tmp_path / "other", tmp_path / "proc"
    port.touch()
    other.touch()
    process(proc, 11, b"/usr/bin/monitor\0-b\0/dev/x\0", other, port)
    process(proc, 12, b"/bin/editor\0", other)
    process(proc, 13, None, port)
    process(proc, 14, b"", port)
    process(proc, os.getpid(), b"calib\0", port)
    process(proc, 15, b"/usr/bin/" + b"m" * 50, port)
    (proc / "16").mkdir()
    (proc / "net").mkdir()
    link = tmp_path / "by-id"
    link.symlink_to(port)
    assert holders(str(link), proc) == (
        "a program (process 13)",
        "a program (process 14)",
        "m" * 40 + "\u2026 (process 15)",
        "monitor -b /dev/x (process 11)",
    )
    assert holders(str(tmp_path / "none"), proc) == ()


def test_the_group_of_a_port_is_that_of_its_file(tmp_path: Path) -> None:
    """None where there is no such file."""
    grp = pytest.importorskip("grp")
    assert group_of(str(tmp_path)) == grp.getgrgid(tmp_path.stat().st_gid).gr_name
    assert group_of(str(tmp_path / "none")) is None
