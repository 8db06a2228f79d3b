"""Logs as they come, through the command line: what is said, and what is needed next."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.cli import main
from tests.hands import pressed

Floats = NDArray[np.float64]
RIG = """\
[time]
column = "t_ms"
unit = "ms"

[channels.throttle]
role = "control"
acts = "drive"
column = "throttle"
unit = "V"
reference_tolerance_pct = 1.0
"""
REST_S = 1.5
"""What ``pressed`` rests before the first press, s."""


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Works in a folder with a rig file."""
    monkeypatch.chdir(tmp_path)
    Path("rig.toml").write_text(RIG, encoding="utf-8")


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, dict[str, Any]]:
    """Exit code and document of a command."""
    with pytest.raises(SystemExit) as ended:
        main([*arguments, "--json"])
    return int(ended.value.code or 0), json.loads(capsys.readouterr().out)


def write(name: str, volts: Floats, rate_hz: float = 100.0, clock: bool = True) -> str:
    """A log of a throttle; its name."""
    lines = [
        *(["t_ms,throttle"] if clock else ["throttle"]),
        *(
            f"{1000 * index / rate_hz:.0f},{value:.4f}" if clock else f"{value:.4f}"
            for index, value in enumerate(volts)
        ),
    ]
    Path(name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return name


def said(document: dict[str, Any], code: str) -> dict[str, Any]:
    """The one finding of a code."""
    (found,) = (each for each in document["findings"] if each["code"] == code)
    return dict(found)


@pytest.mark.parametrize("rest_s", [0.3, 0.5, 1.2])
def test_a_check_needs_no_more_than_a_third_of_a_second_of_rest(
    capsys: pytest.CaptureFixture[str], rest_s: float
) -> None:
    """Worked after 0.3 s: the control answers, and no wire is suspected."""
    log = write("log.csv", pressed()[round((REST_S - rest_s) * 100) :])
    code, document = run(capsys, "check", "--quick", "--from", log)
    assert code == 0
    assert document["verdict"] == "caution"  # there is no record to compare with
    assert [each["code"] for each in document["findings"]] == ["no-record"]


@pytest.mark.parametrize("rest_s", [0.1, 0.0, -0.1])
def test_a_check_says_how_long_a_rest_it_needs(
    capsys: pytest.CaptureFixture[str], rest_s: float
) -> None:
    """Worked after 0.1 s, or already: that is said first, and no wire is called dead or open."""
    log = write("log.csv", pressed()[round((REST_S - rest_s) * 100) :])
    code, document = run(capsys, "check", "--quick", "--from", log)
    assert code == 1
    found = said(document, "rest-too-short")
    assert found["text"].startswith("throttle moves within the first 0.3 s")
    assert found["action"].startswith("Leave it alone for 0.3 s at least")
    assert document["findings"][0] == found
    assert not {"no-answer", "signal-open"} & {each["code"] for each in document["findings"]}


@pytest.mark.parametrize("rate_hz", [10.0, 20.0])
def test_a_logger_that_is_too_slow_is_called_so(
    capsys: pytest.CaptureFixture[str], rate_hz: float
) -> None:
    """Ten samples a second: the presses count, and the page says what to do about the rate."""
    _, document = run(
        capsys, "travel", "throttle", "--from", write("log.csv", pressed(rate_hz=rate_hz), rate_hz)
    )
    assert document["presses"] == 5
    found = said(document, "logger-slow")
    assert found["text"].startswith(f"The logger sends {rate_hz:.0f} samples a second")
    assert "set the logger faster" in found["action"]


def test_a_log_that_ends_held_is_said_to_end_held(capsys: pytest.CaptureFixture[str]) -> None:
    """Five presses and a sixth that is still held: five count, and nothing lags or sticks."""
    log = write("log.csv", pressed(presses=6)[:-125])
    _, document = run(capsys, "travel", "throttle", "--from", log)
    assert document["presses"] == 5
    assert "ends with the control held" in said(document, "ended-in-hand")["text"]
    assert not {"hysteresis", "rest-after-release"} & {e["code"] for e in document["findings"]}
    _, check = run(capsys, "check", "--quick", "--from", log)
    assert not {"hysteresis", "sticks"} & {each["code"] for each in check["findings"]}


def test_a_control_that_never_halts_is_not_said_to_have_never_moved(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """To and fro without a resting place."""
    sweep = np.concatenate([np.linspace(1.0, 4.0, 60), np.linspace(4.0, 1.0, 60)])
    volts = np.concatenate([np.full(200, 1.0), *[sweep] * 4])
    volts = volts + np.random.default_rng(5).normal(0.0, 0.002, volts.shape)
    code, document = run(capsys, "travel", "throttle", "--from", write("log.csv", volts))
    assert code == 1
    assert document["dead_band"] is None or document["dead_band"]["start"] is None
    assert not any("never moved" in each["text"] for each in document["findings"])


def test_a_log_without_a_clock_leaves_times_out_and_takes_its_rate_afterwards(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Values without times, said so; the capture that was made of it then takes --rate-hz."""
    Path("rig.toml").write_text(RIG.replace('column = "t_ms"\nunit = "ms"\n', ""), encoding="utf-8")
    log = write("log.csv", pressed(), clock=False)
    _, untimed = run(capsys, "travel", "throttle", "--from", log)
    assert untimed["presses"] == 5
    assert untimed["capture"]["rate_hz"] is None
    assert untimed["return_s"]["median"] is None
    assert "every time is left out" in said(untimed, "no-clock")["text"]
    capture = untimed["capture"]["path"]
    code, refused = run(capsys, "check", "--quick", "--from", capture)
    assert code == 2
    assert "--rate-hz" in refused["hint"]
    _, timed = run(capsys, "travel", "throttle", "--from", capture, "--rate-hz", "100")
    assert timed["capture"]["rate_hz"] == pytest.approx(100.0)
    assert timed["return_s"]["median"] == pytest.approx(0.12, abs=0.02)
    assert timed["rest"]["mean"] == untimed["rest"]["mean"]


@pytest.mark.parametrize(
    "form",
    [
        "[{date} {time}] tag: {value},1",
        "[{date} {time}] [INFO] tag: {value};1",
        "{date}T{time}+02:00 adc: {value} 1",
        "[INFO] {date} {time} adc: {value},1",
        "{time} -> {value},1",
    ],
)
def test_a_wall_clock_in_a_prefix_is_the_clock(
    capsys: pytest.CaptureFixture[str], form: str
) -> None:
    """What stands before the numbers with date and time is a clock, and is not thrown away."""
    volts = pressed()
    start = datetime(2024, 5, 1, 23, 59, 55, tzinfo=UTC)  # over midnight
    stamps = [start + timedelta(milliseconds=10 * index) for index in range(len(volts))]
    lines = [
        form.format(
            date=f"{at:%Y-%m-%d}", time=f"{at:%H:%M:%S}.{at.microsecond // 1000:03d}",
            value=f"{value:.4f}",
        )
        for at, value in zip(stamps, volts, strict=True)
    ]  # fmt: skip
    Path("log.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    Path("rig.toml").unlink()
    stated = ("--column", "throttle=1", "--unit", "throttle=V")
    _, made = run(capsys, "setup", "--from", "log.txt", "--yes", *stated)
    assert ("text", "found") in {(each["value"], each["origin"]) for each in made["settings"]}
    _, document = run(capsys, "travel", "throttle", "--from", "log.txt")
    assert document["presses"] == 5
    assert document["capture"]["gaps"] == 0
    assert document["capture"]["rate_hz"] == pytest.approx(100.0, rel=1e-3)
    assert document["return_s"]["median"] == pytest.approx(0.12, abs=0.02)


def test_a_header_that_names_the_parts_is_enough_for_setup(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A file with a plain header needs no option and no edit; what was taken by name is said."""
    rows = enumerate(pressed())
    lines = [f"{10 * index},{value:.4f},0.01,-0.02,0.99" for index, value in rows]
    Path("log.csv").write_text("\n".join(["t_ms,Throttle (V),ax,ay,az", *lines]) + "\n")
    Path("rig.toml").unlink()
    _, made = run(capsys, "setup", "--from", "log.csv", "--yes")
    assert {"throttle", "accel_x", "accel_y", "accel_z"} <= {c["use"] for c in made["columns"]}
    by_name = [f["text"] for f in made["findings"] if "by the column's name" in f["text"]]
    assert by_name == [
        "column = Throttle (V), ax, ay, az of throttle, accel_x, accel_y, accel_z is assumed, not "
        "known: by the column's name."
    ]
    code, document = run(capsys, "travel", "throttle", "--from", "log.csv")
    assert code == 0
    assert document["rest"]["mean"] == pytest.approx(1.05, abs=0.005)


def test_setup_from_a_file_names_the_one_thing_that_it_lacks(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Names that say nothing: the option to add is given, and nobody is sent to work a file."""
    Path("log.csv").write_text(
        "t_ms,a0\n" + "\n".join(f"{10 * i},{v:.4f}" for i, v in enumerate(pressed())) + "\n"
    )
    Path("rig.toml").unlink()
    _, made = run(capsys, "setup", "--from", "log.csv", "--yes")
    assert said(made, "no-control")["action"] == "State --column throttle=COLUMN."
    _, again = run(capsys, "setup", "--from", "log.csv", "--yes", "--column", "throttle=a0")
    assert again["verdict"] == "caution"
    code, _ = run(capsys, "travel", "throttle", "--from", "log.csv")
    assert code == 0


def test_a_control_whose_unit_nobody_knows_is_refused_before_it_is_read_as_volts(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Per cent without a word that it is: setup asks for the unit, and travel makes no volts."""
    write("log.csv", 20.0 * pressed())
    Path("rig.toml").unlink()
    _, made = run(capsys, "setup", "--from", "log.csv", "--yes")
    assert "--unit throttle=" in said(made, "unit-unknown")["action"]
    code, refused = run(capsys, "travel", "throttle", "--from", "log.csv")
    assert code == 2
    assert "--unit throttle=V (or count, mV, percent)" in refused["hint"]


def test_acceleration_without_gravity_is_not_taken_by_its_name(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Columns called ax, ay, az that are no 1 g long are left for the person to state."""
    rows = enumerate(pressed())
    lines = [f"{10 * index},{value:.4f},0.01,-0.02,0.03" for index, value in rows]
    Path("log.csv").write_text("\n".join(["t_ms,throttle,ax,ay,az", *lines]) + "\n")
    Path("rig.toml").unlink()
    _, made = run(capsys, "setup", "--from", "log.csv", "--yes")
    assert {each["use"] for each in made["columns"]} == {"time", "throttle", None}
