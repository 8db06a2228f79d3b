from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.presses import Place, Presses, count_presses

RATE_HZ = 100.0
PRESS = [(0.3, 1.0), (0.8, 1.0), (0.12, 0.0)]


def counted(
    knots: list[tuple[float, float]], *, noise_V: float = 0.003, rate_hz: float = RATE_HZ
) -> Presses:
    """Presses of a control of 1 to 4 V that goes through (duration in s, share at its end)."""
    times_s = np.cumsum([0.0, 1.0, *(duration_s for duration_s, _ in knots), 1.0])
    shares = [0.0, 0.0, *(share for _, share in knots), knots[-1][1]]
    time_s = np.arange(0.0, times_s[-1], 1.0 / rate_hz)
    volts = 1.0 + 3.0 * np.interp(time_s, times_s, shares)
    return count_presses(time_s, noisy(volts, noise_V))


def noisy(volts: NDArray[np.float64], noise_V: float) -> NDArray[np.float64]:
    """The same with noise."""
    return volts + np.random.default_rng(8).normal(0.0, noise_V, volts.shape)


def ends(presses: Presses, place: Place) -> list[tuple[float, float]]:
    """Start and end of each stay at one end, s."""
    return [(stay.start_s, stay.end_s) for stay in presses.stays if stay.place is place]


@pytest.mark.parametrize("squeeze_s", [0.1, 0.3, 1.0, 5.0, 10.0, 15.0])
def test_a_squeeze_of_any_pace_is_one_press(squeeze_s: float) -> None:
    """However slowly a hand squeezes, it makes one press, one stay at the stop, two at rest."""
    presses = counted([(squeeze_s, 1.0), (0.8, 1.0), (0.12, 0.0)])
    assert (presses.count, presses.half, presses.unheld) == (1, 0, 0)
    assert not presses.reversed
    assert not presses.breaks
    (start_s, end_s), rests = ends(presses, Place.FULL)[0], ends(presses, Place.REST)
    assert start_s == pytest.approx(1.0 + squeeze_s, abs=0.02 + 0.015 * squeeze_s)
    assert end_s == pytest.approx(1.8 + squeeze_s, abs=0.03)
    assert len(rests) == 2


def test_a_stop_in_two_stages_stays_at_the_second() -> None:
    """What is held short of the stop before it is the way there, and no part of the stay."""
    presses = counted([(0.3, 0.97), (0.4, 0.97), (0.1, 1.0), (0.8, 1.0), (0.12, 0.0)])
    assert presses.count == 1
    assert ends(presses, Place.FULL)[0][0] == pytest.approx(1.8, abs=0.04)


def test_a_release_that_halts_comes_home_later() -> None:
    """A halt on the way out is no part of the stay at rest, which begins behind it."""
    presses = counted([(0.3, 1.0), (0.8, 1.0), (0.1, 0.1), (0.5, 0.1), (0.1, 0.0)])
    (press,) = presses.presses
    assert ends(presses, Place.REST)[1][0] == pytest.approx(2.8, abs=0.04)
    assert press.let_go_s == pytest.approx(2.1, abs=0.04)


def test_a_hand_that_sinks_has_not_let_go() -> None:
    """Letting go is when it moves like a return, however far the hand sank before."""
    presses = counted([(0.3, 1.0), (1.0, 0.92), (0.12, 0.0)])
    assert presses.presses[0].let_go_s == pytest.approx(2.3, abs=0.06)


def test_a_thumb_that_is_laid_on_is_in_the_stay_at_rest() -> None:
    """Rest goes on while a thumb lies on the control; it is no press and no end of rest."""
    presses = counted([*PRESS, (0.8, 0.0), (0.1, 0.03), (0.8, 0.03), *PRESS])
    rests = ends(presses, Place.REST)
    assert presses.count == 2
    assert presses.half == 0
    assert np.allclose(rests[1], (2.22, 3.92), atol=0.05)


def test_two_quick_taps_are_two_presses() -> None:
    """A release of a tenth of a second parts two presses, though it makes no level of rest."""
    tap = [(0.1, 1.0), (0.1, 1.0), (0.08, 0.0)]
    presses = counted([*tap, (0.08, 0.0), *tap])
    assert presses.count == 2
    assert len(ends(presses, Place.REST)) == 2


def test_turning_round_at_the_stop_is_not_held() -> None:
    """A press that turns at the stop without standing there is told apart from a brief hold."""
    turned = counted([*PRESS, (1.0, 0.0), (0.15, 1.0), (0.15, 0.0), (1.0, 0.0)])
    held = counted([*PRESS, (1.0, 0.0), (0.15, 1.0), (0.08, 1.0), (0.15, 0.0), (1.0, 0.0)])
    assert (turned.count, turned.unheld) == (1, 1)
    assert (held.count, held.unheld) == (2, 0)


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0, 1000.0])
@pytest.mark.parametrize("tremble_hz", [4.0, 8.0, 12.0])
def test_a_trembling_hand_is_counted(rate_hz: float, tremble_hz: float) -> None:
    """Tremble by 2 % of the travel either way hides no press and makes none."""
    knots = [(1.0, 0.0), *[*PRESS, (0.8, 0.0)] * 3]
    times_s = np.cumsum([0.0, *(duration_s for duration_s, _ in knots)])
    time_s = np.arange(0.0, times_s[-1], 1.0 / rate_hz)
    share = np.interp(time_s, times_s, [0.0, *(share for _, share in knots)])
    share += 0.02 * np.sin(2.0 * np.pi * tremble_hz * time_s) * (share > 0.5)
    presses = count_presses(time_s, noisy(1.0 + 3.0 * share, 0.003))
    assert (presses.count, presses.half, presses.unheld) == (3, 0, 0)
    assert not presses.breaks


@pytest.mark.parametrize("noise_V", [0.003, 0.03, 0.09])
def test_noise_hides_no_press(noise_V: float) -> None:
    """Up to 3 % of the travel of noise: the same presses, and none made up."""
    presses = counted([*PRESS, (0.8, 0.0)] * 4, noise_V=noise_V)
    assert (presses.count, presses.half, presses.unheld) == (4, 0, 0)


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0, 1000.0])
def test_a_leap_there_and_back_is_a_break_of_the_line(rate_hz: float) -> None:
    """To full travel and back from one reading to the next is a drop-out; a quick hand is not."""
    knots = [(0.001, 1.0), (0.4, 1.0), (0.001, 0.0)]
    presses = counted([*PRESS, (0.8, 0.0), *knots, (0.8, 0.0), *PRESS], rate_hz=rate_hz)
    assert (presses.count, len(presses.breaks)) == (2, 1)
    quick = counted([(0.06, 1.0), (0.4, 1.0), (0.05, 0.0)] * 3, rate_hz=rate_hz)
    assert not quick.breaks


def test_how_far_each_press_went_is_told() -> None:
    """Full and half presses each with their share of the farthest."""
    knots = [
        each
        for stop in (0.6, 1.0, 0.9)
        for each in ((0.3, stop), (0.8, stop), (0.12, 0.0), (0.8, 0.0))
    ]
    presses = counted(knots)
    assert presses.reached == pytest.approx((0.6, 1.0, 0.9), abs=0.01)
    assert (presses.count, presses.half) == (2, 1)


@pytest.mark.parametrize(("over_in_s", "half"), [(0.05, 0), (0.07, 0), (0.12, 1), (0.2, 1)])
def test_what_is_over_sooner_than_a_hand_can_be_is_no_press(over_in_s: float, half: int) -> None:
    """A swing to two thirds and back that is over within 0.08 s is the line's, not a hand's."""
    flick = [(0.5 * over_in_s, 0.66), (0.5 * over_in_s, 0.0), (0.8, 0.0)]
    presses = counted([*flick, *PRESS], noise_V=0.001, rate_hz=1000.0)
    assert (presses.count, presses.half) == (1, half)


@pytest.mark.parametrize(("sunk_to", "end_s"), [(0.97, 3.1), (0.93, 2.05)])
def test_what_sinks_far_is_another_stay(sunk_to: float, end_s: float) -> None:
    """A hand that sinks by 3 % and stays there is in the stay; by 7 % it has left the stop."""
    presses = counted([(0.3, 1.0), (0.7, 1.0), (0.15, sunk_to), (0.9, sunk_to), (0.12, 0.0)])
    assert ends(presses, Place.FULL)[0][1] == pytest.approx(end_s, abs=0.12)


def test_a_control_that_never_moved_is_one_rest_from_first_to_last() -> None:
    """Noise alone is no press; the whole record is one stay."""
    presses = counted([(1.0, 0.0)])
    assert not presses.worked
    assert (presses.released, presses.starts_at_rest, presses.travel_V) == (True, True, 0.0)
    (stay,) = presses.stays
    assert (stay.place, stay.first, stay.stop) == (Place.REST, 0, 300)


def test_a_record_that_begins_or_ends_in_the_hand_says_so() -> None:
    """Held half way at first it does not start at rest; held at the end it is not released."""
    time_s = np.arange(0.0, 6.0, 1.0 / RATE_HZ)
    share = np.interp(
        time_s, [0.0, 0.8, 0.95, 2.0, 2.3, 3.2, 3.35, 5.0], [0.5, 0.5, 0, 0, 1, 1, 0, 0]
    )
    began = count_presses(time_s, noisy(1.0 + 3.0 * share, 0.003))
    assert (began.starts_at_rest, began.released, began.count) == (False, True, 1)
    ended = counted([*PRESS, (1.0, 0.0), (0.3, 1.0)])
    assert (ended.starts_at_rest, ended.released, ended.count) == (True, False, 1)
