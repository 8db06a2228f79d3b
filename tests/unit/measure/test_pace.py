from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.measure.pace import Pace, find_pace, multiples_of_least

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
