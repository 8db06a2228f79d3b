from __future__ import annotations

import json
import platform
import sys

import pytest
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from calib import __version__
from calib.cli import main
from calib.show.ports import access_help


def run(*arguments: str) -> int:
    """Run the command line in this process and give its exit code."""
    with pytest.raises(SystemExit, match=r"\d+") as ended:
        main(arguments)
    code = ended.value.code
    assert isinstance(code, int)
    return code


def usb_port() -> ListPortInfo:
    """A USB logger whose maker puts an escape sequence into its name."""
    port = ListPortInfo("/dev/ttyACM7")
    port.vid, port.pid = 0x1234, 0x5678
    port.serial_number = "A1\x1b[31m"
    port.product, port.manufacturer = "Logger\x1b]0;x\x07", "Nobody"
    return port


def test_ports_are_listed_with_what_the_system_knows(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Name, maker and serial number are shown; a device's text reaches no terminal raw."""
    monkeypatch.setattr(list_ports, "comports", lambda: [ListPortInfo("/dev/ttyS0"), usb_port()])
    assert run("ports") == 0
    shown = capsys.readouterr().out
    assert shown.index("/dev/ttyACM7") < shown.index("/dev/ttyS0")
    assert "Nobody" in shown
    assert "\x1b" not in shown
    assert run("ports", "--json") == 0
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "calib.ports/1"
    assert document["ports"][0]["usb_serial"] == "A1\\x1b[31m"


def test_no_port_says_what_to_do(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without any port the verdict is unknown, and the charging cable is named."""
    monkeypatch.setattr(list_ports, "comports", list)
    assert run("ports") == 1
    assert "charging cable" in capsys.readouterr().out


def test_the_right_to_a_port_is_shown_as_ready_text(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """On Linux the group, and a rule by the logger's two USB ids; nothing of the device's words."""
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(list_ports, "comports", lambda: [ListPortInfo("/dev/ttyS0"), usb_port()])
    assert run("ports", "--help-access") == 0
    shown = capsys.readouterr().out
    assert "sudo usermod -aG dialout $USER" in shown
    (rule,) = [line for line in shown.splitlines() if "idVendor" in line]
    assert 'ATTRS{idVendor}=="1234", ATTRS{idProduct}=="5678"' in rule
    assert rule.endswith('ENV{ID_MM_PORT_IGNORE}="1"')
    assert "Logger" not in shown


def test_without_a_logger_the_rule_waits_for_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No rule is made that would catch every port."""
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(list_ports, "comports", lambda: [ListPortInfo("/dev/ttyS0")])
    assert run("ports", "--help-access") == 0
    assert "ID_MM_PORT_IGNORE" not in capsys.readouterr().out


@pytest.mark.parametrize("system", ["win32", "darwin"])
def test_other_systems_ask_for_no_right(system: str) -> None:
    """Nothing is told there that only Linux has."""
    told = access_help(system, [], None)
    assert "asks for no right" in told
    assert "sudo" not in told


def test_the_version_names_python_and_system(capsys: pytest.CaptureFixture[str]) -> None:
    """What a report of trouble needs, in one line."""
    assert run("--version") == 0
    told = capsys.readouterr().out
    assert told.startswith(f"calib {__version__}, Python {platform.python_version()}, ")
    assert told.count("\n") == 1
