from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.two_track import TrackAgreement, track_agreement

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
