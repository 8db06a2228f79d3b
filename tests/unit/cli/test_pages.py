"""The commands that only read what is on file: status, sheet, report, schema."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.cli import main
from calib.cli.flow import now
from calib.store.records import load_records
from calib.store.schemas import LISTS, NAMES, schema_of
from tests.schemas import hold
from tests.unit.evidence import RIG, Bench, bench, travel, write_capture

ONE_CONTROL = RIG.partition("[channels.lever]")[0]


def run(*arguments: str | Path) -> int:
    """Run the command line in this process and give its exit code."""
    with pytest.raises(SystemExit, match=r"\d+") as ended:
        main([str(argument) for argument in arguments])
    code = ended.value.code
    assert isinstance(code, int)
    return code


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """A bench with one control, measured just now, in the folder where the command is typed."""
    monkeypatch.chdir(tmp_path)
    found = bench(tmp_path, ONE_CONTROL)
    found.now = now()
    found.keep(travel(), "grip")
    return found


def printed(capsys: pytest.CaptureFixture[str], name: str) -> dict[str, object]:
    """The one document on stdout, held against its schema."""
    document = json.loads(capsys.readouterr().out)
    hold(document, name)
    assert isinstance(document, dict)
    return document


def test_alone_without_a_rig_file_it_says_where_to_begin(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A first run in an empty folder names the demo and setup, and is not an error."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CALIB_RIG", raising=False)
    assert run() == 1
    out, err = capsys.readouterr()
    assert "calib demo" in out
    assert out.rstrip().endswith("NEXT  calib setup")
    assert err == ""


def test_alone_it_names_the_next_command(here: Bench, capsys: pytest.CaptureFixture[str]) -> None:
    """What is done, what is open, and the next command on the last line."""
    assert here.folder.is_dir()
    assert run() == 1
    out = capsys.readouterr().out
    assert "done     travel of grip" in out
    assert out.rstrip().splitlines()[-1].strip().startswith("NEXT  calib ")


def test_a_broken_off_flow_is_named_with_its_command(
    here: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    """A capture that no record rests on can be taken up again."""
    path = write_capture(here, travel_volts())
    assert run("status", "--json") == 1
    document = printed(capsys, "status")
    assert document["left_over"] == [f"calib travel CHANNEL --from {path.relative_to(here.folder)}"]


def test_the_sheet_prints_values_and_where_they_come_from(
    here: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    """A good travel: exit code 0, four values with room to tick each off."""
    assert here.folder.is_dir()
    assert run("sheet") == 0
    out = capsys.readouterr().out
    assert out.count("[  ]") == 4
    for words in ("drive takes up at", "0.93 V", "WHERE EACH COMES FROM", "5 presses"):
        assert words in out


def test_the_sheet_as_markdown_is_one_table(
    here: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every value is a row with a box; nothing in a name ends a cell."""
    rig = (here.folder / "rig.toml").read_text(encoding="utf-8")
    (here.folder / "rig.toml").write_text(rig.replace("barn mule", "a|b\\n<b>"), encoding="utf-8")
    here.keep(travel(), "grip")
    assert run("sheet", "--markdown") == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("# What to type in: a\\|b")
    assert sum(line.startswith("| [ ] |") for line in lines) == 4
    assert not any("<b>" in line and "\\<b\\>" not in line for line in lines)


def test_the_sheet_as_json_holds_to_its_schema(
    here: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    """Keys as promised; a lever that is not measured makes it unknown, exit code 1."""
    (here.folder / "rig.toml").write_text(RIG, encoding="utf-8")
    assert run("sheet", "--json") == 1
    document = printed(capsys, "sheet")
    assert document["verdict"] == "unknown"


def test_verifying_keeps_a_record(here: Bench, capsys: pytest.CaptureFixture[str]) -> None:
    """The answers given as options: verdict, exit code 0, and a record on file."""
    shown = ("--shown-rest", "0.81", "--shown-full", "3.72", "--shown-start", "0.93")
    more = ("--shown-end", "3.66", "--creep", "still")
    assert run("sheet", "--verify", "--json", *shown, *more) == 0
    assert printed(capsys, "verify")["verdict"] == "pass"
    assert load_records(here.folder)[-1].command == "verify"


def test_a_creeping_wheel_ends_with_1(here: Bench, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever the display says, a wheel that turns fails."""
    assert here.folder.is_dir()
    assert run("sheet", "--verify", "--creep", "creeps") == 1
    out = capsys.readouterr().out
    assert "Cut the power" in out
    assert "lowest limits" in " ".join(out.split())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--shown-rest", "1"], "questions of --verify"),
        (["--verify", "--channel", "none"], "no channel named"),
    ],
)
def test_wrong_use_of_the_sheet_is_told(
    here: Bench, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    """Answers without a question, and a control that there is none of: exit code 2."""
    assert here.folder.is_dir()
    assert run("sheet", *arguments) == 2
    assert words in capsys.readouterr().err


def test_answers_for_one_of_two_controls_need_its_name(
    here: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    """An answer is never taken for the wrong control."""
    (here.folder / "rig.toml").write_text(RIG, encoding="utf-8")
    assert run("sheet", "--verify", "--creep", "still") == 2
    assert "--channel" in capsys.readouterr().err


def test_the_report_is_written_beside_the_records(
    here: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    """One HTML file; JSON says where."""
    assert run("report", "--json") == 0
    path = here.folder / str(printed(capsys, "report")["path"])
    assert path.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert run("report", "--file", str(here.folder / "kept.html")) == 0
    assert (here.folder / "kept.html").exists()


@pytest.mark.parametrize("name", NAMES)
def test_a_schema_is_printed_as_json(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """What is printed is the schema that any validator can read, key for key."""
    assert run("schema", name) == 0
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(schema_of(name)))


def test_without_a_name_the_schemas_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """The names that there are, one a line."""
    assert run("schema") == 0
    assert capsys.readouterr().out.split() == [*NAMES, *LISTS]


def travel_volts() -> NDArray[np.float64]:
    """A short stretch of rest."""
    return np.full(100, 0.81)
