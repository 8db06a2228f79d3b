from __future__ import annotations

import numpy as np
import pytest

from calib.wheel.counting import pulses_of
from calib.wheel.turns import (
    Turns,
    allowed_pulses,
    count_only,
    find_turns,
    possible_counts,
    turns_needed,
)
from tests.wheel_files import Floats, hand, levels, ring


def found(magnets: list[tuple[float, float]], counted: int | None = 10) -> Turns:
    """What ten steady turns of a ring give."""
    time_s, turns = hand(10.0)
    pulses = pulses_of(time_s, levels(magnets, turns))
    return find_turns(pulses.start_s, counted, pulses.width_s)


@pytest.mark.parametrize("pulses", [1, 2, 3, 6, 20, 48])
def test_counted_turns_give_the_pulses(pulses: int) -> None:
    """One to dozens of even magnets, by the count alone."""
    assert found(ring(pulses)).pulses_a_turn == pulses


@pytest.mark.parametrize("pulses", range(1, 60))
def test_ten_turns_tell_every_number_from_its_neighbours(pulses: int) -> None:
    """With as many pulses more or fewer as the hand's stops make, no other number fits."""
    loose = int(allowed_pulses(pulses))
    for off in (-loose, 0, loose):
        assert possible_counts(pulses * 10 + off, 10) == (pulses,)


def test_too_few_turns_leave_several_numbers_and_say_how_many_are_needed() -> None:
    """Two turns of forty magnets may be thirty-nine or forty-one; with the turns asked for not."""
    assert len(possible_counts(80, 2)) > 1
    needed = turns_needed(41)
    assert possible_counts(40 * needed, needed) == (40,)


def test_a_turn_that_stopped_between_marks_gives_no_number() -> None:
    """Six magnets over nine and a half turns, told as ten."""
    assert count_only(57, 10).pulses_a_turn is None


def test_an_uneven_ring_shows_its_period_without_counted_turns() -> None:
    """Magnets set by hand repeat after a turn."""
    magnets = [(at + off, width) for (at, width), off in
               zip(ring(5), (0.0, 0.03, -0.02, 0.015, 0.0), strict=True)]  # fmt: skip
    turned = found(magnets, None)
    assert turned.repeating == 5
    assert turned.pulses_a_turn is None  # a hand that swings evenly makes a pattern too
    assert turned.pattern is not None
    assert sorted(turned.pattern.gaps_deg) == pytest.approx(
        sorted(360.0 * np.diff([*(at for at, _ in magnets), 1.0 + magnets[0][0]])), abs=1.0
    )


def test_an_even_ring_shows_no_period() -> None:
    """All gaps alike say nothing of turns."""
    assert found(ring(6), None).pulses_a_turn is None


@pytest.mark.parametrize(("way", "number"), [(1.0, 5), (2.0, None)])
def test_a_pattern_that_stops_with_the_hand_is_a_turn(way: float, number: int | None) -> None:
    """The hand stops at the mark each time; where it stops every other time nothing is claimed."""
    magnets = [(at + off, width) for (at, width), off in
               zip(ring(5), (0.0, 0.03, -0.02, 0.015, 0.0), strict=True)]  # fmt: skip
    turned = find_turns(_stopping(magnets, [way] * 8), None)
    assert turned.repeating == 5
    assert turned.pulses_a_turn == number


def _stopping(magnets: list[tuple[float, float]], ways: list[float]) -> Floats:
    """When pulses began, s, of a hand that goes so many turns at a time and then stands still."""
    pieces, at_s, at = [], 1.0, 0.0
    for way in ways:
        share = np.linspace(0.0, 1.0, 1000)
        pieces.append(np.column_stack([at_s + 2.0 * way * share, at + way * share]))
        at_s, at = at_s + 2.0 * way + 3.0, at + way
    path = np.vstack([[0.0, 0.0], *pieces])
    time_s = np.arange(0.0, at_s, 0.001)
    return pulses_of(time_s, levels(magnets, np.interp(time_s, path[:, 0], path[:, 1]))).start_s


def test_a_missing_magnet_makes_a_gap_of_two() -> None:
    """Seven of eight: the longest gap is twice its neighbours, once every turn."""
    turned = found(ring(8, missing=5))
    assert turned.pulses_a_turn == 7
    assert turned.pattern is not None
    assert turned.pattern.longest == pytest.approx(2.0, abs=0.1)


def test_magnets_that_a_hand_placed_are_told_from_a_missing_one() -> None:
    """Forty of them, each off by a tenth of a gap or so: none is missing until one is taken out."""
    rng = np.random.default_rng(3)
    off = np.clip(0.1 * rng.standard_normal(40), -0.25, 0.25) / 40
    magnets = [(at + by, 0.3 * width) for (at, width), by in zip(ring(40), off, strict=True)]
    for placed, longest in ((magnets, (1.0, 1.55)), (magnets[:23] + magnets[24:], (1.7, 2.4))):
        turned = found(placed)
        assert turned.pattern is not None
        assert longest[0] <= turned.pattern.longest <= longest[1]


def test_a_weak_magnet_shows_as_a_narrow_pulse() -> None:
    """One of six is seen over half the usual angle."""
    magnets = ring(6)
    magnets[3] = (magnets[3][0], 0.5 * magnets[3][1])
    turned = found(magnets)
    assert turned.pattern is not None
    assert turned.pattern.widths is not None
    assert min(turned.pattern.widths) == pytest.approx(0.5, abs=0.05)


def test_a_pulse_missed_now_and_then_is_told_from_the_ring() -> None:
    """One of sixty left out is one late gap, and no gap of the ring."""
    time_s, turns = hand(10.0)
    start_s = pulses_of(time_s, levels(ring(6), turns)).start_s
    turned = find_turns(np.delete(start_s, 31), 10)
    assert (turned.missed, turned.doubled) == (1, 0)
    assert turned.pulses_a_turn == 6


def test_a_magnet_missed_in_most_turns_is_no_magnet_less() -> None:
    """One of 32 that is seen in two turns of ten: the count fits 31, and the gaps leave 32 open."""
    time_s, turns = hand(10.0)
    start_s = pulses_of(time_s, levels(ring(32), turns)).start_s
    turned = find_turns(
        np.delete(start_s, [32 * turn + 9 for turn in (0, 1, 2, 4, 5, 6, 8, 9)]), 10
    )
    assert turned.possible == (31,)
    assert 32 in turned.mended
    assert turned.is_doubtful


def test_half_turns_are_noticed() -> None:
    """A hand that stops at the mark each time, and once on the other side."""
    turned = find_turns(_stopping(ring(8), [1.0, 1.0, 0.5, 1.5, 1.0]), 5)
    assert turned.stops == (8, 8, 4, 12, 8)
    assert turned.half_turns() == 2
