from __future__ import annotations

import pytest

from calib.controls.values import dead_band


def test_floor_decides_for_a_quiet_control() -> None:
    """A quiet control starts 3 % of the span above rest, rounded up to the step."""
    band = dead_band(rest_V=1.0, full_V=4.0, rest_limit_V=1.02, full_limit_V=3.985)
    assert band is not None
    assert (band.start, band.end, band.start_decided_by) == (1.09, 3.98, "floor")
    assert band.dead_travel_pct == pytest.approx(100.0 * (0.09 + 0.02) / 3.0)


def test_limit_decides_for_a_noisy_control() -> None:
    """Where the tolerance limit lies above the floor it sets the start."""
    band = dead_band(rest_V=1.0, full_V=4.0, rest_limit_V=1.131, full_limit_V=3.9)
    assert band is not None
    assert (band.start, band.start_decided_by) == (1.14, "limit")


def test_reversed_control_rounds_into_the_travel() -> None:
    """A control that rests high has its start above its end, both rounded into the travel."""
    band = dead_band(rest_V=4.0, full_V=1.0, rest_limit_V=3.978, full_limit_V=1.013)
    assert band is not None
    assert (band.start, band.end) == (3.91, 1.02)


def test_whole_steps_stay_where_they_are() -> None:
    """A value that is a whole step but for float rounding is not pushed to the next."""
    band = dead_band(
        rest_V=1.0, full_V=4.0, rest_limit_V=0.1 + 0.2 + 0.8, full_limit_V=3.9, step_V=0.1
    )
    assert band is not None
    assert (band.start, band.end) == (1.1, 3.9)


def test_other_steps() -> None:
    """Steps of 25 mV and of a tenth of a millivolt are kept to."""
    coarse = dead_band(rest_V=1.0, full_V=4.0, rest_limit_V=1.0, full_limit_V=3.99, step_V=0.025)
    assert coarse is not None
    assert (coarse.start, coarse.end) == (1.1, 3.975)
    fine = dead_band(rest_V=1.0, full_V=4.0, rest_limit_V=1.0, full_limit_V=3.99, step_V=0.0001)
    assert fine is not None
    assert (fine.start, fine.end) == pytest.approx((1.09, 3.99))


def test_no_dead_band_where_limits_cross() -> None:
    """Limits that leave no travel give no dead band."""
    assert dead_band(rest_V=1.0, full_V=1.2, rest_limit_V=1.15, full_limit_V=1.1) is None
    assert dead_band(rest_V=1.0, full_V=1.0, rest_limit_V=1.0, full_limit_V=1.0) is None


def test_a_short_travel_has_a_dead_band_too() -> None:
    """Eight tenths of a volt are enough, either way round; both ends give up their part of it."""
    band = dead_band(rest_V=1.0, full_V=1.8, rest_limit_V=1.01, full_limit_V=1.76)
    assert band is not None
    assert (band.start, band.end) == (1.03, 1.76)
    assert band.dead_travel_pct == pytest.approx(100.0 * 0.07 / 0.8)
    back = dead_band(rest_V=1.8, full_V=1.0, rest_limit_V=1.79, full_limit_V=1.04)
    assert back is not None
    assert (back.start, back.end) == (1.77, 1.04)
    assert back.dead_travel_pct == pytest.approx(100.0 * 0.07 / 0.8)


def test_without_travel_there_is_none_whatever_the_limits() -> None:
    """Rest and full travel at one voltage leave nothing to share out."""
    assert dead_band(rest_V=1.0, full_V=1.0, rest_limit_V=1.0, full_limit_V=2.0) is None


def test_a_limit_at_the_floor_leaves_it_to_the_floor() -> None:
    """Where both ask for one voltage nothing is said of noise; both are told."""
    band = dead_band(rest_V=1.0, full_V=5.0, rest_limit_V=2.0, full_limit_V=4.5, floor_pct=25.0)
    assert band is not None
    assert (band.start, band.start_decided_by) == (2.0, "floor")
    assert (band.floor, band.limit) == (2.0, 2.0)


@pytest.mark.parametrize(("share", "start_V", "end_V"), [(0.5e-6, 1.5, 3.9), (1.5e-6, 1.6, 3.8)])
def test_what_differs_from_a_step_by_a_millionth_of_it_is_that_step(
    share: float, start_V: float, end_V: float
) -> None:
    """Half a millionth of a step is float rounding; one and a half is the next step."""
    band = dead_band(
        rest_V=1.0,
        full_V=4.0,
        rest_limit_V=1.5 + 0.1 * share,
        full_limit_V=3.9 - 0.1 * share,
        step_V=0.1,
    )
    assert band is not None
    assert (band.start, band.end) == (start_V, end_V)


@pytest.mark.parametrize(("full_limit_V", "left"), [(2.99, False), (3.0, False), (3.01, True)])
def test_limits_that_meet_leave_no_travel(full_limit_V: float, left: bool) -> None:
    """Nor do such as cross; a hundredth of a volt between them is travel."""
    for sign in (1.0, -1.0):
        band = dead_band(
            rest_V=3.0 - 2.0 * sign, full_V=3.0 + 2.0 * sign, rest_limit_V=3.0,
            full_limit_V=3.0 + sign * (full_limit_V - 3.0), step_V=0.001,
        )  # fmt: skip
        assert (band is not None) is left
