"""Blocks, balance, gravity, Allan curve: what cannot be is refused."""

from __future__ import annotations

import numpy as np
import pytest

from calib.tilt.allan import allan_curve, overlapping_deviation
from calib.tilt.geometry import balance_angle_deg, raised_angle, slope_of_step_deg
from calib.tilt.gravity import normal_gravity_m_s2


@pytest.mark.parametrize("block_mm", [0.0, -50.0, 1250.0, 2000.0])
def test_a_block_that_cannot_be_is_refused(block_mm: float) -> None:
    """A block is above 0 and below the wheelbase."""
    with pytest.raises(ValueError, match="higher than 0 and lower than the wheelbase"):
        raised_angle(block_mm, 1250.0)


def test_a_centre_of_gravity_that_cannot_be_is_refused() -> None:
    """Both lengths are above 0."""
    with pytest.raises(ValueError, match="both above 0"):
        balance_angle_deg(600.0, 0.0)


def test_latitude_beyond_the_pole_is_refused() -> None:
    """Latitudes end at 90 degrees."""
    with pytest.raises(ValueError, match="between -90 and 90"):
        normal_gravity_m_s2(91.0)


@pytest.mark.parametrize(("step_mm", "slope_deg"), [(5, 0.23), (10, 0.46), (20, 0.92)])
def test_a_step_under_a_wheel(step_mm: float, slope_deg: float) -> None:
    """5, 10, 20 mm over 1250 mm are 0.23, 0.46, 0.92 degrees."""
    assert slope_of_step_deg(step_mm, 1250) == pytest.approx(slope_deg, abs=0.005)


def test_white_noise_averages_by_the_root_of_time() -> None:
    """Ten times the averaging time, a third of the deviation; and the time to reach a target."""
    curve = allan_curve(np.random.default_rng(1).normal(0, 1, 40_000), 100.0)
    one, ten = (curve.sigma[np.argmin(np.abs(curve.tau_s - t))] for t in (0.1, 1.0))
    assert one / ten == pytest.approx(np.sqrt(10), rel=0.1)
    reached = curve.time_to_reach_s(0.1)
    assert reached is not None
    assert reached == pytest.approx(1.0, rel=0.4)
    assert curve.time_to_reach_s(1e-9) is None
    assert curve.best()[1] == curve.sigma.min()


def test_too_few_readings_have_no_curve() -> None:
    """Three readings, or clusters that do not fit, are refused."""
    with pytest.raises(ValueError, match="at least 4 are needed"):
        allan_curve(np.zeros(3), 1.0)
    with pytest.raises(ValueError, match="at least two must fit"):
        overlapping_deviation(np.zeros(9), 5)
