from __future__ import annotations

import pytest

from calib.controls.values import fault_window


def test_thresholds_stand_half_way() -> None:
    """Each threshold is half way between the hand's limit and the reach of the rail."""
    window = fault_window(lowest_V=0.85, highest_V=4.05, supply_V=5.0)
    assert (window.low_V, window.high_V) == pytest.approx((0.55, 4.4))


def test_no_room_no_threshold() -> None:
    """Where a hand comes close to a rail's reach there is no safe threshold on that side."""
    window = fault_window(lowest_V=0.30, highest_V=4.9, supply_V=5.0)
    assert window.low_V is None
    assert window.high_V is None
    assert window.room_high_V < 0.0


def test_a_coarse_controller_needs_two_steps_of_room() -> None:
    """Room for one step and a half is none: rounding would put the threshold on the hand."""
    fine = fault_window(lowest_V=0.40, highest_V=4.60, supply_V=5.0, step_V=0.01)
    coarse = fault_window(lowest_V=0.40, highest_V=4.60, supply_V=5.0, step_V=0.1)
    assert (fine.low_V, fine.high_V) == pytest.approx((0.32, 4.68), abs=0.011)
    assert (coarse.low_V, coarse.high_V) == (None, None)
    assert (coarse.room_low_V, coarse.room_high_V) == pytest.approx((0.15, 0.15))


def test_thresholds_stay_outside_a_published_output_range() -> None:
    """A sound sensor may use all of its range on another day, so the thresholds leave it out."""
    window = fault_window(lowest_V=0.9, highest_V=4.0, supply_V=5.0, output_range_V=(0.5, 4.5))
    assert (window.low_V, window.high_V) == pytest.approx((0.38, 4.62), abs=0.011)
    inside = fault_window(lowest_V=0.4, highest_V=4.6, supply_V=5.0, output_range_V=(0.5, 4.5))
    assert (inside.low_V, inside.high_V) == pytest.approx((0.32, 4.68), abs=0.011)


def test_what_the_logger_cannot_read_is_no_threshold() -> None:
    """A threshold at the last that can be read stands; one beyond is told and not given."""
    readable = fault_window(lowest_V=0.9, highest_V=4.0, supply_V=5.0, most_readable_V=4.38)
    beyond = fault_window(lowest_V=0.9, highest_V=4.0, supply_V=5.0, most_readable_V=4.37)
    assert (readable.high_V, readable.unreadable_V) == (4.38, None)
    assert (beyond.high_V, beyond.unreadable_V) == (None, 4.38)


def test_room_for_just_two_steps_is_room() -> None:
    """A quarter of a volt for steps of an eighth: the threshold stands half way."""
    window = fault_window(lowest_V=0.5, highest_V=4.5, supply_V=5.0, step_V=0.125)
    assert (window.room_low_V, window.room_high_V) == (0.25, 0.25)
    assert (window.low_V, window.high_V) == (0.375, 4.625)
    assert window.unreadable_V is None


def test_two_per_cent_of_the_supply_are_the_least_room() -> None:
    """On 5 V a tenth of a volt, however fine the steps are."""
    narrow = fault_window(lowest_V=0.349, highest_V=4.651, supply_V=5.0, step_V=0.001)
    assert (narrow.low_V, narrow.high_V) == (None, None)
    enough = fault_window(lowest_V=0.351, highest_V=4.649, supply_V=5.0, step_V=0.001)
    assert (enough.low_V, enough.high_V) == pytest.approx((0.3005, 4.6995), abs=0.0006)


def test_a_controller_with_the_finest_step_takes_the_threshold_to_its_last_digit() -> None:
    """Half way between 0.25 V and 0.8 V, and between 4.0 V and 4.75 V."""
    window = fault_window(lowest_V=0.8, highest_V=4.0, supply_V=5.0, step_V=0.0001)
    assert (window.low_V, window.high_V) == pytest.approx((0.525, 4.375), abs=1e-12)
