from __future__ import annotations

import numpy as np
import pytest

from calib.controls.worked import Mover, find_movers, move_together, rivals

RATE_HZ = 100.0
RNG = np.random.default_rng(8)
Floats = np.ndarray


def press(rest: float, full: float, *, slow_s: float = 0.8) -> Floats:
    """Rest, slowly all the way, hold, back, twice."""
    ramp = np.linspace(0.0, 1.0, round(slow_s * RATE_HZ))
    once = np.concatenate([np.zeros(60), ramp, np.ones(100), ramp[::-1], np.zeros(80)])
    return rest + (full - rest) * np.tile(once, 2)


def movers(*worked: Floats, noise: float = 1.0, whole: bool = True) -> list[Mover]:
    """What moved, after two seconds of rest of the same columns."""
    moved = np.column_stack(worked)
    rest = np.tile(moved[0], (200, 1))
    both = np.vstack([rest, moved])
    both = both + noise * RNG.standard_normal(both.shape)
    both = np.round(both) if whole else both
    return find_movers(both[:200], both[200:], RATE_HZ, skip=())


def quiet(level: float = 500.0) -> Floats:
    """A column that nobody moves."""
    return np.full(len(press(0, 1)), level)


@pytest.mark.parametrize(
    ("rest", "full"), [(180, 860), (860, 180), (500, 600)], ids=["usual", "reversed", "small span"]
)
def test_the_column_that_moved_is_found(rest: float, full: float) -> None:
    """Rest, farthest reach and count are those of the press, whichever way it goes."""
    (mover,) = movers(quiet(), press(rest, full), quiet(33000.0))
    assert mover.index == 1
    assert mover.rest == pytest.approx(rest, abs=2)
    assert mover.far == pytest.approx(full, abs=5)
    assert (mover.works, mover.is_home, mover.two_level) == (2, True, False)


def test_volts_are_found_as_counts_are() -> None:
    """Numbers with decimals have a span of 5 V."""
    (mover,) = movers(quiet(2.5), press(0.8, 4.2), noise=0.004, whole=False)
    assert (mover.index, mover.works) == (1, 2)


def test_a_switch_is_told_from_a_control() -> None:
    """What knows only on and off has next to no reading in between."""
    (switch,) = movers(press(1023, 6, slow_s=0.01))
    assert switch.two_level


def test_noise_glitches_and_a_sagging_supply_are_no_movement() -> None:
    """A noisy column, single wild readings and a supply that drops by three per cent stay out."""
    glitches = quiet()
    glitches[100::200] = 1023
    assert movers(quiet(), glitches, press(512, 497), noise=4.0) == []


def test_two_columns_that_move_are_rivals() -> None:
    """A second track moves as one with the first; another control does not."""
    main = press(180, 860)
    track, other = press(90, 430), np.roll(press(200, 800), 90)
    found = movers(main, track)
    assert [mover.index for mover in rivals(found)] == [1]
    assert move_together(np.column_stack([main, track]), *found)
    found = movers(main, other)
    assert len(rivals(found)) == 1
    assert not move_together(np.column_stack([main, other]), *found)


def test_cross_talk_is_no_rival() -> None:
    """A column that follows by a fifth is not the part."""
    found = movers(press(180, 860), press(200, 330))
    assert [mover.index for mover in found] == [0, 1]
    assert rivals(found) == []


def test_a_control_in_the_hand_is_not_home() -> None:
    """Half a press has not come back."""
    (mover,) = movers(press(180, 860)[:230])
    assert (mover.works, mover.is_home) == (0, False)


HOME = np.zeros(10)


def level(*values: float, rest: Floats = HOME, rate_hz: float = RATE_HZ) -> list[Mover]:
    """What one column of these numbers is taken for, behind a rest."""
    worked = np.array(values, dtype=np.float64)[:, None]
    return find_movers(rest[:, None], worked, rate_hz, skip=())


@pytest.mark.parametrize(("rate_hz", "held"), [(100.0, 5), (200.0, 10), (30.0, 2), (10.0, 2)])
def test_a_reach_is_held_for_a_twentieth_of_a_second_and_two_readings(
    rate_hz: float, held: int
) -> None:
    """In all, not in one; what is out for less is a glitch."""
    assert level(*[900.0] * (held - 1), *[0.0] * 20, rate_hz=rate_hz) == []
    (mover,) = level(*[900.0] * held, *[0.0] * 20, rate_hz=rate_hz)
    assert (mover.rest, mover.far) == (0.0, 900.0)
    assert level(*[900.0] * (held - 1), rate_hz=rate_hz) == []
    assert len(level(*[900.0] * held, rate_hz=rate_hz)) == 1


@pytest.mark.parametrize(
    ("highest", "span"),
    [(1023.0, 1024.0), (1024.0, 4096.0), (8000.0, 65536.0), (65536.0, 65536.0), (7e4, 7e4),
     (4.5, 5.0), (5.5, 5.5), (12.25, 12.25)],
)  # fmt: skip
def test_the_span_of_a_columns_numbers(highest: float, span: float) -> None:
    """Counts have the next converter's span, numbers with decimals 5 V; or what they reach."""
    (mover,) = level(*[highest] * 5, *[0.0] * 5)
    assert mover.share == highest / span


@pytest.mark.parametrize(("counts", "moved"), [(81.0, False), (82.0, True)])
def test_less_than_eight_hundredths_of_the_span_is_no_movement(counts: float, moved: bool) -> None:
    """Of 1024 counts 82 are enough."""
    assert bool(level(*[counts] * 5, *[0.0] * 5)) is moved
    assert bool(level(*[0.39 if counts < 82.0 else 0.41] * 5, *[0.0] * 5)) is moved


@pytest.mark.parametrize(("counts", "moved"), [(271.0, False), (272.0, True)])
def test_a_movement_is_eight_times_the_noise_at_rest(counts: float, moved: bool) -> None:
    """Rest that wanders evenly from -50 to 50 has 34 between its middle and either sixth."""
    assert bool(level(*[counts] * 5, *[0.0] * 5, rest=np.arange(-50.0, 51.0))) is moved


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_how_often_it_went_out_and_whether_it_is_home(sign: float) -> None:
    """Out is beyond half of the reach, home within a quarter; in between nothing is decided."""
    once = (1000.0, 1000.0, 1000.0, 1000.0, 1000.0)

    def works(*values: float) -> tuple[int, bool]:
        (mover,) = level(*(sign * value for value in (*once, *values)))
        assert mover.far == sign * 1000.0
        return mover.works, mover.is_home

    assert works(0.0) == (1, True)
    assert works(249.0) == (1, True)
    assert works(250.0) == (0, False)
    assert works(0.0, 500.0, 0.0) == (1, True)
    assert works(0.0, 501.0, 0.0) == (2, True)
    assert works(0.0, 501.0, 250.0, 501.0, 0.0) == (2, True)
    assert works(0.0, 501.0, 249.0, 501.0, 0.0) == (3, True)
    assert works(0.0, 1000.0) == (1, False)


@pytest.mark.parametrize(("times", "most"), [(1, 5), (2, 10), (3, 15)])
def test_a_switch_has_two_and_a_half_readings_between_for_each_change(
    times: int, most: int
) -> None:
    """In between is from 15 to 85 % of the reach, ends not counted."""
    pressed = [*[1000.0] * 5, *[0.0] * 5] * times
    for between in (151.0, 849.0):
        (switch,) = level(0.0, *[between] * (most - 2), *pressed, 500.0, 499.0, 0.0)
        assert (switch.works, switch.two_level) == (times, True)
        (control,) = level(0.0, *[between] * (most - 1), *pressed, 500.0, 499.0, 0.0)
        assert not control.two_level
    (switch,) = level(0.0, *[150.0] * 20, *pressed, *[850.0] * 20, 0.0)
    assert switch.two_level


def test_a_switch_that_is_still_pressed_is_a_switch() -> None:
    """It never came home, and is allowed the readings of one throw."""
    (switch,) = level(*[0.0] * 5, *[500.0] * 5, *[1000.0] * 5)
    assert (switch.works, switch.two_level) == (0, True)
    (control,) = level(*[0.0] * 5, *[500.0] * 6, *[1000.0] * 5)
    assert not control.two_level


@pytest.mark.parametrize(("correlation", "together"), [(0.94, False), (0.96, True)])
def test_tracks_of_one_control_are_correlated_to_nineteen_twentieths(
    correlation: float, together: bool
) -> None:
    """In the same sense or against each other."""
    main, stray = np.tile([1.0, -1.0, 1.0, -1.0], 5), np.tile([1.0, 1.0, -1.0, -1.0], 5)
    other = correlation * main + (1.0 - correlation**2) ** 0.5 * stray
    one, two = (Mover(place, 0.0, 1.0, 0.5, 1, True, False) for place in (0, 1))
    for second in (other, -other):
        assert move_together(np.column_stack([main, second]), one, two) is together


def test_two_fifths_of_the_widest_are_a_rival() -> None:
    """The widest is none of its own."""
    widest, just, less = (
        Mover(place, 0.0, 1.0, share, 1, True, False)
        for place, share in enumerate((0.5, 0.4 * 0.5, 0.19))
    )
    assert rivals([widest, just, less]) == [just]


@pytest.mark.parametrize(("low", "works"), [(500.0, 2), (250.0, 2), (249.0, 3)])
def test_what_lies_between_home_and_away_is_no_release(low: float, works: int) -> None:
    """Both borders belong to what lies between."""
    held = [1000.0] * 5
    (mover,) = level(*held, 0.0, *[501.0] * 3, low, *[501.0] * 3, 0.0)
    assert mover.works == works
