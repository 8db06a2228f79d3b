"""By what a USB logger is known again under another name."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from serial.tools import list_ports

from calib.link.ports import find_again, identity_of


def device(name: str, serial: str | None, location: str, vendor: int | None = 1) -> SimpleNamespace:
    """A port as the system lists it."""
    return SimpleNamespace(device=name, vid=vendor, pid=2, serial_number=serial, location=location)


@pytest.mark.parametrize(
    ("serial", "now", "found"),
    [
        ("A1", [device("/dev/b", "A1", "3-1"), device("/dev/a", "B2", "1-2")], "/dev/b"),
        ("A1", [device("/dev/a", "B2", "1-2"), device("/dev/b", "A1", "3-1", None)], None),
        (None, [device("/dev/b", None, "1-2"), device("/dev/a", None, "3-1")], "/dev/b"),
        (None, [device("/dev/a", None, "3-1")], None),
        (None, [device("/dev/a", "A1", "1-2")], None),
        ("A1", [device("/dev/a", "A1", "1-2"), device("/dev/b", "A1", "3-1")], None),
    ],
)
def test_a_logger_is_known_by_its_serial_number_and_without_one_by_its_socket(
    monkeypatch: pytest.MonkeyPatch, serial: str | None, now: list[SimpleNamespace],
    found: str | None,
) -> None:  # fmt: skip
    """Two that cannot be told apart are neither: a stranger's logger is never opened."""
    ours = device("/dev/a", serial, "1-2")
    monkeypatch.setattr(list_ports, "comports", lambda: [ours])
    before = identity_of("/dev/a")
    assert before is not None
    assert identity_of("/dev/z") is None
    monkeypatch.setattr(list_ports, "comports", lambda: now)
    assert find_again(before) == found
