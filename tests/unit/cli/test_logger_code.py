from __future__ import annotations

import json
from pathlib import Path

import pytest

from calib.cli import main
from tests.schemas import hold


def run(*arguments: str | Path) -> int:
    """Run ``calib logger-code`` in this process and give its exit code."""
    with pytest.raises(SystemExit, match=r"\d+") as ended:
        main(["logger-code", *map(str, arguments)])
    code = ended.value.code
    assert isinstance(code, int)
    return code


def test_source_and_note_are_written_and_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The page says what it is for, where it lies, what was not tried, and what comes next."""
    assert run("--out", tmp_path / "new" / "folder", "--channels", "2") == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "never touches a controller" in page
    assert "t_ms,a0,a1 100 times a second at 115200 baud" in page
    assert "not on your board" in page
    assert "Never load it into a controller" in page
    assert page.endswith("calib setup")
    names = sorted(path.name for path in (tmp_path / "new" / "folder").iterdir())
    assert names == ["logger-note.txt", "logger.c"]


def test_the_document_holds_to_its_schema(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Files, columns, rate; no baud rate over USB; and the cautions."""
    assert run("--board", "micropython", "--pins", "32, 33", "--out", tmp_path, "--json") == 0
    document = json.loads(capsys.readouterr().out)
    hold(document, "logger-code")
    assert document["files"] == [str(tmp_path / "main.py"), str(tmp_path / "main-note.txt")]
    assert document["columns"] == ["t_ms", "a0", "a1"]
    assert document["baud"] is None
    assert document["verdict"] == "caution"
    assert document["cautions"]
    assert "PINS = (32, 33) " in (tmp_path / "main.py").read_text(encoding="utf-8")


def test_a_file_that_is_there_is_left_alone_unless_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One file in the way keeps all of them from being written."""
    note = tmp_path / "logger-note.txt"
    note.write_text("mine", encoding="utf-8")
    assert run("--out", tmp_path) == 2
    assert "logger-note.txt is there already; nothing was written" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["logger-note.txt"]
    assert run("--out", tmp_path, "--overwrite") == 0
    assert note.read_text(encoding="utf-8") != "mine"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--pins", "1,2"], "--pins was given"),
        (["--board", "micropython", "--channels", "2"], "--channels was given"),
        (["--board", "micropython", "--baud", "9600"], "--baud was given"),
        (["--board", "micropython", "--pins", "26,26"], "different pin numbers"),
        (["--board", "micropython", "--pins", "26;rm"], "different pin numbers"),
        (["--rate-hz", "300"], "no whole number of milliseconds"),
        (["--channels", "9"], "9"),
    ],
)
def test_what_makes_no_sense_is_refused_before_anything_is_written(
    arguments: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Wrong use is exit code 2 and one line."""
    assert run(*arguments, "--out", tmp_path / "none") == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "none").exists()


def test_a_folder_that_cannot_be_made_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The reason is the system's, the next step is ours."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert run("--out", tmp_path / "file" / "below") == 2
    assert "cannot be written to" in capsys.readouterr().err
