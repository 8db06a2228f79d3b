"""Whether readings bend, and the curve through those that do."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

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


def ladder(logger_V: Floats, **patterns: tuple[float, tuple[float, ...]]) -> Floats:
    """A straight line with multiples of patterns that no straight line has any share in."""
    return logger_V + sum(size * np.array(pattern) for size, pattern in patterns.values())


FIVE_V, SIX_V = np.arange(5.0), np.arange(6.0)
BOW_5, WAVE_5 = (2.0, -1.0, -2.0, -1.0, 2.0), (1.0, -4.0, 6.0, -4.0, 1.0)
BOW_6, TWIST_6 = (5.0, -1.0, -4.0, -4.0, -1.0, 5.0), (-5.0, 7.0, 4.0, -4.0, -7.0, 5.0)
WAVE_6 = (-1.0, 5.0, -10.0, 10.0, -5.0, 1.0)
"""Orthogonal polynomials of five and of six even places. Source: common tables of them."""


@pytest.mark.parametrize(("over", "told"), [(0.99, False), (1.01, True)])
def test_five_readings_bend_where_the_ratio_of_variances_is_beyond_its_table(
    over: float, told: bool
) -> None:
    """F at 1 % of 1 and 2 degrees of freedom is 98.50, whether residual or rounding is larger.

    Source: F tables. By hand: a bow of a takes 14·a² of the squares, a wave of c leaves 70·c².
    """
    ratio = 98.50 * over
    wave = 0.01 * (14.0 / 35.0 / ratio) ** 0.5
    left = ladder(FIVE_V, bow=(0.01, BOW_5), wave=(wave, WAVE_5))
    rounded = ladder(FIVE_V, bow=(0.01, BOW_5))
    for true_V, scatter_V in ((left, 0.0), (rounded, 0.01 * (14.0 / ratio) ** 0.5)):
        found = find_bend(FIVE_V, true_V, scatter_V)
        assert found is not None
        assert found.is_one is told
        assert found.deviation_V == pytest.approx(0.02)


@pytest.mark.parametrize(("over", "told"), [(0.99, False), (1.01, True)])
def test_six_readings_bend_as_a_parabola_or_as_a_cubic(over: float, told: bool) -> None:
    """Two questions are asked, so that each may be answered by half the chance.

    By hand at 0.5 %: F of 1 and 3 degrees is 55.55 (table); of 2 and 2 it is 1/0.005 - 1. A bow of
    a takes 84·a², a twist of b takes 180·b², a wave of c leaves 252·c².
    """
    bow = ladder(SIX_V, bow=(0.02, BOW_6), wave=(0.02 / (55.55 * over) ** 0.5, WAVE_6))
    wave = 0.02 * (180.0 / 252.0 / (199.0 * over)) ** 0.5
    twist = ladder(SIX_V, twist=(0.02, TWIST_6), wave=(wave, WAVE_6))
    for true_V, deviation_V in ((bow, 0.1), (twist, 0.14)):
        found = find_bend(SIX_V, true_V, 0.0)
        assert found is not None
        assert found.is_one is told
        assert found.deviation_V == pytest.approx(deviation_V)


@pytest.mark.parametrize(("bow_V", "told"), [(0.00245, False), (0.00255, True)])
def test_a_bend_of_less_than_five_millivolts_does_not_matter(bow_V: float, told: bool) -> None:
    """However sure the bend is, the farthest reading lies at least 5 mV from the line."""
    found = find_bend(FIVE_V, ladder(FIVE_V, bow=(bow_V, BOW_5)), 1e-6)
    assert found is not None
    assert found.is_one is told


@pytest.mark.parametrize(("over", "told"), [(0.99, False), (1.01, True)])
def test_what_the_meter_cannot_explain_is_a_bend_where_a_bow_takes_most_of_it(
    over: float, told: bool
) -> None:
    """Beyond the meter's accuracy three quarters of the residuals are enough: 14·a² of 70·c²."""
    wave = 0.05 / (15.0 * over) ** 0.5
    true_V = ladder(FIVE_V, bow=(0.05, BOW_5), wave=(wave, WAVE_5))
    beyond = find_bend(FIVE_V, true_V, ROUNDING_V, beyond=True)
    within = find_bend(FIVE_V, true_V, ROUNDING_V)
    assert beyond is not None
    assert within is not None
    assert beyond.is_one is told
    assert not within.is_one


@pytest.mark.parametrize("scatter_V", [0.001, 0.02])
@pytest.mark.parametrize(("over", "rests_on_V"), [(0.99, 4.0), (1.01, None)])
def test_a_bend_rests_on_one_end_where_the_others_lie_on_a_line(
    scatter_V: float, over: float, rests_on_V: float | None
) -> None:
    """χ² of the other four against a line stays below 9.210, 1 % of 2 degrees of freedom.

    Source: χ² tables; a meter read by hand is taken for no nearer than 3 mV.
    """
    off_V = 0.5 * max(scatter_V, 0.003) * (9.210 * over) ** 0.5
    true_V = FIVE_V + np.array([off_V, -off_V, -off_V, off_V, 1.0])
    found = find_bend(FIVE_V, true_V, scatter_V)
    assert found is not None
    assert found.rests_on_V == rests_on_V
    mirrored = find_bend(FIVE_V, 4.0 - true_V[::-1], scatter_V)
    assert mirrored is not None
    assert mirrored.rests_on_V == (None if rests_on_V is None else 0.0)


def test_readings_without_any_residual_bend_nowhere() -> None:
    """Exact readings on a line leave nothing to explain, rounding or none."""
    for scatter_V in (0.0, ROUNDING_V):
        found = find_bend(FIVE_V, np.zeros(5), scatter_V, beyond=True)
        assert found is not None
        assert not found.is_one
        assert found.deviation_V == pytest.approx(0.0)


def test_rows_stand_at_quarters_where_the_curve_leaves_its_chord() -> None:
    """Four straight parts between two readings; the doubt between is how far the chord is off.

    Source: scipy's monotone cubic for the places; by hand for the doubt: the larger of the two
    readings' own, the distance from the chord as a half-width, and the meter's scale.
    """
    x = np.array([0.5, 1.0, 2.0, 3.0, 4.0])
    y, own = 0.2 * x**2 + x, np.array([0.001, 0.002, 0.003, 0.007, 0.005])
    rows = curve_through(x, y, own, 0.004)
    assert rows is not None
    assert [row[0] for row in rows] == pytest.approx(
        [0.5, 0.625, 0.75, 0.875, 1.0, *np.arange(1.25, 4.1, 0.25)]
    )
    smooth = PchipInterpolator(x, y)
    for place, value, u_V in rows:
        right = int(np.searchsorted(x, place))
        worst = own[right] if place in x else max(own[right - 1], own[right])
        chord_V = float(smooth(place) - np.interp(place, x, y))
        by_hand = worst**2 + chord_V**2 / 3.0 + (0.004 * value) ** 2
        assert u_V == pytest.approx(by_hand**0.5, rel=1e-9)


@pytest.mark.parametrize(("rise_V", "parts"), [(0.0, 0), (0.0075, 0), (0.0085, 1), (0.016, 2)])
def test_a_curve_within_a_millivolt_of_its_chord_is_the_chord(rise_V: float, parts: int) -> None:
    """Straight but for the last reading: no more parts are curved than leave their chord by 1 mV.

    Source: scipy's monotone cubic at the quarters.
    """
    y = FIVE_V + np.array([0.0, 0.0, 0.0, 0.0, rise_V])
    at = np.arange(0.0, 4.0, 0.25).reshape(4, 4)
    off_V = np.abs(PchipInterpolator(FIVE_V, y)(at) - np.interp(at, FIVE_V, y)).max(axis=1)
    assert np.count_nonzero(off_V >= 0.001) == parts
    rows = curve_through(FIVE_V, y, np.zeros(5), 0.0)
    assert rows is not None
    assert len(rows) == 5 + 3 * parts


def test_readings_at_one_place_are_one_reading() -> None:
    """Within 50 mV two readings are averaged, and so is their own doubt; beyond it they are two."""
    near = np.array([0.5, 1.0, 1.049, 2.0, 3.0, 4.0])
    own = np.array([0.001, 0.003, 0.004, 0.001, 0.001, 0.001])
    shuffled = [3, 1, 5, 0, 4, 2]
    rows = curve_through(near[shuffled], near[shuffled], own[shuffled], 0.0)
    assert rows is not None
    assert rows[1] == pytest.approx((1.0245, 1.0245, 0.0025))
    assert len(rows) == 5
    apart = curve_through(near + 0.002 * (near == 1.049), near, own, 0.0)
    assert apart is not None
    assert [row[0] for row in apart if row[0] in (1.0, 1.051)] == [1.0, 1.051]
    assert curve_through(near[1:], near[1:], own[1:], 0.0) is None


def test_five_places_are_the_fewest_for_a_curve_and_for_a_bend() -> None:
    """Four of anything are not asked."""
    assert curve_through(FIVE_V, FIVE_V, np.zeros(5), 0.0) is not None
    assert curve_through(FIVE_V[1:], FIVE_V[1:], np.zeros(4), 0.0) is None
    assert find_bend(FIVE_V, FIVE_V, ROUNDING_V) is not None
    assert find_bend(np.repeat(FIVE_V[1:], 2), np.repeat(FIVE_V[1:], 2), ROUNDING_V) is None


@pytest.mark.parametrize("slip", [1, 2, 3, 4, 5])
def test_a_reading_between_the_ends_is_none_that_a_bend_rests_on(slip: int) -> None:
    """One end alone can be where a curve leaves the line; in between it is a slip of the pen."""
    logger_V = np.linspace(0.5, 4.5, 7)
    true_V = logger_V.copy()
    true_V[slip] += 0.05
    found = find_bend(logger_V, true_V, 0.001, beyond=True)
    assert found is not None
    assert found.rests_on_V is None
