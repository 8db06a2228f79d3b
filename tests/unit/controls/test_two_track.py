from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.checks.travel.two_track import TrackAgreement, refresh_rows, track_agreement

TIME_S = np.arange(2000) / 200.0
TRAVEL_PCT = 50.0 * (1.0 - np.cos(2.0 * np.pi * TIME_S / 2.5))


def _agreement(
    time_s: NDArray[np.float64], first: NDArray[np.float64], second: NDArray[np.float64]
) -> TrackAgreement:
    return track_agreement(time_s, first, second, most_pct=10.0, longest_s=0.1)


def test_equal_tracks_agree() -> None:
    """Two tracks with a little noise agree over the whole travel."""
    rng = np.random.default_rng(71)
    found = _agreement(TIME_S, TRAVEL_PCT, TRAVEL_PCT + 0.3 * rng.normal(size=2000))
    assert found.judged
    assert found.failures == 0
    assert found.largest_pct < 2.0


@pytest.mark.parametrize(("length_s", "failures"), [(0.08, 0), (0.2, 1)])
def test_only_a_lasting_difference_is_a_failure(length_s: float, failures: int) -> None:
    """A difference of 15 % is a failure when it lasts longer than 100 ms."""
    other = TRAVEL_PCT.copy()
    other[600 : 600 + round(length_s * 200.0)] += 15.0
    found = _agreement(TIME_S, TRAVEL_PCT, other)
    assert found.failures == failures
    assert found.largest_pct == pytest.approx(15.0, abs=2.0)
    assert found.longest_s == pytest.approx(length_s, abs=0.02)


def test_a_small_difference_is_no_failure_however_long() -> None:
    """Nine per cent apart all the time is within the rule."""
    assert _agreement(TIME_S, TRAVEL_PCT, TRAVEL_PCT + 9.0).failures == 0


def test_tracks_read_in_turn_are_not_apart() -> None:
    """A track that is refreshed every fourth row, and read later, does not disagree."""
    held = np.repeat(TRAVEL_PCT[::4], 4)
    late = np.roll(held, 2)
    late[:2] = held[0]
    found = _agreement(TIME_S, held, late)
    assert found.judged
    assert found.failures == 0
    assert found.largest_pct < 3.0


def test_a_dead_track_disagrees() -> None:
    """A track that stays at rest while the other is worked fails."""
    assert _agreement(TIME_S, TRAVEL_PCT, np.zeros(2000)).failures == 4


def test_nothing_to_compare() -> None:
    """A single row is not judged."""
    assert not _agreement(TIME_S[:1], TRAVEL_PCT[:1], TRAVEL_PCT[:1]).judged


TICK_S = 1.0 / 64.0
ROWS_S: NDArray[np.float64] = TICK_S * np.arange(64.0)


def offset(first: int, stop: int, by_pct: float = 15.0) -> NDArray[np.float64]:
    """A track at half travel, off by some per cent from one row to before another."""
    track = np.full(64, 50.0)
    track[first:stop] += by_pct
    return track


def limited(second: NDArray[np.float64]) -> TrackAgreement:
    """Agreement with a track at half travel, four ticks allowed above 10 %."""
    return track_agreement(ROWS_S, np.full(64, 50.0), second, most_pct=10.0, longest_s=4.0 * TICK_S)


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(("rows", "failures"), [(5, 0), (6, 1)])
def test_a_difference_must_outlast_the_limit_and_one_refresh(
    sign: float, rows: int, failures: int
) -> None:
    """Four ticks and one of refresh are allowed, to the tick; an edge may be one row late."""
    found = limited(offset(20, 22 + rows, sign * 15.0))
    assert found.failures == failures
    assert found.longest_s == rows * TICK_S
    assert found.largest_pct == 15.0
    assert (found.skew_s, found.judged) == (TICK_S, True)


def test_a_difference_of_just_the_limit_is_allowed_and_one_to_the_end_is_seen() -> None:
    """Ten per cent are within ten; what lasts until the record ends has lasted that long."""
    assert limited(offset(10, 50, 10.0)).failures == 0
    last = limited(offset(50, 64))
    assert (last.failures, last.longest_s) == (1, 12.0 * TICK_S)
    equal = limited(np.full(64, 50.0))
    assert (equal.largest_pct, equal.longest_s, equal.failures) == (0.0, 0.0, 0)


@pytest.mark.parametrize("late", [2, -2])
def test_a_track_may_be_one_refresh_late_or_early(late: int) -> None:
    """On a ramp of one per cent a row a track that is two rows off differs by the second row."""
    first, second, nearer = (
        np.clip(np.arange(64.0) - begin, 0.0, 40.0) for begin in (10, 10 + late, 10 + late // 2)
    )
    assert track_agreement(ROWS_S, first, second, most_pct=9.0, longest_s=0.1).largest_pct == 1.0
    assert track_agreement(ROWS_S, first, nearer, most_pct=9.0, longest_s=0.1).largest_pct == 0.0


def test_the_slower_of_two_tracks_sets_the_refresh() -> None:
    """One track new in each row and one in every fourth: four rows, whichever is first."""
    ramp = np.clip(np.arange(64.0) - 10.0, 0.0, 40.0)
    held = np.repeat(ramp[::4], 4)
    for first, second in ((ramp, held), (held, ramp)):
        found = track_agreement(ROWS_S, first, second, most_pct=10.0, longest_s=4.0 * TICK_S)
        assert (found.skew_s, found.judged, found.largest_pct) == (4.0 * TICK_S, True, 0.0)
        assert not track_agreement(ROWS_S, first, second, most_pct=10.0, longest_s=0.06).judged


def test_rows_between_changes() -> None:
    """Three changes tell a refresh, by the closer of their distances; two tell none."""
    track = np.zeros(40)
    track[5:] = 1.0
    track[10:] = 2.0
    assert refresh_rows(track) == 1
    track[15:] = 3.0
    assert refresh_rows(track) == 5
    track[[20, 22, 24, 26]] = 7.0
    assert refresh_rows(track) == 1


def test_two_rows_are_compared() -> None:
    """Two rows have a step, and are judged by it."""
    found = track_agreement(
        ROWS_S[:2], np.full(2, 50.0), np.full(2, 80.0), most_pct=10.0, longest_s=0.1
    )
    assert (found.judged, found.largest_pct) == (True, 30.0)
