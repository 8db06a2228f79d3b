"""A wheel's counter that wraps, against satellite speed, from the recording as it lies.

Source and licence: SOURCE.txt beside the recording; figures from its EXPECTED.json.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from calib.wheel.counting import unwrapped
from calib.wheel.shown import shown_over_true, within_r39
from tests.e2e.running import calib
from tests.tools import require_recording

RIG = """
[time]
column = "t_s"
unit = "s"

[channels.wheel]
role = "wheel"
column = "counter"
unit = "pulses"
"""


def test_counts_a_metre_are_recovered_whole_and_in_slices() -> None:
    """81 wraps undone: 20.657 counts a metre over a minute, and 0.164 of scatter over 12 slices."""
    folder = require_recording("car_wheel_gnss")
    answers = json.loads((folder / "EXPECTED.json").read_text())
    gnss = np.loadtxt(folder / "gnss.csv", delimiter=",", skiprows=1)
    counter = np.loadtxt(folder / "wheel_counter.csv", delimiter=",", skiprows=1)
    counts = unwrapped(counter[:, 1])
    assert int(counts[-1] // 256) == answers["counter_wraps"]
    steps_m = 0.5 * (gnss[1:, 1] + gnss[:-1, 1]) * np.diff(gnss[:, 0])
    way_m = np.concatenate([[0.0], np.cumsum(steps_m)])
    edges_s = np.linspace(gnss[0, 0], min(gnss[-1, 0], counter[-1, 0]), 13)
    at_m = np.interp(edges_s, gnss[:, 0], way_m)
    at_counts = np.interp(edges_s, counter[:, 0], counts)
    whole = (at_counts[-1] - at_counts[0]) / (at_m[-1] - at_m[0])
    assert whole == pytest.approx(answers["counts_per_metre"], abs=0.005)
    slices = np.diff(at_counts) / np.diff(at_m)
    assert slices.std(ddof=1) == pytest.approx(answers["counts_per_metre_sd_of_slices"], rel=0.05)


def test_the_command_finds_them_within_the_scatter_of_the_slices(tmp_path: Path) -> None:
    """The whole log over the way that the satellites saw, which began a little later."""
    folder = require_recording("car_wheel_gnss")
    answers = json.loads((folder / "EXPECTED.json").read_text())
    (tmp_path / "rig.toml").write_text(RIG, encoding="utf-8")
    done = calib(
        "wheel", "--from", folder / "wheel_counter.csv", "--rolled-m",
        f"{answers['gnss_distance_m']:.3f}", "--json", cwd=tmp_path,
    )  # fmt: skip
    found = json.loads(done.stdout)
    assert done.returncode == 0, done.stdout
    assert found["pulses_a_metre"] == pytest.approx(
        answers["counts_per_metre"], abs=answers["counts_per_metre_sd_of_slices"]
    )


def test_wheel_speed_against_satellite_speed() -> None:
    """Four wheel speeds as a display would show them: a trip of 0.992 of the satellites'."""
    folder = require_recording("car_wheel_gnss")
    answers = json.loads((folder / "EXPECTED.json").read_text())
    gnss = np.loadtxt(folder / "gnss.csv", delimiter=",", skiprows=1)
    wheels = np.loadtxt(folder / "wheel_speed.csv", delimiter=",", skiprows=1)
    from_s, to_s = gnss[0, 0], min(gnss[-1, 0], wheels[-1, 0])
    time_s = np.arange(from_s, to_s, 0.01)
    shown_m = np.trapezoid(np.interp(time_s, wheels[:, 0], wheels[:, 1:].mean(axis=1)), time_s)
    true_m = np.trapezoid(np.interp(time_s, gnss[:, 0], gnss[:, 1]), time_s)
    factor, u = shown_over_true(float(shown_m), 0.0, float(true_m), 0.001 * float(true_m), reads=2)
    assert factor == pytest.approx(answers["wheel_over_gnss"], abs=0.001)
    assert factor < 1.0 - 1.96 * u
    assert not within_r39(factor * 50.0, 50.0)
