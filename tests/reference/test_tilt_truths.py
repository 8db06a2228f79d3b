"""Tilt arithmetic against what others computed or published."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import numpy as np
import pytest
import scipy.constants
from scipy.spatial.transform import Rotation

from calib.store.conversion import STANDARD_GRAVITY_M_S2
from calib.tilt.attitude import left_up_deg, nose_up_deg
from calib.tilt.geometry import (
    balance_angle_deg,
    false_pitch_deg,
    normal_gravity_m_s2,
    raised_angle,
)
from calib.tilt.stillness import allan_curve, overlapping_deviation
from tests.tools import REPOSITORY, require_library

FIXTURES = REPOSITORY / "fixtures" / "reference" / "tilt"


def _rows(path: Path) -> list[dict[str, float]]:
    with path.open(newline="") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


def test_attitude_agrees_with_the_table_of_known_attitudes() -> None:
    """Pitch is nose-up positive and roll left-up positive in all 33 published-sign attitudes."""
    rows = _rows(FIXTURES / "tilt_truth.csv")
    assert len(rows) == 33
    for row in rows:
        force = np.array([row["fx_iso_g"], row["fy_iso_g"], row["fz_iso_g"]])
        assert nose_up_deg(force) == pytest.approx(row["pitch_aero_noseup_deg"], abs=1e-6)
        assert left_up_deg(force) == pytest.approx(row["roll_iso8855_deg"], abs=1e-6)
        assert -nose_up_deg(force) == pytest.approx(row["pitch_iso8855_deg"], abs=1e-6)


def test_attitude_agrees_with_scipy_rotation() -> None:
    """A machine turned by scipy (ISO 8855: yaw, then pitch nose-down positive, then roll)."""
    rng = np.random.default_rng(11)
    for yaw, nose_up, roll in rng.uniform((-180, -80, -80), (180, 80, 80), (50, 3)):
        turned = Rotation.from_euler("ZYX", [yaw, -nose_up, roll], degrees=True)
        force = turned.inv().apply([0.0, 0.0, 1.0])
        assert nose_up_deg(force) == pytest.approx(nose_up, abs=1e-9)
        assert left_up_deg(force) == pytest.approx(roll, abs=1e-9)


def test_attitude_agrees_with_an_attitude_library() -> None:
    """The library ahrs (after AN3461 and AN-1057) gives roll alike and pitch nose down."""
    ahrs = require_library("ahrs")
    rng = np.random.default_rng(12)
    for nose_up, roll in rng.uniform(-60, 60, (20, 2)):
        turned = Rotation.from_euler("ZYX", [0.0, -nose_up, roll], degrees=True)
        force = turned.inv().apply([0.0, 0.0, 1.0])
        tilt = ahrs.filters.Tilt(acc=force.reshape(1, 3), representation="angles")
        library_roll, library_pitch, _ = tilt.angles[0]
        assert math.degrees(library_roll) == pytest.approx(roll, abs=1e-6)
        assert -math.degrees(library_pitch) == pytest.approx(nose_up, abs=1e-6)


def test_sensitivity_agrees_with_the_data_sheets() -> None:
    """One degree at level is nearly 17.5 mg, at 45 degrees 12.2 mg (ADXL202, ADXL103 sheets)."""
    rows = _rows(FIXTURES / "sensitivity.csv")
    steps_mg = {row["tilt_deg"]: row["next_degree_step_mg"] for row in rows if row["tilt_deg"] < 90}
    for tilt_deg, step_mg in steps_mg.items():
        x_g = math.sin(math.radians(tilt_deg)) + 1e-3 * step_mg
        force = np.array([x_g, 0.0, math.sqrt(max(0.0, 1.0 - x_g**2))])
        assert float(nose_up_deg(force)) == pytest.approx(tilt_deg + 1.0, abs=1e-4), tilt_deg
    assert steps_mg[0.0] == pytest.approx(17.5, abs=0.05)
    assert steps_mg[45.0] == pytest.approx(12.2, abs=0.05)


def test_normal_gravity_agrees_with_the_geodesy_table() -> None:
    """WGS 84 at sea level from pole to pole, to the last digit of the table."""
    for row in _rows(FIXTURES / "normal_gravity.csv"):
        found = normal_gravity_m_s2(row["lat_deg"])
        assert found == pytest.approx(row["WGS84_boule"], abs=1e-10)
        assert normal_gravity_m_s2(-row["lat_deg"]) == found


def test_normal_gravity_agrees_with_a_geodesy_library() -> None:
    """boule, closed form: the same on the ellipsoid, and up to 2 km within a thousandth of it."""
    boule = require_library("boule")
    for latitude in (-62.5, 0.0, 33.3, 48.0):
        for height, within in ((0.0, 1e-6), (2000.0, 0.01)):
            library = float(boule.WGS84.normal_gravity((0.0, latitude, height))) / 1e5
            assert normal_gravity_m_s2(latitude) == pytest.approx(library, abs=within)


def test_normal_gravity_agrees_with_published_test_values() -> None:
    """50 degrees, as in the tests of the library ahrs."""
    assert normal_gravity_m_s2(50.0) == pytest.approx(9.810702135603085, abs=1e-10)


def test_allan_deviation_of_the_published_sets() -> None:
    """Overlapping Allan deviations of NIST SP 1065 to its seven printed digits."""
    published = json.loads((FIXTURES / "allan_sp1065.json").read_text())
    small = published["set_9"]
    for tau, sigma in zip(small["tau"], small["OADEV"], strict=True):
        found = overlapping_deviation(np.array(small["reading"]), tau)
        assert found == pytest.approx(sigma, rel=1e-6)
    large = published["set_1000"]
    counts = [1234567890]
    while len(counts) < 1000:
        counts.append(16807 * counts[-1] % 2147483647)
    assert counts[:4] == large["first"]
    reading = np.array(counts) / 2147483647
    for tau, sigma in zip(large["tau"], large["OADEV"], strict=True):
        assert overlapping_deviation(reading, tau) == pytest.approx(sigma, rel=1e-6)


def test_allan_deviation_agrees_with_a_library() -> None:
    """Allantools on a random walk with noise, at every averaging time of the curve."""
    allantools = require_library("allantools")
    rng = np.random.default_rng(13)
    reading = rng.normal(0, 1, 4000) + np.cumsum(rng.normal(0, 0.02, 4000))
    tau_s, found = allan_curve(reading, 50.0)
    taus, sigma, _, _ = allantools.oadev(reading, rate=50.0, data_type="freq", taus=tau_s)
    assert taus == pytest.approx(tau_s)
    assert sigma == pytest.approx(found, rel=1e-9)


@pytest.mark.parametrize(
    ("block_mm", "wheelbase_mm", "angle_deg"),
    [(100, 1300, 4.411726), (50, 1000, 2.865984), (60, 850, 4.047774), (150, 1400, 6.150640)],
)
def test_block_trigonometry(block_mm: float, wheelbase_mm: float, angle_deg: float) -> None:
    """Equal wheels stay a wheelbase apart, so the angle is an arcsine, not an arctangent."""
    assert raised_angle(block_mm, wheelbase_mm).angle_deg == pytest.approx(angle_deg, abs=1e-6)
    arctangent = math.degrees(math.atan(block_mm / wheelbase_mm))
    assert abs(arctangent - angle_deg) > 1e-3


def test_block_uncertainty() -> None:
    """2 mm on the block and 5 mm on the wheelbase give 0.0900 degrees (law of propagation)."""
    assert raised_angle(100, 1300).u_deg == pytest.approx(0.090029, abs=1e-6)


@pytest.mark.parametrize(
    ("ahead_mm", "height_mm", "angle_deg"),
    [(650, 600, 47.290610), (450, 800, 29.357754), (500, 950, 27.758541)],
)
def test_balance_angle(ahead_mm: float, height_mm: float, angle_deg: float) -> None:
    """Moment balance about the rear contact: atan(b / h)."""
    assert balance_angle_deg(ahead_mm, height_mm) == pytest.approx(angle_deg, abs=1e-6)


@pytest.mark.parametrize(
    ("push_m_s2", "pitch_deg"),
    [(0.1, 0.5842), (0.5, 2.9187), (1, 5.8224), (2, 11.5270), (3, 17.0097), (5, 27.0151)],
)
def test_false_pitch_of_a_push(push_m_s2: float, pitch_deg: float) -> None:
    """A push forward looks like a raised nose, by atan(a / g); braking the other way."""
    assert false_pitch_deg(push_m_s2) == pytest.approx(pitch_deg, abs=1e-4)
    assert false_pitch_deg(-push_m_s2) == pytest.approx(-pitch_deg, abs=1e-4)


def test_standard_gravity_agrees_with_scipy() -> None:
    """1 g is scipy's standard acceleration of gravity."""
    assert scipy.constants.g == STANDARD_GRAVITY_M_S2
