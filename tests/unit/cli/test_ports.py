from __future__ import annotations

import json

import pytest
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from calib.cli import main


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
