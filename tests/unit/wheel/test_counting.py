from __future__ import annotations

import numpy as np
import pytest

from calib.wheel.counting import is_high, pulses_of, unwrapped, way_of
from tests.wheel_files import hand, levels, ring


@pytest.mark.parametrize("modulus", [256.0, 65536.0, 1000.0])
def test_a_count_that_wraps_goes_on(modulus: float) -> None:
    """Each wrap is undone, whatever the width, stated or found."""
    true = np.cumsum(np.full(3000, 7.0))
    sent = (true + modulus - 50.0) % modulus
    stated = modulus if modulus == 1000.0 else None
    assert np.array_equal(unwrapped(sent, stated), true - true[0])


def test_a_count_falls_where_the_wheel_turned_back() -> None:
    """Three on, two back across the wrap: one on in all."""
    assert unwrapped(np.array([254.0, 255.0, 0.0, 1.0, 0.0, 255.0]), 256.0).tolist() == [
        0.0, 1.0, 2.0, 3.0, 2.0, 1.0,
    ]  # fmt: skip


def test_noise_on_a_slow_edge_is_no_pulse() -> None:
    """Between two fifths and three of the way a level keeps what it was."""
    level = is_high(np.array([0.0, 0.5, 0.45, 0.58, 0.7, 1.0, 0.55, 0.42, 0.3]))
    assert level is not None
    assert level.tolist() == [False, False, False, False, True, True, True, True, False]


def test_every_pulse_of_a_turned_wheel_is_there() -> None:
    """Six magnets over ten turns: sixty pulses, each as wide as its magnet at that speed."""
    time_s, turns = hand(10.0)
    pulses = pulses_of(time_s, levels(ring(6), turns))
    assert pulses.count == 60
    assert pulses.bounces == 0
    assert np.median(pulses.width_s) == pytest.approx(0.4 / 6 / 0.8, abs=0.002)


def test_a_level_that_is_low_at_the_magnet_gives_the_same_pulses() -> None:
    """What takes less of the time is the pulse, whichever way round the sensor works."""
    time_s, turns = hand(10.0)
    upright = pulses_of(time_s, levels(ring(6), turns))
    inverted = pulses_of(time_s, 1.0 - levels(ring(6), turns))
    assert np.array_equal(upright.start_s, inverted.start_s)


def test_a_bouncing_reed_gives_one_pulse_a_magnet() -> None:
    """Four changes within a millisecond and a half after each edge are joined, and counted."""
    time_s, turns = hand(10.0, rate_hz=10_000.0)
    level = levels(ring(6), turns)
    for edge in np.flatnonzero(np.diff(level) != 0.0) + 1:
        level[edge + 3 : edge + 6] = 1.0 - level[edge]
        level[edge + 9 : edge + 14] = 1.0 - level[edge]
    pulses = pulses_of(time_s, level)
    assert pulses.count == 60
    assert pulses.bounces == 4 * 120


def test_a_weak_magnet_is_no_bounce() -> None:
    """A pulse of four milliseconds that stands alone is a pulse."""
    time_s, turns = hand(10.0)
    magnets = ring(6)
    magnets[2] = (magnets[2][0], 0.003)
    assert pulses_of(time_s, levels(magnets, turns)).count == 60


def test_one_level_gives_no_pulse() -> None:
    """Nothing moved."""
    assert pulses_of(np.arange(10.0), np.ones(10)).count == 0


@pytest.mark.parametrize(("sign", "share"), [(1.0, 1.0), (-1.0, 0.0)])
def test_a_second_track_tells_the_way(sign: float, share: float) -> None:
    """Where it leads by a quarter it stands high as the first one rises, and the other way low."""
    time_s, turns = hand(4.0)
    magnets = ring(8, width=0.5)
    pulses = pulses_of(time_s, levels(magnets, sign * turns))
    second = levels(magnets, sign * turns + 0.25 / 8)
    assert way_of(pulses, second) == pytest.approx(share, abs=0.05)
