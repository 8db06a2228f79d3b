"""Open recordings as strangers left them, through the command line: their clocks and lines."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calib.cli import main
from tests.tools import require_recording


def run(*arguments: str) -> tuple[int, dict[str, Any]]:
    """Exit code and document of one command."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), pytest.raises(SystemExit) as ended:
        main([*arguments, "--json"])
    text = out.getvalue()
    assert "NaN" not in text
    return int(ended.value.code or 0), json.loads(text)


def set_up(folder: Path, log: Path, *options: str, **columns: str) -> dict[str, Any]:
    """The document of a rig file that setup made from a log."""
    given = [f"{channel}={column}" for channel, column in columns.items()]
    stated = [word for each in given for word in ("--column", each)]
    rig = str(folder / "rig.toml")
    code, document = run("setup", "--rig", rig, "--from", str(log), "--yes", *stated, *options)
    assert code in (0, 1)
    return document


def judged(folder: Path, log: Path, *command: str) -> tuple[int, dict[str, Any]]:
    """Exit code and document of a command on the log."""
    return run(*command, "--rig", str(folder / "rig.toml"), "--from", str(log), "--yes")


def expected(folder: Path) -> dict[str, Any]:
    """The reference answers."""
    found: dict[str, Any] = json.loads((folder / "EXPECTED.json").read_text(encoding="utf-8"))
    return found


OTHER = ("--role", "x=other", "--unit", "x=raw")


def test_whole_seconds_in_brackets_that_rows_share(tmp_path: Path) -> None:
    """A bicycle's logger: the rate by rows a second, no gap, and the fused pitch at rest."""
    folder = require_recording("bike_rtc_seconds")
    log, truth = folder / "Data_first4300.csv", expected(folder)
    set_up(tmp_path, log, "--unit", "pitch=deg", "--unit", "roll=deg", pitch="Pitch", roll="Roll")
    code, level = judged(tmp_path, log, "level")
    assert code == 0
    assert level["capture"]["samples"] == truth["rows"]
    assert level["capture"]["gaps"] == truth["stamp_goes_back"] == 0
    seconds = truth["distinct_stamps"] - 2
    u_rate_hz = truth["rate_hz_sd_of_seconds"] / np.sqrt(seconds)
    assert level["capture"]["rate_hz"] == pytest.approx(truth["rate_hz_mean"], abs=2 * u_rate_hz)
    assert level["pitch"]["reading"] == pytest.approx(truth["still"]["pitch_mean"], abs=0.02)
    assert {"stamps-ragged"} <= {finding["code"] for finding in level["findings"]}
    code, still = judged(tmp_path, log, "still")
    assert code == 1
    assert still["hold_s"] < truth["span_s"]


@pytest.mark.parametrize(
    ("name", "rate", "column"),
    [
        ("wheel_speed.csv", "wheel_rate_hz", "front_left_m_s"),
        ("wheel_counter.csv", "counter_rate_hz", "counter"),
        ("gnss.csv", "gnss_rate_hz", "speed_m_s"),
    ],
)
def test_ragged_stamps_of_a_car(tmp_path: Path, name: str, rate: str, column: str) -> None:
    """Messages stamped as they came by: the rate is that of count and span, and nothing is lost."""
    folder = require_recording("car_wheel_gnss")
    set_up(tmp_path, folder / name, *OTHER, x=column)
    _, still = judged(tmp_path, folder / name, "still", "x")
    assert still["capture"]["rate_hz"] == pytest.approx(expected(folder)[rate], rel=5e-3)
    assert still["capture"]["gaps"] == 0


@pytest.mark.parametrize("name", ["run_log.csv", "run_log_stats.csv"])
def test_a_runners_log(tmp_path: Path, name: str) -> None:
    """Date and time in words, with a zone and a column of words in one of the two: all rows."""
    folder = require_recording("run_log")
    document = set_up(tmp_path, folder / name, *OTHER, x="Pace")
    settings = {f"{each['table']}.{each['key']}": each["value"] for each in document["settings"]}
    assert settings["time.unit"] == "text"
    _, still = judged(tmp_path, folder / name, "still", "x")
    _, check = judged(tmp_path, folder / name, "check")
    assert check["channels"]["x"]["figures"]["hum"] is None  # at 0.2 Hz no mains can be seen
    truth = expected(folder)["run_log"]
    assert still["capture"]["samples"] == truth["rows"]
    assert still["capture"]["rejected_lines"] == 0
    assert 1.0 / still["capture"]["rate_hz"] == pytest.approx(truth["dt_mode_s"], rel=0.1)


def test_two_tracks_of_a_pedal_with_empty_fields(tmp_path: Path) -> None:
    """A time of day, names of forty letters, fields that are empty at first: every row counts."""
    folder = require_recording("pedal_two_track")
    log, truth = folder / "recording.csv", expected(folder)["recording.csv"]
    name = "Accelerator Pedal Position D [%]"
    document = set_up(tmp_path, log, "--role", "x=control", "--unit", "x=percent", x=name)
    assert document["columns"][0]["use"] == "time"
    assert len(document["columns"]) == truth["n_columns"]
    _, travel = judged(tmp_path, log, "travel", "x")
    assert travel["capture"]["rejected_lines"] == 0
    assert travel["capture"]["samples"] == truth["D"]["n"]
    assert travel["verdict"] in ("fail", "unknown")
    assert travel["dead_band"] is None


@pytest.mark.parametrize(
    ("name", "step", "column"),
    [
        ("data_ngimu__sensors.csv", "dt_s_median", "Accelerometer X (g)"),
        ("data_xio3__Inertial.csv", "dt_s_median", "Accelerometer X (g)"),
        ("data_yei.txt", "dt_us_median", "7"),
    ],
)
def test_makers_own_texts(tmp_path: Path, name: str, step: str, column: str) -> None:
    """Units in names, comments, microseconds without a name: the clock is found by itself.

    The reference gives the median step, and some steps are shorter: 2 per cent for count and span.
    """
    folder = require_recording("imu_text_formats")
    set_up(tmp_path, folder / name, *OTHER, x=column)
    _, still = judged(tmp_path, folder / name, "still", "x")
    truth = expected(folder)[name]
    step_s = truth[step] * (1e-6 if "us" in step else 1.0)
    assert still["capture"]["samples"] == truth["rows"]
    assert 1.0 / still["capture"]["rate_hz"] == pytest.approx(step_s, rel=2e-2)


def test_a_log_without_a_clock_takes_a_stated_rate_or_is_refused(tmp_path: Path) -> None:
    """A counter is no clock: what needs time is refused in one line until the rate is stated."""
    folder = require_recording("imu_text_formats")
    log, truth = folder / "data_xsens.txt", expected(folder)["data_xsens.txt"]
    set_up(tmp_path, log, *OTHER, x="Acc_X")
    code, error = judged(tmp_path, log, "still", "x")
    assert code == 2
    assert "no clock" in error["what"]
    assert "--rate-hz" in error["hint"]
    _, still = judged(tmp_path, log, "still", "x", "--rate-hz", str(truth["rate_header_hz"]))
    assert still["capture"]["rate_hz"] == pytest.approx(truth["rate_header_hz"])
    assert still["capture"]["samples"] == truth["rows"]


def test_a_pedal_with_one_part_press_is_refused(tmp_path: Path) -> None:
    """Rest without noise and one press that began before the file: no full travel, no value."""
    folder = require_recording("car_pedal_can")
    log, truth = folder / "pedal.csv", expected(folder)
    scale = ("--unit", "x=count", "--full-scale", "x=256", "--reference-V", "x=5")
    set_up(tmp_path, log, "--role", "x=control", *scale, x="pedal")
    code, travel = judged(tmp_path, log, "travel", "x")
    assert code == 1
    assert travel["presses"] == 0
    assert travel["dead_band"] is None
    assert travel["capture"]["rate_hz"] == pytest.approx(truth["rate_hz"], rel=1e-3)
    _, check = judged(tmp_path, log, "check", "--quick")
    channel = check["channels"]["x"]
    assert (check["verdict"], channel["verdict"]) == ("unknown", "unknown")
    assert "half-pressed" in [each["code"] for each in channel["findings"]]
    middle_V = (truth["rest_mean"] + 0.5) * 5.0 / 256.0
    assert channel["figures"]["rest"]["mean"] == pytest.approx(middle_V)
    assert channel["figures"]["full"] is None


def test_words_beside_six_faces(tmp_path: Path) -> None:
    """A column of labels does not refuse the file; without a clock the poses ask for the rate."""
    folder = require_recording("imu_six_faces_counts")
    log, truth = folder / "annotated_session_no_rot.csv", expected(folder)
    axes = {f"accel_{axis}": f"acc_{axis}" for axis in "xyz"}
    options = [word for axis in "xyz" for word in
               ("--role", f"accel_{axis}=accel-{axis}", "--unit", f"accel_{axis}=count",
                "--set", f"channels.accel_{axis}.counts_per_g=2050")]  # fmt: skip
    set_up(tmp_path, log, *options, **axes)
    code, error = judged(tmp_path, log, "poses")
    assert code == 2
    assert "no clock" in error["what"]
    _, poses = judged(tmp_path, log, "poses", "--rate-hz", "200")
    assert poses["capture"]["samples"] == truth["rows"]
    assert poses["poses"] == len(truth["counts_per_part"])
