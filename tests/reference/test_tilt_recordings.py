"""Open recordings of real sensors, whose answers are known from elsewhere."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from scipy.spatial.transform import Rotation

from calib.measure.sliding import Run
from calib.tilt.attitude import angle_between_deg, left_up_deg, nose_up_deg
from calib.tilt.poses import fit_truing
from calib.tilt.series import TiltSeries, reading_of, rests_of
from tests.tools import require_recording

Array = npt.NDArray[np.float64]

# a deliberately rough nominal scale: the truing has to find what the maker found
COUNTS_PER_G = 4000.0
ZERO_COUNT = 32768.0


def _multipos(folder: Path) -> tuple[TiltSeries, Array]:
    rows = np.loadtxt(folder / "xsens_multipos.csv", delimiter=",", skiprows=1)
    return TiltSeries(100.0, force_g=(rows[:, 1:4] - ZERO_COUNT) / COUNTS_PER_G), rows[:, 0]


def _motion(folder: Path) -> tuple[TiltSeries, Array]:
    rows = np.loadtxt(folder / "sensor_data.csv", delimiter=",", skiprows=1)
    return TiltSeries(1 / 0.01008, force_g=rows[:, 4:7]), rows[:, 0]


def test_every_pose_placed_by_hand_is_found() -> None:
    """All 38 published rests of a real recording are found, each inside one stretch of ours."""
    folder = require_recording("xsens_multipos")
    series, time_s = _multipos(folder)
    expected = json.loads((folder / "EXPECTED.json").read_text())["static_intervals_s"]
    found = [(time_s[s.first], time_s[s.stop - 1]) for s in rests_of(series)]
    assert len(expected) == 38
    for start_s, stop_s in expected:
        middle_s = (start_s + stop_s) / 2
        around = [(a, b) for a, b in found if a <= middle_s <= b]
        assert around, f"rest at {middle_s:.1f} s was not found"
    assert 38 <= len(found) <= 40


def test_truing_agrees_with_the_makers_factory_values() -> None:
    """Offsets within 6 of 4000 counts and scales within 0.3 % of the factory's, all three axes.

    The published fit of the same recording (EXPECTED.json, triangular) is met far closer; the
    factory's own figures were made at another time and temperature.
    """
    folder = require_recording("xsens_multipos")
    series, _ = _multipos(folder)
    poses = np.array([reading_of(series, still).force_g for still in rests_of(series, least_s=2.0)])
    truing = fit_truing(poses)
    expected = json.loads((folder / "EXPECTED.json").read_text())
    assert truing.claim == "full"
    offset = ZERO_COUNT + truing.bias_g * COUNTS_PER_G
    scale = COUNTS_PER_G / 9.81744 * np.diag(truing.matrix) ** -1
    assert offset == pytest.approx(expected["published_factory"]["acc_offset"], abs=6.0)
    published = expected["published_factory"]["acc_scale_counts_per_mps2"]
    assert scale == pytest.approx(published, rel=3e-3)
    reference = expected["calibration"]["thr10"]["triangular"]
    assert offset == pytest.approx(reference["bias_counts"], abs=0.2)
    local_ratio = 4000 / 9.81744 / np.diag(truing.matrix) / reference["counts_per_mps2"]
    assert local_ratio == pytest.approx(np.ones(3), abs=1e-4)
    assert truing.rms_g < 0.001 < truing.raw_rms_g


def test_too_few_poses_claim_nothing() -> None:
    """Six rests, all near level: nothing is claimed and the readings stay as they are."""
    series, _ = _motion(require_recording("ngimu_motion"))
    stretches = rests_of(series, least_s=2.0)
    truing = fit_truing(np.array([reading_of(series, s).force_g for s in stretches]))
    assert len(stretches) == 6
    assert truing.claim == "none"
    assert truing.distinct == 1
    assert (truing.bias_g.tolist(), truing.matrix.tolist()) == ([0.0] * 3, np.eye(3).tolist())


def test_rest_tilt_agrees_with_an_attitude_filter() -> None:
    """Pitch and roll at rest within 0.1 degrees of what the library imufusion made of it."""
    folder = require_recording("ngimu_motion")
    series, time_s = _motion(folder)
    rests = json.loads((folder / "EXPECTED.json").read_text())["static"]
    assert len(rests) == 6
    for rest in rests:
        start, stop = np.searchsorted(time_s, (rest["t0"], rest["t1"]))
        reading = reading_of(series, Run(int(start), int(stop)))
        library_roll, library_pitch = rest["imufusion_roll_pitch_deg(mid)"]
        # that library's pitch is right-handed about y to the left: positive nose down
        assert reading.pitch_deg == pytest.approx(-library_pitch, abs=0.1)
        assert reading.roll_deg == pytest.approx(library_roll, abs=0.1)


def test_rest_tilt_agrees_with_the_devices_own_answer() -> None:
    """The force at rest points within 0.2 degrees of up, as the device's own quaternion has it."""
    path = require_recording("imu_text_formats") / "data_xsens.txt"
    lines = path.read_text().splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("Counter"))
    rows = np.array([[float(f) for f in line.split()] for line in lines[start + 1 : start + 26]])
    force = rows[:, 1:4].mean(axis=0)
    w, x, y, z = rows[:, 10:14].mean(axis=0)
    up = Rotation.from_quat([x, y, z, w]).inv().apply([0.0, 0.0, 1.0])
    assert angle_between_deg(force, up) == pytest.approx(0.196, abs=0.01)
    assert left_up_deg(force) == pytest.approx(102.26, abs=0.01)
    assert nose_up_deg(force) == pytest.approx(26.67, abs=0.01)


def test_six_labelled_faces_give_the_bias() -> None:
    """Six faces of a real sensor in counts: the bias within 5 mg of the published faces' middle.

    Exactly six poses leave nothing over for scale and cross-axis: those are not claimed. The
    author's labels tell the faces; the file's own text column carries them.
    """
    folder = require_recording("imu_six_faces_counts")
    expected = json.loads((folder / "EXPECTED.json").read_text())
    rows = [line.split(",") for line in next(folder.glob("*.csv")).read_text().splitlines()[1:]]
    parts = [row[0] for row in rows]
    counts = np.array([[float(word) for word in row[2:5]] for row in rows])
    means = np.array(
        [counts[[part == face for part in parts]].mean(axis=0) for face in dict.fromkeys(parts)]
    )
    truing = fit_truing(means / 2048.0)
    assert truing.claim == "bias"
    published = np.array(expected["six_face_bias"]) / np.array(expected["six_face_counts_per_g"])
    assert truing.bias_g == pytest.approx(published, abs=0.005)
    assert np.array_equal(truing.matrix, np.eye(3))
