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
