"""A second bench in the same folder: told by the logger behind the port, before any question."""

from __future__ import annotations

from pathlib import Path

import pytest

from calib.cli.session import live_line
from calib.errors import PortError, UsageError
from calib.link.ports import UsbIdentity
from calib.store.rig import Rig, load_rig
from tests.flows.commands.test_once_an_evening import Reader

OURS = UsbIdentity(0x2341, 0x0043, "A1", "1-2")


def rig_of(folder: Path) -> Rig:
    """A rig file that was made for our logger."""
    path = folder / "rig.toml"
    path.write_text(f'[link]\nport = "/dev/ttyACM9"\nusb = "{OURS.text}"\n', encoding="utf-8")
    return load_rig(path)


def on_the_port(monkeypatch: pytest.MonkeyPatch, there: UsbIdentity | None, *, mule: bool) -> None:
    """What the system says of the port."""
    monkeypatch.setattr("calib.cli.session.identity_of", lambda _: there)
    monkeypatch.setattr("calib.cli.session.is_simulated", lambda _: mule)


@pytest.mark.parametrize(
    ("there", "mule", "words"),
    [
        (UsbIdentity(0x2341, 0x0043, "B2", "1-2"), False, "2341:0043 B2"),
        (UsbIdentity(0x1A86, 0x7523, None, "1-2"), False, "1a86:7523"),
        (None, True, "the simulated bench"),
    ],
)
def test_another_logger_on_the_port_is_refused(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, there: UsbIdentity | None, mule: bool,
    words: str,
) -> None:  # fmt: skip
    """Nothing is opened, nothing is asked, and both loggers are named."""
    on_the_port(monkeypatch, there, mule=mule)
    with (
        pytest.raises(UsageError, match=rf"another logger \({words}\).*{OURS.text}") as refused,
        live_line(rig_of(tmp_path), Reader()),
    ):
        pass
    assert "a folder and a rig file of its own" in refused.value.hint


@pytest.mark.parametrize("location", ["1-2", "3-1"])
def test_the_same_logger_is_known_in_any_socket(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, location: str
) -> None:
    """It goes on to the port, which is not there in this test."""
    on_the_port(monkeypatch, UsbIdentity(0x2341, 0x0043, "A1", location), mule=False)
    with pytest.raises(PortError, match="no such port"), live_line(rig_of(tmp_path), Reader()):
        pass
