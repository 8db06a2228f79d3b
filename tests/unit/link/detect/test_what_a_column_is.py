"""What tells a clock, counts and volts apart from all else: on either side of each limit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.link.detect.clock import ClockColumn, find_clock
from calib.link.detect.numbers import columns_of, guess_full_scale, guess_unit

Numbers = NDArray[Any]
TENTH_S = 3.0 + 0.1 * np.arange(41.0)


def timed(counts: Numbers, name: str = "c0", arrival_s: Numbers = TENTH_S) -> ClockColumn | None:
    """What one column is taken for whose lines came at these times."""
    return find_clock(counts[:, None], arrival_s[: len(counts)], (name,))


def filed(counts: Numbers, name: str = "t") -> ClockColumn | None:
    """What one column of a file is taken for."""
    return find_clock(counts[:, None], np.full(len(counts), np.nan), (name,))


@pytest.mark.parametrize(("pace", "unit"), [(0.81, "s"), (1.19, "s"), (0.79, None), (1.21, None)])
@pytest.mark.parametrize(("per_s", "called"), [(1.0, "s"), (1e3, "ms"), (1e6, "us")])
def test_a_pace_may_be_a_fifth_off(
    pace: float, unit: str | None, per_s: float, called: str
) -> None:
    """More is no unit's pace; the name is taken whatever the pace is."""
    found = timed(pace * per_s * TENTH_S)
    assert found is not None
    assert found.unit == (called if unit else None)
    assert found.unit_from == ("pace" if unit else "")
    named = timed(pace * per_s * TENTH_S, f"t_{called}")
    assert named is not None
    assert (named.unit, named.unit_from) == (called, "name")


@pytest.mark.parametrize(("lines", "told"), [(7, False), (8, True)])
def test_eight_lines_can_be_a_clock(lines: int, told: bool) -> None:
    """Fewer rise all the way by chance, in a file too."""
    seconds = 0.2 * np.arange(float(lines))
    assert (timed(seconds, arrival_s=seconds) is not None) is told
    assert (filed(seconds, "t_s") is not None) is told


@pytest.mark.parametrize(("lines", "told"), [(8, False), (9, True)])
def test_eight_tenths_of_a_second_tell_a_pace(lines: int, told: bool) -> None:
    """From the first line to the last."""
    assert (
        timed(np.arange(9.0)[:lines] * 0.1, arrival_s=0.1001 * np.arange(9)) is not None
    ) is told


@pytest.mark.parametrize(
    ("uneven", "late", "told"), [(4, 55.0, True), (5, 55.0, False), (5, 50.0, True)]
)
def test_nine_of_ten_steps_are_even_where_lines_came_raggedly(
    uneven: int, late: float, told: bool
) -> None:
    """Half to twice the usual step: of forty, four may be shorter, and half of it is not.

    By hand: lines that are 0.16 s early and late in turn go with time by 0.991, where 0.98 is
    enough for even steps and 0.999 for others.
    """
    ragged_s = TENTH_S + 0.16 * (-1.0) ** np.arange(41)
    counts = 100.0 * np.arange(41)
    counts[4::8][:uneven] += late
    assert (timed(counts, arrival_s=ragged_s) is not None) is told
    assert timed(counts) is not None


@pytest.mark.parametrize("modulus", [2**32, 2**31, 2**30, 2**24, 2**16, 10**6, 10**5, 10**4])
@pytest.mark.parametrize(("lost", "wrap"), [(0, True), (3, True), (5, False)])
def test_a_wrap_is_told_to_within_three_steps(modulus: int, lost: int, wrap: bool) -> None:
    """For a line or two that were lost; farther off it fits no counter and started again."""
    counts = np.concatenate([modulus - 1000.0 + 100.0 * np.arange(10), 100.0 * np.arange(lost, 31)])
    found = timed(counts, "t_ms", TENTH_S)
    assert found is not None
    assert found.wrap == (modulus if wrap else None)
    assert found.may_wrap
    long = filed(np.concatenate([counts, 3000.0 + 100.0 * np.arange(1, 60)]), "t_ms")
    assert long is not None
    assert (long.wrap, long.unit) == (modulus if wrap else None, "ms")


def test_of_a_clock_that_started_again_the_longer_part_counts() -> None:
    """Ten lines and thirty-one, or thirty-one and ten; twice is no clock."""
    for first in (10, 31):
        counts = np.concatenate([7e5 + 100.0 * np.arange(first), 100.0 * np.arange(41 - first)])
        found = timed(counts)
        assert found is not None
        assert (found.unit, found.wrap) == ("ms", None)
        assert found.pace_hz == pytest.approx(1000.0)
    twice = np.concatenate([100.0 * np.arange(14)] * 3)[:41]
    assert timed(twice) is None
    brief = np.concatenate([7e5 + 100.0 * np.arange(7), 100.0 * np.arange(7)])
    assert timed(brief) is None


@pytest.mark.parametrize(
    ("step", "unit"),
    [(0.25, "s"), (0.26, None), (1.9, None), (2.0, "ms"), (2.1, "ms"), (299.0, "ms"),
     (300.5, "us")],
)  # fmt: skip
def test_steps_of_a_file_with_decimals(step: float, unit: str | None) -> None:
    """Up to a quarter they are seconds, from two on milliseconds, above 300 microseconds."""
    found = filed(0.125 + step * np.arange(100))
    assert found is not None
    assert (found.unit, found.unit_from) == (unit, "steps" if unit else "")
    assert not found.may_wrap


@pytest.mark.parametrize(
    ("step", "shared", "unit"),
    [(1.0, 5, "s"), (1.0, 4, "ms"), (1.0, 1, None), (2.0, 1, "ms"), (300.0, 1, "ms"),
     (301.0, 1, "us"), (2.0, 10, "s"), (1.0, 6, "s")],
)  # fmt: skip
def test_whole_steps_of_a_file(step: float, shared: int, unit: str | None) -> None:
    """Where five lines share a stamp they are seconds; a count of lines is none of them."""
    counts = np.repeat(step * np.arange(400 // shared + 1.0), shared)
    counts = counts[: len(counts) - shared + 1]
    found = filed(counts)
    assert found is not None
    assert found.unit == unit
    assert found.may_wrap


@pytest.mark.parametrize(
    ("start", "unit"),
    [(1e9, "s"), (9.99e9, "s"), (1e12, "ms"), (9.99e12, "ms"), (1e15, "us"), (9.99e15, "us")],
)
def test_counts_since_1970(start: float, unit: str) -> None:
    """The years 2001 to 2286, whatever the steps are."""
    found = filed(start + 128.0 * np.arange(100))
    assert found is not None
    assert (found.unit, found.unit_from) == (unit, "steps")


@pytest.mark.parametrize(("back", "told"), [(2, True), (3, False)])
def test_a_files_time_goes_on(back: int, told: bool) -> None:
    """Of a hundred steps two may go back, where its logger started again; some go on."""
    counts = 10.0 * np.arange(101)
    counts[[20, 50, 80][:back]] += 15.0
    assert (filed(counts) is not None) is told
    assert filed(np.zeros(101)) is None


@pytest.mark.parametrize(
    ("unit", "told"),
    [("\u00b0", "deg"), ("degrees", "deg"), ("volts", "V"), ("counts", "count"), ("LSB", "count"),
     ("m/s^2", "m/s2"), ("%", "percent"), ("dps", "deg/s"), ("\u00b0C", "degC"), ("bar", "bar")],
)  # fmt: skip
def test_units_behind_numbers_have_one_spelling(unit: str, told: str) -> None:
    """Others stay as they are; missing numbers are none of a column's."""
    values = np.array([[1.0, np.nan], [3.0, np.nan], [np.nan, np.nan]])
    first, second = columns_of(values, ["a", "b"], {0: unit})
    assert (first.unit, first.low, first.high, first.whole) == (told, 1.0, 3.0, True)
    assert (second.unit, second.low, second.high) == ("", 0.0, 0.0)


@pytest.mark.parametrize(
    ("low", "high", "unit"),
    [(0.0, 4095.0, "count"), (-1.0, 4095.0, None), (0.0, 4096.0, None), (-0.2, 6.0, "V"),
     (-0.21, 5.5, None), (0.5, 6.01, None)],
)  # fmt: skip
def test_counts_and_volts_by_their_limits(low: float, high: float, unit: str | None) -> None:
    """Whole numbers from nought to below 4096; decimals from -0.2 to 6 V."""
    middle = 1.0 if low == round(low) and high == round(high) else 1.25
    (column,) = columns_of(np.array([[low], [middle], [high]]), ["c0"], {})
    assert guess_unit(column).unit == unit
    assert guess_full_scale(1023.5) == 1024
    assert guess_full_scale(4095.0) == 4096


@pytest.mark.parametrize(
    ("name", "stated", "unit"),
    [("pedal (mV)", "", "mV"), ("pedal_V", "", "V"), ("tilt [deg]", "", "deg"), ("ax g", "", "g"),
     ("dog", "", "count"), ("a0", "volts", "V"), ("pedal_mV", "V", "V")],
)  # fmt: skip
def test_a_name_or_a_unit_behind_the_number_decides(name: str, stated: str, unit: str) -> None:
    """What stands behind the number comes before the name; a name that only ends so is no unit."""
    (column,) = columns_of(np.array([[500.0], [700.0]]), [name], {0: stated} if stated else {})
    guess = guess_unit(column)
    assert (guess.unit, guess.by_name) == (unit, name != "dog")


def test_of_two_clocks_the_first_with_a_unit_is_the_clock() -> None:
    """A column that counts in a unit of its own comes behind, wherever it stands."""
    own, first, second = 32_768.0 * TENTH_S, 1e3 * TENTH_S, 1e6 * TENTH_S
    for columns, index in (((own, first, second), 1), ((second, first), 0), ((own, own), 0)):
        names = [f"c{place}" for place in range(len(columns))]
        found = find_clock(np.column_stack(columns), TENTH_S, names)
        assert found is not None
        assert found.index == index


def test_a_wall_clock_in_words_has_no_pace_and_no_wrap() -> None:
    """The first of several; whatever else is in the lines."""
    found = find_clock(np.column_stack([TENTH_S] * 3), TENTH_S, ["a", "b", "c"], {2, 1})
    assert found is not None
    assert (found.index, found.unit, found.unit_from) == (1, "text", "text")
    assert np.isnan(found.pace_hz)
    assert (found.wrap, found.may_wrap, found.by_one) == (None, False, False)
