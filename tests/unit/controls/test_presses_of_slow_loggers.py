"""What a hand did, as few readings a second show it, and at limits that are met to the digit."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.presses import Presses, count_presses

Floats = NDArray[np.float64]


def told(*legs: tuple[int, float], rate_hz: float = 100.0, span_V: float = 4.0) -> Presses:
    """Presses of a control from 1 V on: a second at rest, then (readings, share at their end)."""
    parts, at = [np.zeros(round(rate_hz))], 0.0
    for readings, share in legs:
        parts.append(at + (share - at) * np.arange(1, readings + 1) / readings)
        at = share
    volts = np.asarray(1.0 + span_V * np.concatenate(parts), dtype=np.float64)
    return count_presses(np.arange(len(volts)) / rate_hz, volts)


PRESS = ((30, 1.0), (100, 1.0), (20, 0.0), (100, 0.0))


@pytest.mark.parametrize(("share", "half"), [(0.24, 0), (0.25, 0), (0.26, 1)])
def test_a_quarter_of_the_travel_is_a_thumb_and_more_is_half_a_press(
    share: float, half: int
) -> None:
    """A hand that rests on a control works it no farther."""
    found = told(*PRESS, (20, share), (50, share), (20, 0.0), (100, 0.0))
    assert (found.count, found.half) == (1, half)


@pytest.mark.parametrize(("readings", "reached_V"), [(1, 3.6), (2, 4.0), (3, 4.0)])
def test_an_end_of_the_travel_is_two_readings_of_ten_a_second(
    readings: int, reached_V: float
) -> None:
    """One may be a glitch: it was nowhere for a twentieth of a second."""
    found = told((3, 0.9), *[(1, 1.0)] * readings, (1, 0.9), (3, 0.0), (10, 0.0), rate_hz=10.0)
    assert found.rest_V == pytest.approx(1.0)
    assert found.travel_V == pytest.approx(reached_V)


@pytest.mark.parametrize(("readings", "breaks"), [(1, 1), (2, 0)])
def test_a_leap_of_a_hundred_readings_a_second_is_one_reading_long(
    readings: int, breaks: int
) -> None:
    """A hand can cross a quarter of the travel in two of them."""
    found = told(*PRESS, (readings, 0.24), (30, 0.24), (readings, 0.0), (100, 0.0))
    assert len(found.breaks) == breaks


@pytest.mark.parametrize(
    ("before", "behind", "breaks"), [(0.0, 0.0, 1), (0.2, 0.0, 0), (0.0, 0.2, 0)]
)
def test_a_leap_begins_and_ends_standing(before: float, behind: float, breaks: int) -> None:
    """One that a hand was on its way to, or went on from, is the hand's."""
    out = [(2, before)] if before else []
    on = [(2, 0.6 + behind)] if behind else []
    found = told(*PRESS, *out, (1, 0.6), *on, (30, 0.6 + behind), (1, 0.0), (100, 0.0))
    assert len(found.breaks) == breaks


@pytest.mark.parametrize(("share", "averaged"), [(0.0095, False), (0.0105, True), (0.019, True)])
def test_noise_of_more_than_a_hundredth_of_the_travel_is_averaged_away(
    share: float, averaged: bool
) -> None:
    """Below that it stands, and takes its swing off the travel.

    By hand: of volts that alternate by v either way the second difference is 4 v, which as the
    noise of a normal law is 4 v / (0.6745 * sqrt(6)).
    """
    factor = 4.0 / (0.6745 * np.sqrt(6.0))
    v = 4.0 * share / (factor - 2.0 * share)
    parts = [np.zeros(100), np.linspace(0, 1, 30), np.ones(100), np.linspace(1, 0, 20)]
    way = 1.0 + 4.0 * np.concatenate([*parts, np.zeros(100)])
    volts = np.asarray(way + v * np.tile([1.0, -1.0], len(way) // 2), dtype=np.float64)
    found = count_presses(np.arange(len(volts)) / 100.0, volts)
    assert found.count == 1
    assert found.travel_V == pytest.approx(4.0 if averaged else 4.0 - 2.0 * v, abs=0.01)


@pytest.mark.parametrize(("span_V", "worked"), [(0.149, False), (0.15, True), (-0.15, True)])
def test_fifteen_hundredths_of_a_volt_themselves_are_a_travel(span_V: float, worked: bool) -> None:
    """From a rest of nought, where the difference has no rounding; either way."""
    way = np.concatenate([np.zeros(100), np.linspace(0, 1, 30), np.ones(100)])
    volts = np.asarray(span_V * way, dtype=np.float64)
    found = count_presses(np.arange(len(volts)) / 100.0, volts)
    assert found.worked is worked
    assert found.starts_at_rest
    assert found.released is not worked
    assert found.reversed is (span_V < 0.0)


def test_of_no_readings_nothing_is_said() -> None:
    """Neither that it is at rest nor that it moved."""
    found = count_presses(np.empty(0), np.empty(0))
    assert (found.worked, found.released, found.starts_at_rest, found.reversed) == (False,) * 4
    assert (found.rest_V, found.travel_V, found.count, found.half, found.unheld) == (
        None, 0.0, 0, 0, 0,
    )  # fmt: skip
    assert (len(found.stays), len(found.breaks), len(found.away_s)) == (0, 0, 0)


def to_the_digit(*legs: tuple[int, float], start: float = 0.0) -> Presses:
    """Presses of a control from 0 to 1 V, whose volts are its share of the travel to the digit."""
    parts, at = [np.full(100, start)], start
    for readings, share in legs:
        parts.append(at + (share - at) * np.arange(1, readings + 1) / readings)
        parts[-1][-1] = at = share
    volts = np.concatenate(parts)
    return count_presses(np.arange(len(volts)) / 100.0, np.asarray(volts, dtype=np.float64))


@pytest.mark.parametrize(("share", "count"), [(0.849, 1), (0.85, 2), (0.851, 2)])
def test_eighty_five_hundredths_themselves_are_full_travel(share: float, count: int) -> None:
    """What is held there is a press, and a little less is half of one."""
    found = to_the_digit(*PRESS, (30, share), (100, share), (20, 0.0), (100, 0.0))
    assert (found.count, found.half, found.unheld) == (count, 2 - count, 0)
    assert list(found.reached) == pytest.approx([1.0, share], abs=1e-6)


@pytest.mark.parametrize(("share", "count"), [(0.149, 2), (0.15, 2), (0.151, 1)])
def test_fifteen_hundredths_themselves_are_rest(share: float, count: int) -> None:
    """A control that comes no nearer has not been let go between two presses."""
    found = to_the_digit(*PRESS[:2], (20, share), (60, share), *PRESS)
    assert (found.count, len(found.away_s)) == (count, count)
    assert found.released


@pytest.mark.parametrize(("start", "is_rest"), [(0.0, True), (0.15, True), (0.16, False)])
def test_a_capture_begins_at_rest_within_fifteen_hundredths(start: float, is_rest: bool) -> None:
    """Farther off it begins in the hand, and what it ends in is rest; at either end of the way."""
    low = to_the_digit((20, 0.0), (100, 0.0), (30, 1.0), (100, 1.0), start=start)
    assert low.reversed is not is_rest
    assert low.rest_V == (0.0 if is_rest else 1.0)
    high = to_the_digit((20, 1.0), (100, 1.0), (30, 0.0), (100, 0.0), start=1.0 - start)
    assert high.reversed is is_rest
    assert high.rest_V == (1.0 if is_rest else 0.0)


@pytest.mark.parametrize(
    ("shares", "half"),
    [((0.16, 0.32, 0.45, 0.45, 0.32, 0.16), 0),
     ((0.16, 0.32, 0.45, 0.5, 0.5, 0.45, 0.32, 0.16), 1)],
)  # fmt: skip
def test_eight_hundredths_of_a_second_are_the_shortest_press(
    shares: tuple[float, ...], half: int
) -> None:
    """From the last reading at rest to the first one there again: seven steps are a glitch."""
    found = to_the_digit(*PRESS, *[(1, share) for share in shares], (1, 0.0), (100, 0.0))
    assert (found.count, found.half, len(found.away_s)) == (1, half, 1 + half)
    assert found.breaks == ()


def test_what_a_capture_begins_in_is_no_press() -> None:
    """Its hold was not seen from its begin; the press behind it is one."""
    found = to_the_digit((20, 0.0), (100, 0.0), *PRESS, start=0.5)
    assert (found.reversed, found.starts_at_rest, found.released) == (False, False, True)
    assert (found.count, found.half, found.unheld, len(found.away_s)) == (1, 0, 0, 2)
    assert found.away_s[0][0] == 0.0
