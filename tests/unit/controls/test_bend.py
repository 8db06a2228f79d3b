"""Whether readings bend, and the curve through those that do."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.bend import curve_through, find_bend

Floats = NDArray[np.float64]
LEVELS_V = np.array([0.5, 1.0, 1.5, 2.0, 2.5, 3.0])
ROUNDING_V = 0.01 / 12.0**0.5


def bowed(logger_V: Floats, depth_V: float) -> Floats:
    """True volts of a converter that bows by a parabola of this depth over 3 V."""
    return logger_V + 4.0 * depth_V * (logger_V / 3.0) * (1.0 - logger_V / 3.0)


def test_four_readings_claim_nothing() -> None:
    """With fewer than five places no bend is told, however large."""
    assert find_bend(LEVELS_V[:4], bowed(LEVELS_V[:4], 0.5), ROUNDING_V, beyond=True) is None


def test_a_smooth_bow_is_a_bend() -> None:
    """A bow of 60 mV over readings rounded to 10 mV is told."""
    found = find_bend(LEVELS_V, np.round(bowed(LEVELS_V, 0.06), 2), ROUNDING_V)
    assert found is not None
    assert found.is_one
    assert found.rests_on_V is None


def test_a_knee_at_the_end_is_a_bend_that_rests_on_one_reading() -> None:
    """Straight up to the last reading and 0.15 V below at it: a bend, by that reading alone."""
    true_V = LEVELS_V.copy()
    true_V[-1] -= 0.15
    found = find_bend(LEVELS_V, true_V, ROUNDING_V, beyond=True)
    assert found is not None
    assert found.is_one
    assert found.rests_on_V == 3.0


@pytest.mark.parametrize("slip", [1, 2, 3, 4])
def test_a_slip_between_the_ends_is_no_bend(slip: int) -> None:
    """One reading typed 0.1 V wrong among straight ones is not a converter that bows."""
    true_V = LEVELS_V.copy()
    true_V[slip] += 0.1
    found = find_bend(LEVELS_V, true_V, ROUNDING_V, beyond=True)
    assert found is not None
    assert not found.is_one


def test_straight_readings_seldom_bend() -> None:
    """Of 500 straight sets, rounded and noisy, at most 1 % are told to bend."""
    rng = np.random.default_rng(31)
    told = 0
    for _ in range(500):
        true_V = np.round(1.01 * LEVELS_V - 0.01 + rng.normal(0.0, 0.002, 6), 2)
        found = find_bend(LEVELS_V + rng.normal(0.0, 0.001, 6), true_V, ROUNDING_V)
        told += found is not None and found.is_one
    assert told <= 5


def test_a_curve_stays_near_what_it_was_drawn_from() -> None:
    """Rows through seven readings of a bow are within 3 mV of it everywhere, and rise."""
    x = np.linspace(0.3, 2.9, 7)
    rows = curve_through(x, bowed(x, 0.1), np.full(7, 0.001), 0.0)
    assert rows is not None
    raw, true, u_V = np.array(rows).T
    assert (np.diff(raw) > 0.0).all()
    assert (np.diff(true) > 0.0).all()
    at = np.linspace(0.3, 2.9, 400)
    assert np.abs(np.interp(at, raw, true) - bowed(at, 0.1)).max() < 0.003
    assert u_V.min() == pytest.approx(0.001)
    assert u_V.max() < 0.01


def test_the_meters_own_scale_is_in_every_row() -> None:
    """What all readings share goes into each row whole, and grows with the volts."""
    x = np.linspace(1.0, 3.0, 5)
    rows = curve_through(x, x, np.zeros(5), 0.003)
    assert rows is not None
    assert [row[2] for row in rows] == pytest.approx(0.003 * x)


def test_readings_that_fall_have_no_curve() -> None:
    """True volts that do not rise with the logger's cannot be a converter's."""
    assert curve_through(LEVELS_V, LEVELS_V[::-1], np.full(6, 0.001), 0.0) is None
