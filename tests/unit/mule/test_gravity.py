from __future__ import annotations

import numpy as np
import pytest

from calib.mule.gravity import (
    SQUARE,
    Accelerometer,
    Floor,
    Inclinometer,
    Lag,
    Pose,
    rotation,
    specific_force_g,
)


def _pose(
    heading_deg: float = 0.0, nose_up_deg: float = 0.0, left_deg: float = 0.0, push: float = 0.0
) -> Pose:
    return Pose(*(np.array([x]) for x in (heading_deg, nose_up_deg, left_deg, push)))


def test_level_machine_feels_one_g_upward() -> None:
    """At rest and level the specific force is +1 g on z (ISO 8855: z up)."""
    assert specific_force_g(Floor(), _pose())[0] == pytest.approx([0.0, 0.0, 1.0])


def test_nose_up_and_push_forward_show_on_x_lean_left_on_minus_y() -> None:
    """Nose up puts sin(angle) on x, a push its own g on x, a lean to the left -sin on y."""
    assert specific_force_g(Floor(), _pose(nose_up_deg=30))[0] == pytest.approx([0.5, 0, 0.75**0.5])
    assert specific_force_g(Floor(), _pose(push=0.981))[0][0] == pytest.approx(0.1)
    assert specific_force_g(Floor(), _pose(left_deg=30))[0] == pytest.approx([0, -0.5, 0.75**0.5])


def test_turning_end_for_end_turns_the_floor_round() -> None:
    """What the floor adds to pitch changes its sign when the machine is turned."""
    floor = Floor(rise_x_deg=1.0)
    ahead = specific_force_g(floor, _pose())[0]
    turned = specific_force_g(floor, _pose(heading_deg=180.0))[0]
    assert np.degrees(np.arcsin(ahead[0])) == pytest.approx(1.0)
    assert turned[0] == pytest.approx(-ahead[0])


def test_accelerometer_turned_to_the_left_sees_forward_on_its_minus_y() -> None:
    """A quarter turn to the left about z puts the machine's x on the sensor's -y."""
    accel = Accelerometer(mounting=rotation(yaw_deg=90.0), noise_g=0.0)
    own = accel.reading_g(np.array([[0.5, 0.0, 0.8]]), np.zeros(1), np.zeros((1, 3)))[0]
    assert own == pytest.approx([0.0, -0.5, 0.8])


def test_rotation_is_a_rotation() -> None:
    """Any mounting keeps lengths; none is the unit matrix."""
    matrix = np.array(rotation(20.0, -35.0, 100.0))
    assert matrix @ matrix.T == pytest.approx(np.eye(3))
    assert np.linalg.det(matrix) == pytest.approx(1.0)
    assert np.array(rotation()) == pytest.approx(np.array(SQUARE))


def test_accelerometer_clips_at_its_range() -> None:
    """A 1 g sensor never reads more than its range, whatever it feels."""
    accel = Accelerometer(range_g=0.8, noise_g=0.0)
    own = accel.reading_g(np.array([[0.0, 0.0, 1.0]]), np.zeros(1), np.zeros((1, 3)))
    assert accel.counts(own)[0].tolist() == [32768, 32768, round(32768 + 0.8 * 8192)]


def test_only_an_unfused_inclinometer_reads_a_push_as_tilt() -> None:
    """A push of 0.1 g makes 5.7 degrees of false pitch without a gyro, next to nothing with one."""
    still = specific_force_g(Floor(), _pose())
    moved = specific_force_g(Floor(), _pose(push=0.981))
    plain = Inclinometer(fused=False).slope_deg(still, moved)
    fused = Inclinometer(fused=True).slope_deg(still, moved)
    assert plain == pytest.approx(np.degrees(np.arctan(0.1)))
    assert abs(float(fused[0])) < 0.2


def test_inclinometer_turned_a_quarter_reads_lean() -> None:
    """With its axis to the left it answers to lean and not to pitch."""
    sideways = Inclinometer(axis_yaw_deg=90.0)
    nose = specific_force_g(Floor(), _pose(nose_up_deg=8.0))
    left = specific_force_g(Floor(), _pose(left_deg=8.0))
    assert sideways.slope_deg(nose, nose) == pytest.approx(0.0, abs=1e-9)
    assert sideways.slope_deg(left, left) == pytest.approx(-8.0)


def test_lag_reaches_63_per_cent_after_its_time_constant() -> None:
    """A step is followed to 1 - 1/e after one time constant, in one block or in several."""
    lag = Lag(0.5, 100.0)
    lag.block(np.zeros(1))
    whole = lag.block(np.ones(51))
    assert whole[49] == pytest.approx(1 - np.exp(-1), abs=1e-6)
    parts = Lag(0.5, 100.0)
    parts.block(np.zeros(1))
    joined = np.concatenate([parts.block(np.ones(20)), parts.block(np.ones(31))])
    assert joined == pytest.approx(whole)
