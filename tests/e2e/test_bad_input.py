"""Every bad input of a live line, over a real pseudo-terminal: one line, and the exit code."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import calib.link.health
from calib.cli import main
from calib.store.capture import read_capture
from tests.feeder import UNPLUG, Feeder, Step

RIG = """
[link]
port = "{port}"
[time]
column = "t_ms"
[channels.throttle]
role = "control"
column = "{column}"
unit = "V"
"""

NOBODY = 65534


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a second of patience instead of five."""
    monkeypatch.setattr(calib.link.health, "PATIENCE_S", 0.5)


def good(batches: int) -> Iterator[Step]:
    """A logger at 100 Hz, ten times as fast."""
    yield b"t_ms,a0\r\n"
    for batch in range(batches):
        yield b"".join(b"%d,1.5\r\n" % (10 * n) for n in range(10 * batch, 10 * batch + 10))
        yield 0.01


def record(folder: Path, port: str, *, column: str = "a0", more: tuple[str, ...] = ()) -> int:
    """``calib record`` in this process; its exit code."""
    rig = folder / "rig.toml"
    rig.write_text(RIG.format(port=port, column=column), encoding="utf-8")
    with pytest.raises(SystemExit, match=r"\d+") as ended:
        main(["record", "--rig", str(rig), "--for", "0.5", *more])
    code = ended.value.code
    assert isinstance(code, int)
    return code


def told(capsys: pytest.CaptureFixture[str]) -> str:
    """The error, after whatever the live page left: one line, no traceback."""
    err = capsys.readouterr().err
    assert "Traceback" not in err
    lines = [line for line in err.splitlines() if line.startswith("calib: ")]
    assert len(lines) == 1
    assert err.splitlines()[-1] == lines[0]
    return lines[0]


def test_port_missing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A name that is not there: 'calib ports' is the next step."""
    assert record(tmp_path, "/dev/ttyNowhere9") == 3
    assert "there is no such port" in told(capsys)


def test_port_busy(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A port that another program has: which one, and its process."""
    hold = (
        "import serial, sys; p = serial.Serial(sys.argv[1], exclusive=True); "
        "print('open', flush=True); sys.stdin.read()"
    )
    with (
        Feeder(good(1)) as feeder,
        subprocess.Popen(
            [sys.executable, "-c", hold, feeder.path], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        ) as other,
    ):
        assert other.stdout is not None
        other.stdout.readline()
        assert record(tmp_path, feeder.path) == 3
        assert f"(process {other.pid}) has it open" in told(capsys)
        other.communicate()


def test_no_permission(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A port of another group: which group, and how to join it."""
    record(tmp_path, "/dev/ttyNowhere9")  # as root: everything is imported before root is given up
    capsys.readouterr()
    with Feeder([]) as feeder:
        os.chmod(feeder.path, 0)  # noqa: PTH101 (a device, not a file)
        user = os.geteuid()
        for folder in (tmp_path, *tmp_path.parents):
            if folder.name.startswith(("pytest-", "popen-", "test_")):
                folder.chmod(0o755)
        rig = tmp_path / "rig.toml"
        rig.write_text(RIG.format(port=feeder.path, column="a0"), encoding="utf-8")
        try:
            os.seteuid(NOBODY if user == 0 else user)
            with pytest.raises(SystemExit, match="3"):
                main(["record", "--rig", str(rig)])
        finally:
            os.seteuid(user)
    line = told(capsys)
    assert "no permission" in line
    assert "belongs to the group" in line


def test_silent(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing comes: is it powered, and is it this port?"""
    with Feeder([]) as feeder:
        assert record(tmp_path, feeder.path) == 3
    assert "silent for" in told(capsys)


def test_wrong_baud(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Mostly garbage: the wrong rate, and setup tries the others."""
    noise = bytes(range(128, 256)) * 40
    with Feeder([noise[i : i + 64] for i in range(0, len(noise), 64)]) as feeder:
        assert record(tmp_path, feeder.path) == 3
    line = told(capsys)
    assert "mostly garbage at 115200 baud" in line
    assert "calib setup" in line


def test_unplugged_in_the_middle(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What came before is kept and judged; that it was cut short is said."""
    with Feeder([*good(10), UNPLUG]) as feeder:
        code = record(tmp_path, feeder.path, more=("--for", "30"))
    assert code == 0
    (path,) = (tmp_path / "captures").glob("*.csv")
    assert len(read_capture(path)) == 100
    assert "unplugged" in " ".join(capsys.readouterr().out.split())


def test_unplugged_before_a_sample(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing usable came: exit code 3."""
    with Feeder([b"t_ms,a0\r\n", UNPLUG]) as feeder:
        assert record(tmp_path, feeder.path) == 3
    assert "has gone: unplugged" in told(capsys)


def test_column_missing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The rig file asks for a column that the logger does not send: both are named."""
    with Feeder(good(50)) as feeder:
        rig = tmp_path / "rig.toml"
        rig.write_text(RIG.format(port=feeder.path, column="a7"), encoding="utf-8")
        with pytest.raises(SystemExit, match="2"):
            main(["travel", "throttle", "--rig", str(rig), "--isolated", "--yes"])
    line = told(capsys)
    assert "'a7'" in line
    assert "it sends: t_ms, a0" in line


def test_rig_file_broken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Line and key are named, and the port is not opened for it."""
    with Feeder(good(1)) as feeder:
        rig = tmp_path / "rig.toml"
        text = RIG.format(port=feeder.path, column="a0").replace('"V"', '"volt"')
        rig.write_text(text, encoding="utf-8")
        with pytest.raises(SystemExit, match="2"):
            main(["record", "--rig", str(rig)])
        assert not feeder.opened()
        assert feeder.sent == 0
    assert "line 9, channels.throttle.unit" in told(capsys)


def test_capture_empty(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A log without a sample: exit code 3."""
    rig = tmp_path / "rig.toml"
    rig.write_text(RIG.format(port="/dev/null", column="a0"), encoding="utf-8")
    log = tmp_path / "log.csv"
    log.write_text("t_ms,a0\n", encoding="utf-8")
    with pytest.raises(SystemExit, match="3"):
        main(["travel", "throttle", "--rig", str(rig), "--from", str(log)])
    assert "no sample" in told(capsys)
