"""Tilt channels of a rig file: which they are, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.errors import UsageError
from calib.tilt.inputs import TiltInputs, find_inputs, series_of
from tests.tilt_files import ACCEL, PITCH, tilt_capture, tilt_rig
from tests.tilt_world import RATE_HZ

VOLTS = """
[channels.pitch]
role = "pitch"
column = "v"
unit = "count"
full_scale = 1024
reference_V = 5.0
zero_V = 2.5
sensitivity_V_per_deg = 0.02
"""
COLUMNS = ("ax", "ay", "az", "p", "v")


def test_an_analog_inclinometer_gives_degrees(tmp_path: Path) -> None:
    """Counts to volts to degrees: 2.5 V is zero and 20 mV a degree; its step is a quarter."""
    inputs = find_inputs(tilt_rig(tmp_path, VOLTS), COLUMNS)
    values = np.zeros((2, 5))
    values[:, 4] = [511.5, 511.5 + 0.2 * 1024 / 5.0]
    series = inputs.series(values, 100.0)
    assert series.pitch_deg == pytest.approx([0.0, 10.0], abs=1e-9)
    assert inputs.step_deg() == pytest.approx(5.0 / 1024 / 0.02)
    assert inputs.pitch_limits_deg() == pytest.approx((-124.88, 124.88), abs=0.01)


def test_radians_become_degrees(tmp_path: Path) -> None:
    """A channel in radians is analysed in degrees."""
    rig = tilt_rig(tmp_path, PITCH.replace('unit = "deg"', 'unit = "rad"'))
    series = find_inputs(rig, COLUMNS).series(np.full((1, 5), np.pi / 6), 100.0)
    assert series.pitch_deg == pytest.approx([30.0])


def test_gravity_is_that_of_the_latitude_for_a_sensor_in_m_s2(tmp_path: Path) -> None:
    """In m/s2 |g| must be normal gravity; a sensor in g is scaled to whatever gravity is."""
    metric = ACCEL.replace('unit = "g"', 'unit = "m/s2"')
    tilt = "[tilt]\nlatitude_deg = 80.0\n"
    assert find_inputs(tilt_rig(tmp_path, metric, tilt), COLUMNS).gravity_g == pytest.approx(
        9.8306144516 / 9.80665
    )
    assert find_inputs(tilt_rig(tmp_path, ACCEL, tilt), COLUMNS).gravity_g == 1.0


def test_truing_is_applied(tmp_path: Path) -> None:
    """True force is matrix times (reading less bias)."""
    truing = (
        "[tilt.truing]\nbias = [0.1, 0.0, 0.0]\n"
        "matrix = [[2.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]\n"
        'u = 0.001\ndate = "2026-01-01"\n'
    )
    inputs = find_inputs(tilt_rig(tmp_path, ACCEL, "[tilt]\n" + truing), COLUMNS)
    series = inputs.series(np.array([[0.2, 0.3, 0.9, 0.0, 0.0]]), 100.0)
    assert series.force_g == pytest.approx(np.array([[0.2, 0.3, 0.9]]))


def test_two_of_three_axes_are_no_accelerometer(tmp_path: Path) -> None:
    """A missing axis is named, and nothing is made of the other two."""
    text = ACCEL.split("[channels.az]", maxsplit=1)[0]
    with pytest.raises(UsageError, match="only accel-x, accel-y"):
        find_inputs(tilt_rig(tmp_path, text), COLUMNS)


def test_a_line_without_the_columns_has_no_tilt_sensor(tmp_path: Path) -> None:
    """The rig file names columns that this line does not carry."""
    with pytest.raises(UsageError, match="names no tilt sensor that this line carries"):
        find_inputs(tilt_rig(tmp_path, ACCEL + PITCH), ("a0", "a1"))


@pytest.mark.parametrize(
    ("text", "key"),
    [
        (VOLTS.replace("sensitivity_V_per_deg = 0.02\n", ""), "sensitivity_V_per_deg"),
        (ACCEL.replace('unit = "g"', 'unit = "V"', 1), "unit"),
        (PITCH.replace('unit = "deg"', 'unit = "raw"'), "unit"),
    ],
)
def test_a_unit_that_gives_no_angle_or_force_is_refused(
    tmp_path: Path, text: str, key: str
) -> None:
    """The missing key is named."""
    with pytest.raises(UsageError, match="which gives no") as refused:
        find_inputs(tilt_rig(tmp_path, text), COLUMNS)
    assert key in refused.value.hint


def test_a_gap_parts_stretches(tmp_path: Path) -> None:
    """Nothing is joined across a gap in time."""
    capture = tilt_capture(tmp_path, "c", {"p": np.zeros(400)})
    text = capture.path.read_text().splitlines()
    later = [f"{float(row.split(',')[0]) + 5:.3f},0,0" for row in text[201:]]
    capture.path.write_text("\r\n".join([*text[:201], *later]) + "\r\n")
    from tests.tilt_files import read_back

    _, series = series_of(read_back(capture.path), tilt_rig(tmp_path, PITCH))
    assert series.breaks == (200,)
    assert series.rate_hz == pytest.approx(RATE_HZ, rel=0.01)


def test_tilt_evidence_rests_on_all_tilt_channels(tmp_path: Path) -> None:
    """Controls and temperatures are not among them."""
    text = ACCEL + PITCH + '\n[channels.throttle]\nrole = "control"\ncolumn = "t"\nunit = "V"\n'
    assert set(tilt_rig(tmp_path, text).tilt_channels) == {"ax", "ay", "az", "pitch"}


def test_an_inclinometer_without_a_stated_zero_is_at_nought(tmp_path: Path) -> None:
    """0 V is level, and a degree is what the rig file says, turned over where it is negative."""
    bare = VOLTS.replace("zero_V = 2.5\n", "").replace("0.02", "-0.02")
    inputs = find_inputs(tilt_rig(tmp_path, bare), COLUMNS)
    values = np.zeros((1, 5))
    values[:, 4] = 0.2 * 1024 / 5.0 - 0.5
    assert inputs.series(values, 100.0).pitch_deg == pytest.approx([-10.0])
    assert inputs.step_deg() == pytest.approx(5.0 / 1024 / 0.02)
    limits = inputs.pitch_limits_deg()
    assert limits is not None
    assert limits[0] < limits[1]


def test_what_a_rig_file_names_and_what_it_does_not(tmp_path: Path) -> None:
    """Names of the judged channel, least range of the axes, and no step where none is stated."""
    both = find_inputs(tilt_rig(tmp_path, ACCEL.replace("4.0", "2.0", 1) + PITCH), COLUMNS)
    assert (both.pitch_name, both.names) == ("pitch", ("pitch", "ax", "ay", "az"))
    assert (both.has_force, both.range_g, both.gravity_g) == (True, 2.0, 1.0)
    assert (both.step_deg(), both.pitch_limits_deg()) == (0.0, None)
    force = find_inputs(tilt_rig(tmp_path, ACCEL), COLUMNS)
    assert (force.pitch_name, force.step_deg(), force.pitch_limits_deg()) == (None, 0.0, None)
    angle = find_inputs(tilt_rig(tmp_path, PITCH), COLUMNS)
    assert (angle.has_force, angle.range_g, angle.truing()) == (False, None, None)
    assert TiltInputs(angle.rig, {}).step_deg() == 0.0


def test_the_step_of_an_accelerometer_in_counts(tmp_path: Path) -> None:
    """One count of 1024 to 1 g is 0.056 degrees at level."""
    counts = ACCEL.replace('unit = "g"', 'unit = "count"\ncounts_per_g = 1024')
    inputs = find_inputs(tilt_rig(tmp_path, counts), COLUMNS)
    assert inputs.step_deg() == pytest.approx(np.degrees(1.0 / 1024.0))
    series = inputs.series(np.array([[0.0, 512.0, 1024.0, 0.0, 0.0]]), 100.0, breaks=[1])
    assert series.force_g == pytest.approx(np.array([[0.0, 0.5, 1.0]]))
    assert (series.pitch_deg, series.roll_deg, series.breaks) == (None, None, (1,))


@pytest.mark.parametrize(
    ("text", "word"),
    [
        (VOLTS.replace("sensitivity_V_per_deg = 0.02\n", ""), "gives no angle"),
        (ACCEL.replace('unit = "g"', 'unit = "V"', 1), "gives no force"),
    ],
)
def test_what_a_unit_does_not_give_is_named(tmp_path: Path, text: str, word: str) -> None:
    """An angle for pitch and roll, a force for the three axes."""
    with pytest.raises(UsageError, match=word):
        find_inputs(tilt_rig(tmp_path, text), COLUMNS)


def test_a_rest_of_an_axis_is_no_force(tmp_path: Path) -> None:
    """One axis that is placed makes no accelerometer."""
    rig = tilt_rig(tmp_path, ACCEL)
    assert not TiltInputs(rig, {"accel-x": ("ax", 0)}).has_force
    assert TiltInputs(rig, {"accel-x": ("ax", 0)}).range_g == 4.0
