from __future__ import annotations

import math

import pytest

from calib.wheel.rolling import FOOT_M, circumference, way_mm


def test_a_way_over_turns_is_a_circumference() -> None:
    """19.84 m over ten turns, the rider on: 1984 mm and half of the longest detour, a mm."""
    rolled = circumference([19.84], 10, seated=True)
    assert rolled.mm == pytest.approx(1984.0, abs=1.01)
    assert 1.0 < rolled.budget.u < 5.0


def test_a_rider_who_was_not_on_is_allowed_for_and_in_doubt() -> None:
    """A third of five millimetres of sag, all the way round, is 10.5 mm of a turn."""
    seated = circumference([19.84], 10, seated=True)
    bare = circumference([19.84], 10, seated=False)
    assert seated.mm - bare.mm == pytest.approx(2.0 * math.pi * 5.0 / 3.0)
    assert bare.budget.components[0].source == "rider's weight not on"


def test_more_turns_shrink_what_the_ends_bring_in() -> None:
    """Marks and valve count once a way, so with ten turns a tenth of them is left."""
    one = {part.source: part.u for part in circumference([1.984], 1, seated=True).budget.components}
    ten = {
        part.source: part.u for part in circumference([19.84], 10, seated=True).budget.components
    }
    for source in ("marks on the floor", "valve not at the bottom"):
        assert ten[source] == pytest.approx(one[source] / 10.0, rel=1e-6)


def test_several_ways_shrink_their_ends_and_not_the_tape() -> None:
    """Four pushes along one tape: half of the ends, all of the tape."""
    once = {
        part.source: part.u for part in circumference([19.84], 10, seated=True).budget.components
    }
    rolled = circumference([19.84] * 4, 10, seated=True)
    four = {part.source: part.u for part in rolled.budget.components}
    assert four["marks on the floor"] == pytest.approx(0.5 * once["marks on the floor"])
    assert four["tape"] == once["tape"]
    assert rolled.apart_mm == 0.0


def test_largest_first() -> None:
    """The budget is told in the order in which it matters."""
    sizes = [part.u for part in circumference([5.9], 3, seated=False).budget.components]
    assert sizes == sorted(sizes, reverse=True)


def test_a_single_way_is_known_by_tape_marks_and_straightness() -> None:
    """Over a kilometre a tenth of a per cent decides, over a metre the marks."""
    assert way_mm(1000.0)[1] == pytest.approx(500.0 / math.sqrt(3.0), rel=0.1)
    assert way_mm(1.0)[1] == pytest.approx(5.0 * math.sqrt(2.0 / 3.0), rel=0.1)


def test_a_foot() -> None:
    """0.3048 m, exactly."""
    assert FOOT_M == 0.3048
