"""A device that sends what could harm: nothing of it reaches terminal, CSV or report as it was."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import pytest

from calib.cli import main
from calib.store.capture import read_capture
from calib.store.capture_writer import rejected_path
from tests.feeder import Feeder, Step

HARM = b"<script>alert(1)</script>"
ESCAPE = b"\x1b]0;owned\x07\x1b[2J"

RIG = """
[link]
port = "{port}"
[time]
column = "t_ms"
[channels.throttle]
role = "control"
column = "a0"
unit = "V"
"""

DIRT = [
    HARM + b"\n", ESCAPE + b"\n", b"=cmd|' /C calc'!A0,1,2\n", b"@SUM(A1),1,2\n", b"\x00" * 50,
    b"\xff\xfe\xfd\n", b"1e308,1e308,1e308\n", b"nan,inf,-inf\n", b"9" * 10_000 + b"\n",
    b"[" * 3000 + b"\n", b"1,2\n", b"1,2,3,4\n", b"../../etc/passwd\n", b"\xe2\x80\xae,1,2\n",
]  # fmt: skip


def hostile() -> Iterator[Step]:
    """Good lines with dirt between them, under a header with markup in a name."""
    yield b"t_ms,a0,x" + HARM + b"\r\n"
    for n in range(60):
        yield b"".join(b"%d,1.5,%d\r\n" % (10 * m, m) for m in range(10 * n, 10 * n + 10))
        yield DIRT[n % len(DIRT)]
        yield 0.01


@pytest.fixture
def recorded(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> tuple[Path, str]:
    """A capture of the hostile device, and all that was shown meanwhile."""
    with Feeder(hostile()) as feeder:
        rig = tmp_path / "rig.toml"
        rig.write_text(RIG.format(port=feeder.path), encoding="utf-8")
        with pytest.raises(SystemExit):
            main(["record", "--rig", str(rig), "--for", "4"])
    shown = capsys.readouterr()
    (path,) = (tmp_path / "captures").glob("*.csv")
    return path, shown.out + shown.err


def test_the_capture_holds_numbers_only(recorded: tuple[Path, str]) -> None:
    """Every good line is there, no other; no cell begins as a formula does."""
    path, _ = recorded
    capture = read_capture(path)
    assert len(capture) >= 200
    assert set(capture.values["a0"]) == {1.5}
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.reader(file):
            assert len(row) == 5
            assert not any(cell.startswith(("=", "+", "@", "\t", "\r")) for cell in row)
    assert b"\x1b" not in path.read_bytes()


def test_what_was_rejected_is_kept_and_harmless(recorded: tuple[Path, str]) -> None:
    """Beside the capture, one line each, printable, none endless."""
    kept = rejected_path(recorded[0]).read_text(encoding="utf-8")
    assert kept.count("script") > 0
    assert all(line.isprintable() and len(line) < 600 for line in kept.splitlines())


def test_nothing_reaches_the_terminal_raw(recorded: tuple[Path, str]) -> None:
    """No escape sequence of the device is shown."""
    assert "owned\x07" not in recorded[1]
    assert "\x1b]0" not in recorded[1]
    assert "\x00" not in recorded[1]


def test_the_report_is_without_script(recorded: tuple[Path, str]) -> None:
    """Markup in a name is text in the report."""
    folder = recorded[0].parent.parent
    with pytest.raises(SystemExit):
        main(["report", "--rig", str(folder / "rig.toml")])
    pages = list(folder.rglob("*.html"))
    assert pages
    assert all(HARM.decode() not in page.read_text(encoding="utf-8") for page in pages)


def test_nothing_that_a_device_sends_names_a_file(recorded: tuple[Path, str]) -> None:
    """Only calib's own names lie in the folder."""
    folder = recorded[0].parent.parent
    names = {path.name.split("-")[0] for path in (folder / "captures").iterdir()}
    assert len(names) == 1
    assert {path.name for path in folder.iterdir()} <= {"rig.toml", "captures", "records"}
