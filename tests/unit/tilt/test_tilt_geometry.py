"""Blocks, balance, gravity, Allan curve: what cannot be is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calib.checks.tilt.still import WANTED_DEG, average_s
from calib.tilt.geometry import (
    balance_angle_deg,
    normal_gravity_m_s2,
    raised_angle,
    slope_of_step_deg,
)
from calib.tilt.stillness import allan_curve, overlapping_deviation


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
    """Ten times the averaging time, a third of the deviation; and the time to reach a tenth."""
    tau_s, sigma = allan_curve(np.random.default_rng(1).normal(0, 1, 40_000), 100.0)
    one, ten = (sigma[np.argmin(np.abs(tau_s - t))] for t in (0.1, 1.0))
    assert one / ten == pytest.approx(np.sqrt(10), rel=0.1)
    assert average_s(tau_s, 10.0 * WANTED_DEG * sigma, "deg") == pytest.approx(1.0, rel=0.4)


def test_too_few_readings_have_no_curve() -> None:
    """Three readings, or clusters that do not fit, are refused."""
    with pytest.raises(ValueError, match="at least 4 are needed"):
        allan_curve(np.zeros(3), 1.0)
    with pytest.raises(ValueError, match="at least two must fit"):
        overlapping_deviation(np.zeros(9), 5)


def test_what_a_tape_and_a_plank_are_known_to() -> None:
    """Unless told otherwise 2 mm on the block and 5 mm on the wheelbase, by propagation.

    By hand: hypot(2, 100/1300·5) over the machine's run of √(1300² - 100²).
    """
    by_hand = math.degrees(math.hypot(2.0, 500.0 / 1300.0) / math.sqrt(1300.0**2 - 100.0**2))
    assert raised_angle(100.0, 1300.0).u_deg == pytest.approx(by_hand)
    assert raised_angle(0.5, 1250.0).angle_deg == pytest.approx(
        math.degrees(0.5 / 1250.0), rel=1e-6
    )


@pytest.mark.parametrize("latitude_deg", [-91.0, 90.5, 120.0])
def test_latitudes_lie_between_the_poles(latitude_deg: float) -> None:
    """Beyond either pole nothing is; the poles themselves are."""
    with pytest.raises(ValueError, match="between -90 and 90"):
        normal_gravity_m_s2(latitude_deg)
    assert normal_gravity_m_s2(-90.0) == normal_gravity_m_s2(90.0)


@pytest.mark.parametrize(("ahead_mm", "height_mm"), [(0.0, 600.0), (600.0, 0.0), (-1.0, 5.0)])
def test_a_balance_needs_both_lengths(ahead_mm: float, height_mm: float) -> None:
    """One of them alone tells no angle; a millimetre of each tells 45 degrees."""
    with pytest.raises(ValueError, match="both above 0"):
        balance_angle_deg(ahead_mm, height_mm)
    assert balance_angle_deg(1.0, 1.0) == pytest.approx(45.0)


def test_allan_deviation_by_hand() -> None:
    """Half the mean square of neighbouring differences: two clusters are enough, none is not."""
    assert overlapping_deviation(np.array([0.0, 1.0]), 1) == pytest.approx(0.5**0.5)
    assert overlapping_deviation(np.array([0.0, 1.0, 3.0]), 1) == pytest.approx(1.25**0.5)
    assert overlapping_deviation(np.array([0.0, 2.0, 4.0, 6.0]), 2) == pytest.approx(8.0**0.5)
    with pytest.raises(ValueError, match="clusters of 0"):
        overlapping_deviation(np.array([0.0, 1.0]), 0)


def test_a_far_off_mean_costs_allan_no_digits() -> None:
    """Counts about two thousand million wander as those about nothing do."""
    reading = np.random.default_rng(9).normal(size=2000)
    far = overlapping_deviation(reading + 2.0**31, 50)
    assert far == pytest.approx(overlapping_deviation(reading, 50), rel=1e-6)


def test_averaging_times_of_the_curve() -> None:
    """From one reading to a quarter of all, eight to a decade, by rows a second."""
    tau_s, _ = allan_curve(np.random.default_rng(2).normal(size=40_000), 50.0)
    assert (tau_s[0], tau_s[-1]) == (1 / 50.0, 200.0)
    assert tau_s[-1] / tau_s[-9] == pytest.approx(10.0, rel=1e-3)
    tau_s, sigma = allan_curve(np.array([0.0, 1.0, 0.0, 1.0]), 2.0)
    assert (tau_s.tolist(), sigma.tolist()) == ([0.5], [pytest.approx(0.5**0.5)])


@pytest.mark.parametrize(("target", "tau_s"), [(2.5, 2.0), (2.0, 2.0), (1.9, 4.0), (0.5, 4.0)])
def test_time_to_reach_a_deviation(target: float, tau_s: float) -> None:
    """The least time whose deviation is no larger than wanted; else that of the least."""
    times_s, sigma = np.array([1.0, 2.0, 4.0, 8.0]), np.array([3.0, 2.0, 1.0, 1.5])
    assert average_s(times_s, sigma * (WANTED_DEG / target), "deg") == tau_s
    assert average_s(times_s, sigma * WANTED_DEG, "V") == 4.0
