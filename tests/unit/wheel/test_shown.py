from __future__ import annotations

import pytest

from calib.wheel.shown import (
    factor_of_settings,
    folds_from_kmh,
    pulses_a_metre,
    shown_over_true,
    within_r39,
)


def test_a_level_at_a_hundred_hertz_folds_from_eighteen() -> None:
    """Twenty pulses a turn of two metres: fifty a second at 5 m/s, half the rate."""
    assert folds_from_kmh(100.0, 20, 2000.0) == pytest.approx(18.0)


def test_what_is_set_against_what_comes() -> None:
    """A display that takes six pulses for a turn of 2000 mm shows nine eighths too much of 1778."""
    assert factor_of_settings(6, 2000.0, 6, 2000.0 * 8 / 9, 0.0) == pytest.approx((9 / 8, 0.0))


def test_the_step_of_a_trip_counts_twice() -> None:
    """Two readings of a display in metres over a hundred: 0.41 of a metre."""
    _, u = shown_over_true(104.0, 1.0, 100.0, 0.0, reads=2)
    assert u == pytest.approx(0.01 * 0.408, rel=0.01)


@pytest.mark.parametrize(
    ("shown", "allowed"), [(49.9, False), (50.0, True), (59.0, True), (59.1, False)]
)
def test_the_rule_for_road_vehicles(shown: float, allowed: bool) -> None:
    """At 50 km/h from none to 9 too much. Source: UN Regulation 39, from memory."""
    assert within_r39(shown, 50.0) is allowed


def test_pulses_a_metre_of_a_turn_and_of_a_way() -> None:
    """Six over two metres are three a metre; a pulse at each end of a long way hardly counts."""
    assert pulses_a_metre(6, 2000.0, 20.0) == pytest.approx((3.0, 0.03))
    value, u = pulses_a_metre(3000, 1e6, 0.0, loose_pulses=1.0)
    assert (value, u) == pytest.approx((3.0, 0.00058), abs=1e-5)
