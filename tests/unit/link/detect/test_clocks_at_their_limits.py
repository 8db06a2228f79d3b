"""Clocks that only just are some, by their wraps, their epochs and what their lines share."""

from __future__ import annotations

import numpy as np
import pytest

from calib.link.detect.clock import find_clock
from tests.unit.link.detect.test_what_a_column_is import TENTH_S, filed, timed


def test_a_counter_of_three_digits_wraps_too() -> None:
    """Milliseconds from 0 to 999, shown on a display."""
    counts = (400.0 + 20.0 * np.arange(41)) % 1000.0
    found = timed(counts, "t_ms", 0.02 * np.arange(41.0))
    assert found is not None
    assert (found.wrap, found.unit) == (1000, "ms")


@pytest.mark.parametrize(
    ("start", "step", "unit"),
    [
        (1e10, 128.0, "ms"),
        (1.5e10, 128.0, "ms"),
        (0.9e9, 128.0, "ms"),
        (1e13, 1000.0, "us"),
        (1.5e13, 1000.0, "us"),
        (0.9e12, 1000.0, "us"),
        (1e16, 128.0, "ms"),
        (1.5e16, 128.0, "ms"),
        (0.9e15, 128.0, "ms"),
        (1e10 - 128.0, 128.0, "ms"),
        (1e10 - 128.0 * 99 - 1, 128.0, "s"),
        (1e9, 128.0, "s"),
        (1e12, 1000.0, "ms"),
        (1e15, 128.0, "us"),
    ],
)
def test_what_is_no_count_since_1970_is_told_by_its_steps(
    start: float, step: float, unit: str
) -> None:
    """All of it lies in the years 2001 to 2286, or it is none."""
    found = filed(start + step * np.arange(100))
    assert found is not None
    assert (found.unit, found.unit_from) == (unit, "steps")


def test_eight_tenths_of_a_second_are_enough_to_the_last_digit() -> None:
    """From the first line to the last; in a file the lines have no time."""
    arrival_s = 0.1 * np.arange(9.0)
    assert arrival_s[-1] == 0.8
    assert timed(1e3 * arrival_s, arrival_s=arrival_s) is not None
    assert filed(0.1 * np.arange(9.0)) is not None


@pytest.mark.parametrize(("steps", "told"), [(8, False), (30, True)])
def test_a_clock_of_whole_seconds_is_told_once_it_is_long(steps: int, told: bool) -> None:
    """Twenty lines a second share each stamp: nine stamps are a stair, thirty a straight line."""
    arrival_s = 0.05 * np.arange(20.0 * (steps + 1))
    seconds = np.floor(arrival_s + 0.01)
    assert (timed(seconds, arrival_s=arrival_s) is not None) is told


@pytest.mark.parametrize(("late", "told"), [(100.0, True), (110.0, False)])
def test_a_step_of_twice_the_usual_is_even_and_a_longer_one_is_not(late: float, told: bool) -> None:
    """One in eight is longer by so much; the lines came raggedly, so even steps are asked for."""
    ragged_s = TENTH_S + 0.16 * (-1.0) ** np.arange(41)
    counts = 100.0 * np.arange(41) + late * (np.arange(41) // 8)
    assert (timed(counts, arrival_s=ragged_s) is not None) is told


@pytest.mark.parametrize(
    ("name", "told"),
    [("t", True), ("Time", True), ("t_ms", True), ("log_s", True), ("log_ms", True),
     ("unnamed", True), ("uptime (s)", True), ("total", False), ("throttle", False),
     ("timely", False), ("a", False)],
)  # fmt: skip
def test_a_column_of_a_file_is_a_clock_by_its_name(name: str, told: bool) -> None:
    """However raggedly it goes on; others must rise evenly and be called by a unit."""
    counts = np.cumsum(np.tile([0.0, 5.0, 45.0, 30.0], 25))
    assert (filed(counts, name) is not None) is told


@pytest.mark.parametrize(("even", "told"), [(True, True), (False, False)])
def test_a_column_of_a_file_without_a_name_must_rise_evenly(even: bool, told: bool) -> None:
    """The lines of a log are all the time that there is."""
    counts = 20.0 * np.arange(60.0) if even else np.cumsum(np.tile([0.0, 1.0, 200.0], 20))
    assert (filed(counts, "c3") is not None) is told


def test_a_column_with_missing_numbers_is_no_clock() -> None:
    """Nor is one that stands still, nor one that counts lines; the next one may be."""
    holes = 1e3 * TENTH_S
    holes[5] = np.nan
    columns = np.column_stack([holes, np.full(41, 7.0), np.arange(41.0), 1e6 * TENTH_S])
    found = find_clock(columns, TENTH_S, ["t", "u", "v", "w"])
    assert found is not None
    assert (found.index, found.unit, found.by_one) == (3, "us", False)


def test_a_line_count_that_is_called_a_time_is_doubted() -> None:
    """Its name is believed, and that it rises by one is said, as is that the pace is another."""
    found = timed(np.arange(41.0), "t_ms")
    assert found is not None
    assert (found.unit, found.unit_from, found.by_one) == ("ms", "name", True)
    assert found.pace_hz == pytest.approx(10.0)
    named = filed(np.arange(41.0), "v_ms")
    assert named is not None
    assert (named.by_one, np.isnan(named.pace_hz)) == (True, True)


def test_a_column_that_moved_once_and_went_back_is_no_clock() -> None:
    """It stands still but for one reading, and nothing goes with it; nobody is warned of that."""
    once = np.zeros(60)
    once[1] = 1.0
    assert filed(once, "c3") is None
