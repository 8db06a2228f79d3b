from __future__ import annotations

import pytest

from calib.controls.deadband import dead_band


def test_floor_decides_for_a_quiet_control() -> None:
    """A quiet control starts 3 % of the span above rest, rounded up to the step."""
    band = dead_band(rest_V=1.0, full_V=4.0, rest_limit_V=1.02, full_limit_V=3.985)
    assert band is not None
    assert (band.start_V, band.end_V, band.start_decided_by) == (1.09, 3.98, "floor")
    assert band.dead_travel_pct == pytest.approx(100.0 * (0.09 + 0.02) / 3.0)


def test_limit_decides_for_a_noisy_control() -> None:
    """Where the tolerance limit lies above the floor it sets the start."""
    band = dead_band(rest_V=1.0, full_V=4.0, rest_limit_V=1.131, full_limit_V=3.9)
    assert band is not None
    assert (band.start_V, band.start_decided_by) == (1.14, "limit")


def test_reversed_control_rounds_into_the_travel() -> None:
    """A control that rests high has its start above its end, both rounded into the travel."""
    band = dead_band(rest_V=4.0, full_V=1.0, rest_limit_V=3.978, full_limit_V=1.013)
    assert band is not None
    assert (band.start_V, band.end_V) == (3.91, 1.02)


def test_whole_steps_stay_where_they_are() -> None:
    """A value that is a whole step but for float rounding is not pushed to the next."""
    band = dead_band(
        rest_V=1.0, full_V=4.0, rest_limit_V=0.1 + 0.2 + 0.8, full_limit_V=3.9, step_V=0.1
    )
    assert band is not None
    assert (band.start_V, band.end_V) == (1.1, 3.9)


def test_other_steps() -> None:
    """Steps of 25 mV and no step at all are kept to."""
    coarse = dead_band(rest_V=1.0, full_V=4.0, rest_limit_V=1.0, full_limit_V=3.99, step_V=0.025)
    assert coarse is not None
    assert (coarse.start_V, coarse.end_V) == (1.1, 3.975)
    free = dead_band(rest_V=1.0, full_V=4.0, rest_limit_V=1.0, full_limit_V=3.99, step_V=0.0)
    assert free is not None
    assert (free.start_V, free.end_V) == pytest.approx((1.09, 3.99))


def test_no_dead_band_where_limits_cross() -> None:
    """Limits that leave no travel give no dead band."""
    assert dead_band(rest_V=1.0, full_V=1.2, rest_limit_V=1.15, full_limit_V=1.1) is None
    assert dead_band(rest_V=1.0, full_V=1.0, rest_limit_V=1.0, full_limit_V=1.0) is None
