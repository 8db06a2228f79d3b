from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.measure.plateaus import (
    Plateaus,
    block_median,
    despike,
    find_plateaus,
    median,
    signal_span,
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


FLICKER = 1e-5
"""Half the swing of a last digit, or the levels themselves would be taken for the steps."""


def at_rate(volts: NDArray[np.float64], rate_hz: float = 200.0, **told: Any) -> Plateaus:
    """Plateaus of readings at an even pace, whose last digit flickers."""
    swing = FLICKER * np.tile([1.0, -1.0], len(volts))[: len(volts)]
    return find_plateaus(np.arange(len(volts)) / rate_hz, volts + swing, **told)


def ends(found: Plateaus) -> list[tuple[int, int]]:
    """First and one past the last reading of each plateau."""
    return [(each.first, each.stop) for each in found.found]


def climb(start: float, readings: int) -> NDArray[np.float64]:
    """A way that goes up by one a reading."""
    return start + np.arange(1.0, readings + 1.0)


@pytest.mark.parametrize(
    ("rate_hz", "readings"), [(100.0, 16), (200.0, 32), (400.0, 64), (20.0, 5), (31.25, 5)]
)
def test_the_shortest_hold(rate_hz: float, readings: int) -> None:
    """From 0.16 s and five readings on, to the reading; one less is on the way."""
    block = max(1, round(rate_hz * 0.005))
    for count, found in ((readings, 1), (readings - block, 0)):
        way = np.concatenate([climb(0.0, 40), np.full(count, 45.0), climb(49.0, 40)])
        assert ends(at_rate(way, rate_hz)) == [(40, 40 + readings)] * found


def test_at_a_kilohertz_a_point_is_five_readings() -> None:
    """Thirty-two points are a hold, and it begins and ends with whole points."""
    for points, found in ((32, [(200, 360)]), (31, [])):
        way = np.concatenate([climb(0.0, 200), np.full(5 * points, 300.0), climb(400.0, 200)])
        assert ends(at_rate(way, 1000.0)) == found


@pytest.mark.parametrize(
    ("rate_hz", "block", "window"),
    [(20.0, 1, 3), (50.0, 1, 5), (250.0, 1, 25), (500.0, 2, 25), (1000.0, 5, 20)],
)
def test_points_and_windows_of_a_rate(rate_hz: float, block: int, window: int) -> None:
    """Points of 5 ms, or of one reading; windows of 0.1 s, or of three points."""
    found = at_rate(np.full(600, 0.8), rate_hz)
    assert len(found.grid) == 600 // block
    assert found.grid_first.tolist() == list(range(0, 600, block))
    assert found.window_s == pytest.approx(window * block / rate_hz)
    assert found.rate_hz == pytest.approx(rate_hz)


def test_what_still_is_by_noise_by_step_and_by_range() -> None:
    """Eight deviations of the fast noise, 2.2 steps; between 0.0015 and 0.012 of the range.

    By hand: a zigzag of ±e has second differences of 4·e, and so a deviation of 4·e/(0.6745·√6).
    """
    time_s = np.arange(600) / 200.0
    still = find_plateaus(time_s, np.full(600, 0.8), lsb=0.02)
    assert still.still_range == pytest.approx(2.2 * 0.02)
    codes = np.where(np.arange(600) < 590, 0.8, 0.82)
    assert find_plateaus(time_s, codes).still_range == pytest.approx(2.2 * 0.02)
    assert find_plateaus(time_s, codes, lsb=0.05).still_range == pytest.approx(2.2 * 0.05)
    zigzag = at_rate(0.001 * np.tile([1.0, -1.0], 300))
    assert zigzag.white_sd == pytest.approx(4.0 * (0.001 + FLICKER) / (0.6745 * 6.0**0.5))
    assert zigzag.still_range == pytest.approx(8.0 * zigzag.white_sd)
    pressed = at_rate(np.concatenate([np.zeros(400), climb(0.0, 100) / 100.0, np.ones(400)]))
    assert pressed.span == pytest.approx(1.0, abs=1e-4)
    assert pressed.still_range == pytest.approx(0.0015, rel=1e-3)
    moving = at_rate(np.arange(1000.0))
    assert moving.still_range == pytest.approx(0.012 * 999.0, rel=0.01)


@pytest.mark.parametrize(("still", "quicker"), [(36, 0.0), (24, 3.64)])
def test_the_quietest_windows_of_thirty_in_a_thousand_set_the_boundary(
    still: int, quicker: float
) -> None:
    """A way of 4 mV a window with so many windows of 2 mV: 2.6 times what 3 % do not go beyond.

    By hand: of 989 windows place 29.64 counts. Beside the slow ones two each have one quick step
    of their nineteen, two, three, and so on.
    """
    slow, quick = 0.002 / 20.0, 0.004 / 20.0
    steps = np.full(1000, quick)
    steps[480 : 480 + still + 18] = slow
    way = np.cumsum(steps)
    found = at_rate(np.concatenate([way, way[-1] + [0.2, 0.4, 0.6, 0.8, 1.0, 1.0, 1.0, 1.0]]))
    moved = 19.0 * slow + quicker * (quick - slow)
    assert found.still_range == pytest.approx(2.6 * moved, rel=0.02)


def test_nothing_to_look_at_has_empty_grids() -> None:
    """No reading, one, and too few for any hold: arrays of nothing, and the step as told."""
    for count in (0, 1, 4):
        found = find_plateaus(np.arange(count) / 100.0, np.full(count, 0.8), lsb=0.01)
        assert (found.found, found.still_range, found.window_s) == ((), 0.01, 0.1)
        assert (len(found.grid), len(found.grid_first)) == (0, 0)
        assert (found.white_sd, found.span) == (0.0, 0.0)
        assert found.rate_hz == (pytest.approx(100.0) if count > 1 else 0.0)


def test_a_record_shorter_than_a_window_stands_nowhere() -> None:
    """Seven readings at 100 Hz: the boundary is the range's or the step's, whichever is more."""
    short = at_rate(np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]), 100.0)
    assert short.found == ()
    assert short.still_range == pytest.approx(max(0.0015 * 6.0, 2.2 * 1.0), rel=0.6)
    coarse = find_plateaus(np.arange(7) / 100.0, np.full(7, 0.8), lsb=0.02)
    assert coarse.still_range == pytest.approx(0.044)


def test_a_rate_where_many_stamps_are_alike() -> None:
    """Lines read in bursts share a stamp: readings over the time they took."""
    time_s = np.repeat(np.arange(20) / 10.0, 5)
    assert find_plateaus(time_s, np.full(100, 0.8)).rate_hz == pytest.approx(99 / 1.9)
    assert find_plateaus(np.array([0.0, 0.25]), np.zeros(2)).rate_hz == 4.0


@pytest.mark.parametrize(("rate_hz", "hole_s"), [(200.0, 0.05), (100.0, 0.05), (20.0, 0.15)])
def test_a_hole_in_the_times_cuts(rate_hz: float, hole_s: float) -> None:
    """More than three steps and more than 50 ms; less is a clock that dawdles."""
    for step_s, found in ((0.96 * hole_s, 1), (1.04 * hole_s, 2)):
        time_s = np.arange(200) / rate_hz
        time_s[100:] += step_s - 1.0 / rate_hz
        assert len(find_plateaus(time_s, np.full(200, 0.8)).found) == found


def test_gaps_at_the_very_ends_cut_nothing() -> None:
    """Before the first reading and behind the last one there is nothing to part."""
    assert ends(at_rate(np.full(200, 0.8), gaps=[0, 200])) == [(0, 200)]
    assert ends(at_rate(np.full(200, 0.8), gaps=[50])) == [(0, 50), (50, 200)]
    assert ends(at_rate(np.full(200, 0.8), gaps=[20])) == [(20, 200)]


@pytest.mark.parametrize(("rate_hz", "levels"), [(100.0, 1), (90.0, 3)])
def test_two_odd_readings_are_none_where_a_window_holds_ten_points(
    rate_hz: float, levels: int
) -> None:
    """A running median of five takes them out; in shorter windows one of three takes out one."""
    way = np.full(300, 1.0)
    way[[150, 151]] = 3.0
    assert np.ptp(at_rate(way, rate_hz).grid[140:160]) == pytest.approx(levels // 2 * 2.0, abs=1e-4)
    way[151] = 1.0
    assert np.ptp(at_rate(way, rate_hz).grid[140:160]) < 1e-4


def test_block_values_by_hand() -> None:
    """The middle of five parts' means; of two parts their mean; what is left over is dropped."""
    ten = np.array([0.0, 2.0, 10.0, 12.0, 4.0, 6.0, 8.0, 8.0, 3.0, 5.0])
    assert block_median(np.concatenate([ten, ten[:9]]), 10).tolist() == [5.0]
    assert block_median(np.array([1.0, 3.0, 5.0, 9.0, 7.0]), 2).tolist() == [2.0, 7.0]
    assert block_median(np.array([1.0, 9.0, 3.0, 5.0]), 4).tolist() == [4.0]
    assert block_median(np.array([5.0, 1.0, 3.0]), 3).tolist() == [3.0]
    rng = np.random.default_rng(3)
    for block in (3, 4, 5):
        values = rng.normal(size=20 * block)
        middles = np.median(values.reshape(20, block), axis=1)
        assert block_median(values, block) == pytest.approx(middles)


def test_fast_noise_of_few_readings_by_hand() -> None:
    """Three readings have one second difference, two have none; missing ones are left out."""
    unit = 0.6745 * 6.0**0.5
    assert white_sd(np.array([0.0, 1.0])) == 0.0
    assert white_sd(np.array([0.0, 1.0, 0.0])) == pytest.approx(2.0 / unit)
    assert white_sd(np.array([0.0, 1.0, 0.0, np.nan, 5.0])) == pytest.approx(2.0 / unit)
    assert white_sd(np.full(9, np.nan)) == 0.0


def test_the_range_of_a_signal_leaves_out_what_two_points_do() -> None:
    """From the least to the largest, whatever the sign; spikes of two points aside."""
    assert signal_span(np.repeat([1.0, 3.0], 10)) == 2.0
    assert signal_span(np.repeat([-3.0, -1.0, 2.0], 10)) == 5.0
    spiked = np.repeat([1.0, 3.0], 10)
    spiked[[4, 5]] = 99.0
    assert signal_span(spiked) == 2.0
    assert signal_span(np.full(9, np.nan)) == 0.0


@pytest.mark.parametrize(("height", "count"), [(1.9, 1), (2.1, 2)])
def test_a_burst_is_bridged_up_to_twice_the_boundary(height: float, count: int) -> None:
    """And up to a window's length; where the level behind it is another one it parts them."""
    limit = at_rate(np.full(400, 1.0), lsb=0.01).still_range
    assert limit == pytest.approx(0.022)
    burst = np.full(400, 1.0)
    burst[200:212] += height * limit
    assert len(at_rate(burst, lsb=0.01).found) == count
    long = np.full(400, 1.0)
    long[200:225] += 1.9 * limit
    assert len(at_rate(long, lsb=0.01).found) == 2
    for behind, parts in ((0.9, 1), (1.1, 2)):
        stepped = burst if height < 2.0 else np.full(400, 1.0)
        stepped = np.where(np.arange(400) < 212, stepped, 1.0 + behind * limit)
        if height < 2.0:
            assert len(at_rate(stepped, lsb=0.01).found) == parts


@pytest.mark.parametrize(("swings", "points", "count"), [(5, 4, 1), (7, 3, 2)])
def test_a_burst_of_a_window_s_length_is_bridged(swings: int, points: int, count: int) -> None:
    """Twenty points of 5 ms that do not stand still themselves; one more is not."""
    burst = np.full(400, 1.0)
    burst[200 : 200 + swings * points] += np.repeat(([0.04, 0.012] * 4)[:swings], points)
    assert len(at_rate(burst, lsb=0.01).found) == count
