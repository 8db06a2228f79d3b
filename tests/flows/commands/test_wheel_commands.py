"""``calib wheel`` and ``calib display`` as a script runs them."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path

import pytest

from tests.hands import NotingPerson
from tests.tilt_evening import judged, run
from tests.wheel_files import counts, hand, levels, ring, write_wheel

RIG = """
[time]
column = "t_s"
unit = "s"

[channels.wheel]
role = "wheel"
column = "w"
unit = "level"
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a rig file that has a wheel, and ten turns of it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rig.toml").write_text(RIG, encoding="utf-8")
    time_s, turns = hand(10.0)
    write_wheel(tmp_path / "level.csv", time_s, levels(ring(6), turns))
    write_wheel(tmp_path / "count.csv", time_s, counts(ring(6), turns))
    write_wheel(tmp_path / "still.csv", time_s, 0.0 * turns)
    return tmp_path


def test_turned_then_rolled_then_on_the_sheet(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each run keeps its record; the next one knows what the earlier one found."""
    code, turned = judged(capsys, "wheel", "--from", here / "level.csv", "--turns", "10")
    assert (code, turned["pulses_a_turn"], turned["circumference_mm"]) == (0, 6, None)
    code, rolled = judged(capsys, "wheel", "--rolled-m", "19.84", "--over-turns", "10", "--seated")
    assert code == 0
    assert rolled["circumference_mm"] == pytest.approx(1985.0, abs=0.1)
    _, sheet = judged(capsys, "sheet")
    values = {each["name"]: each for each in sheet["entries"]}
    assert values["circumference"]["value"] == rolled["circumference_mm"]
    # a text log does not say when it was taken, so nothing it says stands on the sheet
    assert values["pulses a turn"]["value"] is None
    _, history = judged(capsys, "history")
    assert [each["command"] for each in history["records"]] == ["wheel", "wheel"]
    _, status = judged(capsys, "status")
    states = {each["name"]: each["state"] for each in status["steps"]}
    assert states["circumference of the wheel"] == "done"


def test_a_tape_in_feet(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """65.09 ft over ten turns are 1984 mm."""
    assert here.is_dir()
    _, document = judged(capsys, "wheel", "--rolled-ft", "65.09", "--over-turns", "10", "--seated")
    assert document["rolled"]["ways_m"] == pytest.approx([19.84], abs=0.001)


def test_a_trip_wheel_up_needs_no_cable(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Rolled once, then ten turns by hand beside the display, on a rig without a sensor."""
    (here / "rig.toml").write_text("", encoding="utf-8")
    judged(capsys, "wheel", "--rolled-m", "19.84", "--over-turns", "10", "--seated")
    code, document = judged(capsys, "wheel", "--turns", "10", "--shown-m", "0", "21")
    assert code == 0
    assert document["channel"] is None
    assert document["shown"]["factor"] == pytest.approx(21.0 / 19.85, rel=1e-3)


def test_the_way_is_asked_where_only_turns_are_given(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """So the next step of 'calib status' can be typed as it stands, and an evening goes on."""
    assert here.is_dir()
    asked = NotingPerson(answers=["", "nineteen", "19,84"])
    monkeypatch.setattr("calib.cli.session.person_at", lambda _: nullcontext(asked))
    _, document = judged(capsys, "wheel", "--over-turns", "10")
    assert document["rolled"]["ways_m"] == [19.84]
    assert "both wheels on the floor" in asked.cards[0].lines[0]
    assert "nobody on it" in asked.prompts[0]
    assert "10 turns" in asked.prompts[0]


@pytest.mark.parametrize(("log", "unit"), [("level.csv", "level"), ("count.csv", "pulses")])
@pytest.mark.parametrize("column", ["w", "wheel"])
def test_setup_finds_the_wheel(
    here: Path, capsys: pytest.CaptureFixture[str], log: str, unit: str, column: str
) -> None:
    """By the column's own name, or by the one option; what its numbers are is told by them."""
    (here / "rig.toml").unlink()
    text = (here / log).read_text(encoding="utf-8").replace("t_s,w", f"t_s,{column}")
    (here / log).write_text(text, encoding="utf-8")
    stated = [] if column == "wheel" else ["--column", f"wheel={column}"]
    code, _ = judged(capsys, "setup", "--from", log, *stated)
    assert code == 0
    _, document = judged(capsys, "wheel", "--from", log, "--turns", "10")
    assert document["pulses_a_turn"] == 6
    assert document["turned"]["unit"] == unit


def test_the_page_names_both_values(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On the terminal: pulses by counted turns, the gaps, and what a level hides."""
    code, page = run(capsys, "wheel", "--from", here / "level.csv", "--turns", "10")
    assert code == 0
    assert "60 over 10 turns" in page
    assert "60°, 60°, 60°, 60°, 60°, 60°" in page
    assert "hides pulses from 600 km/h" in page.replace("\n           ", " ")


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["--from", "still.csv", "--turns", "10"], 1),
        (["--from", "level.csv", "--turns", "9"], 1),
        (["--from", "level.csv"], 1),
        (["--from", "none.csv", "--turns", "10"], 3),
        (["--from", "count.csv", "--turns", "0"], 2),
        (["--rolled-m", "19.84"], 2),
        (["--seated"], 2),
        (["--rolled-m", "19.84", "--rolled-ft", "65", "--over-turns", "10"], 2),
        (["--rolled-m", "0", "--over-turns", "10"], 2),
        (["--rolled-m", "19.84", "--over-turns", "1"], 1),
        (["--rolled-m", "19.84", "--rolled-m", "16", "--over-turns", "10"], 1),
        (["--shown-m", "0", "20"], 2),
        (["--shown-m", "20", "20", "--rolled-m", "19.84", "--over-turns", "10"], 2),
        (["--shown-kmh", "0", "--true-kmh", "24"], 2),
        (["--shown-kmh", "25"], 2),
        (["--set-pulses", "6"], 2),
        (["throttle", "--turns", "10", "--from", "level.csv"], 2),
        (["--from", "level.csv", "--rolled-m", "19.84"], 2),
    ],
)
def test_bad_input_of_each_kind(
    here: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int
) -> None:
    """One line and the contract's exit code, or a verdict with its reason; never a traceback."""
    assert here.is_dir()
    found, document = judged(capsys, "wheel", *arguments)
    assert found == code
    if code == 1:
        assert document["verdict"] == "unknown"
        assert document["pulses_a_turn"] is None or document["circumference_mm"] is None
        assert all(each["action"] for each in document["findings"] if each["severity"] != "pass")
    else:
        assert document["exit_code"] == code
        assert document["what"]
        assert document["hint"]


@pytest.mark.parametrize(
    ("role", "unit", "said"),
    [
        ("wheel", "V", "a wheel has the unit 'level' or 'pulses'"),
        ("other", "pulses", "nothing else has either"),
        ("wheel", 'level"\nwrap = "x', "wrap"),
        ("wheel", 'level"\nwrap = 256\n#', "only a running count"),
    ],
)
def test_a_rig_file_that_cannot_be_is_refused(
    here: Path, capsys: pytest.CaptureFixture[str], role: str, unit: str, said: str
) -> None:
    """Before anything is opened, with the line that is wrong."""
    text = RIG.replace('role = "wheel"', f'role = "{role}"').replace(
        'unit = "level"', f'unit = "{unit}"'
    )
    (here / "rig.toml").write_text(text, encoding="utf-8")
    code, document = judged(capsys, "wheel", "--from", here / "level.csv", "--turns", "10")
    assert code == 2
    assert said in document["what"]


def test_what_the_display_shows(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Pack, cold motor in degrees F, and brake in one go, each with its verdict."""
    assert here.is_dir()
    code, document = judged(
        capsys, "display", "--pack-V-shown", "57.9", "--pack-V-meter", "58.4",
        "--motor-degF-shown", "55", "--garage-degF", "59", "--cold-h", "12",
        "--brake-shown", "on,off",
    )  # fmt: skip
    assert code == 0
    shown = {each["figure"]: each for each in document["figures"]}
    assert shown["pack"]["difference"] == pytest.approx(-0.5)
    assert shown["motor"]["difference"] == pytest.approx(-4.0 / 1.8)
    assert document["brake"] == {"pulled": "on", "free": "off", "verdict": "pass"}
    assert any("kill" in caution for caution in document["cautions"])


def test_a_logged_garage(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The mean of the ambient channel is what is true."""
    (here / "rig.toml").write_text(
        RIG + '[channels.garage]\nrole = "ambient"\ncolumn = "w"\nunit = "degF"\n', encoding="utf-8"
    )
    time_s, turns = hand(10.0)
    write_wheel(here / "garage.csv", time_s, 59.0 + 0.0 * turns)
    code, document = judged(
        capsys, "display", "--motor-degC-shown", "13", "--cold-h", "12", "--from",
        here / "garage.csv",
    )  # fmt: skip
    assert code == 0
    assert document["figures"][0]["true"] == pytest.approx(15.0)
    assert document["figures"][0]["true_from"] == "logger"


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["--pack-V-shown", "57.9"],
        ["--motor-degC-shown", "13"],
        ["--motor-degC-shown", "13", "--motor-degF-shown", "55", "--garage-degC", "15"],
        ["--garage-degC", "15"],
        ["--brake-shown", "on"],
        ["--brake-shown", "maybe,off"],
        ["--motor-degC-shown", "13", "--from", "level.csv"],
    ],
)
def test_a_display_half_read(
    here: Path, capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    """What is missing is said in one line, exit code 2."""
    assert here.is_dir()
    code, document = judged(capsys, "display", *arguments)
    assert code == 2
    assert document["hint"]
