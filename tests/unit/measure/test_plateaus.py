from __future__ import annotations

import numpy as np
import pytest

from calib.measure.plateaus import (
    block_median,
    despike,
    find_plateaus,
    median,
    white_sd,
)
from tests.bench.hands import Hand, work


@pytest.mark.parametrize("rate_hz", [27.0, 50.0, 200.0, 1000.0, 10_000.0])
def test_finds_every_standstill_at_any_rate(rate_hz: float) -> None:
    """Every standstill of at least 0.3 s and 8 readings is found, and nothing else."""
    worked = work(Hand(rate_hz=rate_hz), np.random.default_rng(int(rate_hz)))
    found = find_plateaus(worked.time_s, worked.volts, lsb=0.005).found
    assert len(found) == len(worked.stills)
    assert np.allclose([p.level for p in found], worked.levels, atol=0.012)
    ends = np.array([[p.start_s, p.end_s] for p in found])
    assert np.abs(ends - worked.stills).max() < 0.15


def test_quiet_signal_is_one_plateau() -> None:
    """A reading that never changes stands still from first to last."""
    time_s = np.arange(500) / 100.0
    result = find_plateaus(time_s, np.full(500, 0.8))
    assert [(p.first, p.stop, p.level) for p in result.found] == [(0, 500, 0.8)]


@pytest.mark.parametrize("rate_hz", [100.0, 1000.0])
def test_a_window_is_a_tenth_of_a_second(rate_hz: float) -> None:
    """Whatever the rate, what stands still is looked at over five periods of 50 Hz."""
    result = find_plateaus(np.arange(2000) / rate_hz, np.full(2000, 0.8))
    assert result.window_s == pytest.approx(0.1)


def test_no_plateau_in_steady_movement() -> None:
    """A signal that moves all the time has no plateau."""
    time_s = np.arange(1000) / 200.0
    assert find_plateaus(time_s, time_s * 0.6).found == ()


def test_no_plateau_crosses_a_gap() -> None:
    """A break in the record, told or seen in the times, cuts a plateau in two."""
    time_s = np.arange(1000) / 200.0
    volts = 0.8 + 0.002 * np.random.default_rng(3).normal(size=1000)
    told = find_plateaus(time_s, volts, gaps=[400]).found
    assert [(p.first, p.stop) for p in told] == [(0, 400), (400, 1000)]
    jumped = np.where(np.arange(1000) < 400, time_s, time_s + 5.0)
    seen = find_plateaus(jumped, volts).found
    assert [(p.first, p.stop) for p in seen] == [(0, 400), (400, 1000)]


def test_missing_readings_cut_a_plateau() -> None:
    """NaN is never part of a plateau."""
    time_s = np.arange(1000) / 200.0
    volts = np.full(1000, 0.8)
    volts[300:420] = np.nan
    found = find_plateaus(time_s, volts).found
    assert len(found) == 2
    assert found[0].stop <= 300
    assert found[1].first >= 420


def test_glitches_do_not_cut_a_plateau() -> None:
    """Single readings at a rail leave the plateau whole and its level where it is."""
    time_s = np.arange(2000) / 200.0
    volts = 0.8 + 0.002 * np.random.default_rng(4).normal(size=2000)
    volts[[150, 600, 601, 1400]] = 5.0
    found = find_plateaus(time_s, volts).found
    assert [(p.first, p.stop) for p in found] == [(0, 2000)]
    assert found[0].level == pytest.approx(0.8, abs=0.001)


def test_says_when_the_logger_is_too_slow() -> None:
    """Eight readings in 0.3 s need 27 Hz; below that the result says so."""
    assert not find_plateaus(np.arange(100) / 20.0, np.zeros(100)).fast_enough
    assert find_plateaus(np.arange(100) / 27.0, np.zeros(100)).fast_enough


def test_too_little_data_has_no_plateau() -> None:
    """Nothing, one reading and a stopped clock are no error and no plateau."""
    assert find_plateaus(np.empty(0), np.empty(0)).found == ()
    assert find_plateaus(np.zeros(1), np.zeros(1)).found == ()
    assert find_plateaus(np.zeros(50), np.zeros(50)).found == ()


def test_white_sd_ignores_a_steady_movement() -> None:
    """The fast noise is the same whether the signal stands or moves."""
    noise = 0.003 * np.random.default_rng(5).normal(size=4000)
    assert white_sd(noise) == pytest.approx(0.003, rel=0.05)
    assert white_sd(noise + 0.01 * np.arange(4000)) == pytest.approx(white_sd(noise), rel=1e-6)


@pytest.mark.parametrize("block", [1, 2, 3, 4, 5, 50])
def test_block_median_keeps_level_and_drops_a_glitch(block: int) -> None:
    """Blocks of any length keep a constant; from three parts on a single glitch is gone."""
    values = np.full(block * 8, 2.0)
    if block >= 3:
        values[block + 1] = 50.0
    assert np.array_equal(block_median(values, block), np.full(8, 2.0))


def test_despike_moves_no_edge() -> None:
    """A running median leaves a step where it is, and takes out one or two odd readings."""
    step = np.repeat([0.0, 1.0], 8)
    spiked = step.copy()
    spiked[3] = 9.0
    assert np.array_equal(despike(spiked), step)
    spiked[4] = 9.0
    assert np.array_equal(despike(spiked, 5), step)


def test_no_window_looks_across_a_gap() -> None:
    """What moves off just before a gap is not taken for what stands still behind it."""
    time_s = np.arange(800) / 200.0
    volts = np.where(np.arange(800) < 396, 1.0, 1.3)
    volts += 0.001 * np.random.default_rng(7).normal(size=800)
    before, after = find_plateaus(time_s, volts, gaps=[400]).found
    assert (before.first, after.first, after.stop) == (0, 400, 800)
    assert 380 < before.stop <= 396


def test_what_creeps_is_not_still() -> None:
    """A hand that takes ten seconds from rest to the stop stands still at both ends only."""
    time_s = np.arange(2600) / 200.0
    volts = np.interp(time_s, [0.0, 1.5, 11.5, 13.0], [1.0, 1.0, 4.0, 4.0])
    found = find_plateaus(time_s, volts + 0.02 * np.random.default_rng(6).normal(size=2600)).found
    assert all(plateau.end_s < 2.5 or plateau.start_s > 10.5 for plateau in found)
    assert {round(plateau.level) for plateau in found} <= {1, 4}


def test_the_ends_of_a_running_median_take_their_neighbours() -> None:
    """A step just before the end, or just behind the beginning, reaches to the very end."""
    assert despike(np.array([0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0]))[-1] == 1.0
    assert despike(np.array([1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0]))[0] == 1.0
    assert despike(np.array([0.0, 0.0, 0.0, 0.0, 9.0]))[-1] == 0.0
    late = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0])
    assert despike(late, 5)[-2:].tolist() == [1.0, 1.0]


@pytest.mark.parametrize("values", [[3.0], [1.0, 4.0], [5.0, 1.0, 3.0], [9.0, 1.0, 4.0, 2.0]])
def test_median_is_numpy_s(values: list[float]) -> None:
    """Odd and even counts alike. Source: numpy."""
    assert median(np.array(values)) == np.median(values)


def test_one_burst_of_noise_does_not_make_two_stays_of_one() -> None:
    """A bump shorter than a window and no higher than twice the boundary is bridged."""
    time_s = np.arange(800) / 200.0
    noise = 0.002 * np.random.default_rng(9).normal(size=800)
    volts = 1.0 + noise + 2.0 * (time_s > 3.0)
    limit = find_plateaus(time_s, volts).still_range
    at = slice(300, 312)
    for height, count in ((1.5 * limit, 2), (4.0 * limit, 3)):
        bumped = volts.copy()
        bumped[at] = 1.0 + height
        assert len(find_plateaus(time_s, bumped).found) == count


@pytest.mark.parametrize("rate_hz", [10.0, 50.0, 200.0, 1000.0])
def test_a_step_between_two_readings_parts_two_plateaus(rate_hz: float) -> None:
    """A switched voltage, or a quick hand on a slow logger, has no reading on its way."""
    count = int(3.0 * rate_hz)
    volts = np.repeat([1.0, 3.0, 2.0], count)
    volts += 0.002 * np.random.default_rng(10).normal(size=3 * count)
    found = find_plateaus(np.arange(3 * count) / rate_hz, volts).found
    assert [(p.first, p.stop) for p in found] == [
        (place * count, (place + 1) * count) for place in range(3)
    ]
    assert [p.level for p in found] == pytest.approx([1.0, 3.0, 2.0], abs=0.002)
