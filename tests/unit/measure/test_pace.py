from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.measure.pace import Pace, find_pace, multiples_of_least
from calib.measure.straight_line import fit_weighted_line

RATE_HZ = 99.0
COUNT = 6000
EVEN_S = np.arange(COUNT) / RATE_HZ
SIZES = [[2], [4], [10], [40], [2, 4, 8, 16, 40], list(range(2, 41))]
Floats = NDArray[np.float64]


def bursts(true_s: Floats, sizes: list[int], stalls_s: tuple[float, ...] = ()) -> Floats:
    """Stamps of a host that reads some lines at once, and now and then none for half a second."""
    rng = np.random.default_rng(7)
    stamps_s = np.empty_like(true_s)
    first = 0
    while first < len(true_s):
        stop = min(first + int(rng.choice(sizes)), len(true_s))
        read_s = true_s[stop - 1] + rng.uniform(0, 0.002)
        stamps_s[first:stop] = read_s + 0.0005 * np.arange(stop - first)
        first = stop
    for at_s in stalls_s:
        a, b = np.searchsorted(true_s, [at_s, at_s + 0.5])
        stamps_s[a:b] = np.maximum(stamps_s[a:b], true_s[b - 1] + 1e-4 * np.arange(b - a))
    return np.maximum.accumulate(stamps_s)


def stray_s(pace: Pace, true_s: Floats) -> float:
    """How far times are from the truth at most, a constant aside."""
    off_s = pace.time_s - true_s
    return float(np.abs(off_s - np.median(off_s)).max())


@pytest.mark.parametrize("sizes", SIZES)
def test_bursts_are_no_gaps_and_an_even_time_is_laid(sizes: list[int]) -> None:
    """Whatever the bursts, with stalls of half a second too: rate and times as the device's."""
    pace = find_pace(bursts(EVEN_S, sizes, (7.0, 20.0, 33.0)))
    assert pace.laid
    assert pace.missing == ()
    assert pace.rate_hz == pytest.approx(RATE_HZ, rel=1e-3)
    assert stray_s(pace, EVEN_S) < 0.003
    assert 0.005 < pace.late_s < 0.45


@pytest.mark.parametrize("sizes", SIZES)
def test_what_is_missing_in_bursts_is_a_gap(sizes: list[int]) -> None:
    """A second that the device did not send is told, and is not laid over."""
    kept = np.ones(COUNT, dtype=bool)
    kept[2000:2100] = False
    pace = find_pace(bursts(EVEN_S[kept], sizes, (7.0, 40.0)))
    (gap,) = pace.missing
    assert abs(gap.index - 2000) <= max(sizes)
    assert gap.samples == pytest.approx(100, abs=2)
    assert gap.duration_s == pytest.approx(101 / RATE_HZ, abs=0.03)
    assert pace.time_s[-1] == pytest.approx(EVEN_S[-1], abs=0.05)


def test_even_stamps_stand_as_they_are() -> None:
    """A device's own clock is not touched, jitter and a real gap included."""
    rng = np.random.default_rng(3)
    stamps_s = EVEN_S + rng.uniform(-0.002, 0.002, COUNT)
    stamps_s[3000:] += 5.0
    pace = find_pace(stamps_s)
    assert not pace.laid
    assert pace.time_s is stamps_s
    (gap,) = pace.missing
    assert (gap.index, gap.samples) == (3000, 495)
    assert pace.rate_hz == pytest.approx(RATE_HZ, rel=1e-3)


def test_one_late_line_is_no_gap() -> None:
    """A step above two usual ones, after which the next line is on time, misses nothing."""
    stamps_s = EVEN_S.copy()
    stamps_s[3000] += 0.95 / RATE_HZ
    stamps_s[3000:3002] += 0.6 / RATE_HZ
    assert find_pace(np.sort(stamps_s)).missing == ()


def test_a_clock_coarser_than_the_samples_gives_their_rate_and_gaps() -> None:
    """Milliseconds at 2 kHz: the rate is that of count and span, and ten lost lines are told."""
    numbers = np.delete(np.arange(20_000), np.arange(5000, 5010))
    pace = find_pace(np.floor(numbers / 2.0) / 1000.0)
    assert pace.rate_hz == pytest.approx(2000.0, rel=1e-4)
    assert [(gap.index, gap.samples) for gap in pace.missing] == [(5000, 10)]
    assert stray_s(pace, numbers / 2000.0) < 0.001


def test_whole_seconds_that_many_samples_share() -> None:
    """Stamps of whole seconds: the rate by rows a second, no gap, and a second of raggedness."""
    pace = find_pace(np.floor(EVEN_S + 0.3))
    assert pace.rate_hz == pytest.approx(RATE_HZ, rel=1e-3)
    assert pace.missing == ()
    assert stray_s(pace, EVEN_S) < 0.02
    assert pace.late_s == pytest.approx(1.0, abs=0.1)


def test_drift_of_one_clock_against_the_other_is_followed() -> None:
    """A host whose clock is slewed by a thousandth for a while leaves no gap behind."""
    true_s = np.arange(30_000) / RATE_HZ
    slewed_s = true_s + 1e-3 * np.clip(true_s - 100.0, 0.0, 60.0)
    pace = find_pace(bursts(slewed_s, [4]))
    assert pace.missing == ()
    assert stray_s(pace, slewed_s) < 0.02


@pytest.mark.parametrize("stamps", [[], [1.0], [1.0, 1.0], [1.0, 1.0, 1.0, 1.0]])
def test_no_time_is_no_rate(stamps: list[float]) -> None:
    """Too few samples, or none apart, have no rate."""
    assert find_pace(np.array(stamps)).rate_hz is None


@pytest.mark.parametrize("share", [0.1, 0.2, 0.3, 0.4])
def test_lines_that_a_device_leaves_out_are_missing_and_its_stamps_stand(share: float) -> None:
    """A board whose line carries too little drops lines; what it sends is stamped rightly."""
    true_s = 0.002 * np.arange(5000.0)
    kept = np.random.default_rng(4).random(5000) > share
    kept[[0, -1]] = True
    pace = find_pace(true_s[kept])
    assert not pace.laid
    assert pace.time_s.tolist() == true_s[kept].tolist()
    assert sum(gap.samples for gap in pace.missing) == 5000 - np.count_nonzero(kept)
    assert pace.rate_hz == pytest.approx(500.0, rel=1e-9)


@pytest.mark.parametrize("rate_hz", [510.0, 700.0, 900.0, 990.0, 999.9])
def test_a_clock_of_whole_milliseconds_makes_up_no_gap(rate_hz: float) -> None:
    """Its steps are multiples of one as well; the rate drifts as a crystal does over an hour."""
    index = np.arange(200_000.0)
    true_s = index / rate_hz * (1.0 + 2e-5 * index / len(index))
    assert find_pace(np.floor(1e3 * true_s) / 1e3).missing == ()


@pytest.mark.parametrize(
    ("steps", "multiples"),
    [
        ([1.0, 2.0, 3.009], [1.0, 2.0, 3.0]),
        ([1.0, 2.0, 3.015], None),
        ([0.25, 0.5, 2.0], [1.0, 2.0, 8.0]),
        ([1.0, 0.0, 2.0], None),
        ([1.0, -1.0], None),
    ],
)
def test_steps_that_are_multiples_of_the_least(
    steps: list[float], multiples: list[float] | None
) -> None:
    """To within a hundredth of the least step; where one is none of it, or falls, none is."""
    found = multiples_of_least(np.array(steps))
    assert (None if found is None else found.tolist()) == multiples


def test_each_line_that_a_device_left_out_is_told_with_its_place() -> None:
    """Index of the sample behind it, how many are missing, and how long it took."""
    numbers = np.flatnonzero(np.random.default_rng(5).random(4000) > 0.25)
    pace = find_pace(np.asarray(0.004 * numbers, dtype=np.float64))
    behind = np.flatnonzero(np.diff(numbers) > 1) + 1
    assert [gap.index for gap in pace.missing] == behind.tolist()
    steps = np.diff(numbers)[behind - 1]
    assert [gap.samples for gap in pace.missing] == (steps - 1).tolist()
    assert [gap.duration_s for gap in pace.missing] == pytest.approx((0.004 * steps).tolist())


def test_two_samples_have_a_rate_and_two_steps_are_no_gap() -> None:
    """The rate of two samples is that of their one step; a step of two may be a late line."""
    assert find_pace(np.array([1.0, 1.25])).rate_hz == pytest.approx(4.0)
    assert find_pace(np.array([0.0, 0.1, 0.2, 0.4, 0.5, 0.6])).missing == ()


def test_a_clock_that_drifts_to_the_very_ends_is_followed_there() -> None:
    """A host clock whose rate changes evenly: the first and last seconds are as good as any."""
    true_s = np.arange(12_000) / RATE_HZ
    bent_s = true_s + 4e-6 * true_s**2
    pace = find_pace(bursts(bent_s, [4]))
    assert pace.laid
    off_s = pace.time_s - bent_s
    off_s -= np.median(off_s)
    assert np.abs(off_s[:500]).max() < 0.004
    assert np.abs(off_s[-500:]).max() < 0.004


def stamps(steps_s: list[float]) -> Floats:
    """Stamps from nought on with these steps."""
    return np.cumsum([0.0, *steps_s])


@pytest.mark.parametrize(("edge", "even"), [(0.5, True), (0.49, False), (1.5, True), (1.51, False)])
def test_nine_ordinary_steps_of_ten_are_even(edge: float, even: bool) -> None:
    """Ordinary is from half of the usual step to one and a half, both included."""
    pace = find_pace(stamps([1.0, 1.0, 1.0, 1.0, edge, 1.0, 0.25, 1.0, 1.0, 1.0]))
    assert pace.laid is not even
    if even:
        assert pace.missing == ()
        assert pace.rate_hz == pytest.approx(10.0 / (8.25 + edge))
        assert pace.late_s == 0.0


@pytest.mark.parametrize(("ones", "even"), [(28, True), (27, False)])
def test_two_long_steps_may_take_three_tenths_of_the_time(ones: int, even: bool) -> None:
    """Twice six of forty are even stamps with two gaps; of a little less nobody says so at once."""
    steps = [1.0] * ones
    steps[5:5], steps[15:15] = [6.03125], [5.96875]
    pace = find_pace(stamps(steps))
    assert pace.laid is not even
    if even:
        assert [(gap.index, gap.samples, gap.duration_s) for gap in pace.missing] == [
            (6, 5, 6.03125), (16, 5, 5.96875),
        ]  # fmt: skip
        assert pace.rate_hz == pytest.approx(1.0)


def test_one_long_step_is_a_gap_however_long() -> None:
    """Ten even steps and one of a hundred and a quarter: a hundred are missing there, not 99."""
    pace = find_pace(stamps([1.0] * 5 + [100.75] + [1.0] * 5))
    assert not pace.laid
    assert [(gap.index, gap.samples, gap.duration_s) for gap in pace.missing] == [(6, 100, 100.75)]
    assert pace.rate_hz == pytest.approx(111 / 110.75)


@pytest.mark.parametrize(
    ("singles", "other", "wanders"),
    [((10, 10), 2.0, True), ((7, 7), 2.0, True), ((6, 6), 2.0, False), ((10, 10), 3.0, True),
     ((10, 11), 3.0, False)],
)  # fmt: skip
def test_when_lines_were_left_out(singles: tuple[int, int], other: float, wanders: bool) -> None:
    """Counts that stray by more than three steps from a line, of steps that are two at most.

    By hand: ten steps of one and ten of two stray by five from the line through all.
    """
    few, many = singles
    pace = find_pace(stamps([1.0] * few + [other] * many))
    assert pace.laid is (not wanders and other > 2.0)
    assert len(pace.missing) == (many if wanders else 0)
    if wanders:
        assert pace.rate_hz == 1.0
        assert [gap.samples for gap in pace.missing] == [int(other) - 1] * many
        assert [gap.index for gap in pace.missing] == list(range(few + 1, few + many + 1))


def test_runs_of_two_hundred_and_fifty_six_are_looked_at_one_by_one() -> None:
    """A rate that changes from one run to the next is no wandering; within each it is."""
    slow = find_pace(stamps([1.0] * 256 + [2.0] * 256))
    assert slow.missing == ()
    assert len(find_pace(stamps(([1.0] * 128 + [2.0] * 128) * 2)).missing) == 256


@pytest.mark.parametrize(("off", "grid"), [(0.0095, True), (0.0105, False)])
def test_a_hundredth_of_a_step_is_rounding(off: float, grid: bool) -> None:
    """A multiple may be off by as much, to either side."""
    for sign in (1.0, -1.0):
        found = multiples_of_least(np.array([1.0, 2.0 + sign * off]))
        assert (found is not None) is grid


def burst_stamps(numbers: Floats, size: int, tick_s: float = 1.0) -> Floats:
    """Stamps of a device that is read in bursts: each line as the last of its burst."""
    first = (np.arange(len(numbers)) // size) * size
    last = np.minimum(first + size - 1, len(numbers) - 1)
    return tick_s * np.asarray(numbers[last], dtype=np.float64)


@pytest.mark.parametrize("size", [3, 4, 7])
def test_bursts_without_delay_give_the_device_s_time_back(size: int) -> None:
    """The last line of each burst is on time, so that nothing of an even device is off."""
    stamped = burst_stamps(np.arange(4200.0), size)
    pace = find_pace(stamped)
    assert pace.laid
    assert pace.missing == ()
    assert pace.rate_hz == pytest.approx(1.0, rel=1e-6)
    assert np.ptp(pace.time_s - np.arange(4200.0)) < 1e-6
    # of a burst of n lines the first is n - 1 late; of 100 stamps 95 are no later than that
    assert pace.late_s == pytest.approx(size - 1.0, abs=1e-6)


@pytest.mark.parametrize(("lost", "told"), [(1, False), (2, True), (30, True)])
def test_two_lines_lost_among_bursts_are_told(lost: int, told: bool) -> None:
    """Time for one line and three quarters must be missing: one may be a late line."""
    numbers = np.concatenate([np.arange(2000.0), np.arange(2000.0 + lost, 4000.0)])
    pace = find_pace(burst_stamps(numbers, 4))
    assert pace.laid
    assert [(gap.index, gap.samples) for gap in pace.missing] == ([(2000, lost)] if told else [])
    if told:
        assert np.ptp(pace.time_s - numbers) < 0.01
        assert pace.missing[0].duration_s == pytest.approx(lost + 1.0, abs=0.01)
        assert pace.rate_hz == pytest.approx(1.0, rel=1e-4)


def test_a_clock_of_another_rate_is_followed_to_the_first_and_last_line() -> None:
    """A host clock that is slewed for the first minute of two: straight before it and behind it.

    Half a block goes on at each end as the envelope came.
    """
    true_s = np.arange(12_000) / 100.0
    for slewed_s in (np.minimum(true_s, 60.0), np.maximum(true_s, 60.0)):
        host_s = true_s + 1e-3 * slewed_s
        pace = find_pace(burst_stamps(host_s, 4))
        assert pace.laid
        assert pace.missing == ()
        off_s = pace.time_s - host_s
        assert np.ptp(off_s[:4000]) < 2e-4
        assert np.ptp(off_s[-4000:]) < 2e-4


def test_what_was_waited_for_and_came_late_is_no_gap() -> None:
    """A stall of forty lines that are all read at once, then on time: nothing is missing."""
    stamped = np.arange(400.0)
    stamped[200:240] = 240.0 + 1e-3 * np.arange(40)
    pace = find_pace(stamped)
    assert pace.missing == ()
    lost = np.concatenate([stamped[:200], stamped[240:]])
    assert [(gap.index, gap.samples) for gap in find_pace(lost).missing] == [(200, 40)]


def test_a_file_that_ends_while_lines_catch_up_has_no_gap() -> None:
    """Where it ends twenty lines into the forty that were late, they are taken to catch up."""
    stamped = np.arange(240.0)
    stamped[200:220] = 240.0 + 1e-3 * np.arange(20)
    assert find_pace(stamped[:220]).missing == ()
    going_on = np.concatenate([np.arange(200.0), 240.0 + np.arange(20.0)])
    assert [(gap.index, gap.samples) for gap in find_pace(going_on).missing] == [(200, 40)]


@pytest.mark.parametrize(("lost", "told"), [(4, False), (8, True), (20, True)])
def test_a_few_lines_less_in_one_of_many_seconds_are_no_gap(lost: int, told: bool) -> None:
    """Stamps of whole seconds that fifty lines share: a tenth of a second must be missing."""
    numbers = np.delete(np.arange(5000), np.arange(2010, 2010 + lost))
    pace = find_pace(np.floor(numbers / 50.0))
    assert pace.laid
    assert pace.rate_hz == pytest.approx(50.0, rel=2e-3)
    assert len(pace.missing) == int(told)
    if told:
        assert pace.missing[0].samples == pytest.approx(lost, abs=1)
        assert abs(pace.missing[0].index - 2010) <= 50


@pytest.mark.parametrize(("rate_hz", "late"), [(100.0, 200), (100.0, 600), (1.0, 30), (1.0, 50)])
def test_a_stall_shorter_than_a_block_bends_no_time(rate_hz: float, late: int) -> None:
    """Lines that all came with the last of them: within ten seconds, or 64 lines, one was on time.

    Nothing is missing behind it, and the even time goes straight on through it.
    """
    true_s = np.arange(12.0 * 500) / rate_hz if rate_hz > 1.0 else np.arange(600.0)
    stamped = burst_stamps(true_s, 4)
    begin = len(stamped) // 2
    stamped[begin : begin + late] = stamped[begin + late - 1]
    pace = find_pace(stamped)
    assert pace.laid
    assert pace.missing == ()
    assert np.ptp(pace.time_s - true_s) * rate_hz < 1e-6


@pytest.mark.parametrize("span", [1e-3, 0.5, 1.0, 50.0])
def test_a_straight_line_may_be_of_any_length(span: float) -> None:
    """Volts of a small signal are a line as those of a large one are."""
    x = span * np.array([0.0, 0.25, 1.0])
    line = fit_weighted_line(x, 2.0 * x + 1.0, np.zeros(3), np.full(3, 0.01))
    assert line.slope == pytest.approx(2.0)
    assert line.intercept == pytest.approx(1.0)


def test_stamps_that_jump_there_and_back_have_the_pace_of_the_first_and_the_last() -> None:
    """Most are equal, so that no burst tells a step; nothing is laid through them."""
    stamped = 5.0 + np.array([0.0, 0, 0, 9, 0, 0, 0, 9, 0, 0, 1])
    pace = find_pace(stamped)
    assert pace.step_s == pytest.approx(0.1)
    assert not pace.laid
    assert pace.time_s.tolist() == stamped.tolist()
    assert pace.missing == ()
