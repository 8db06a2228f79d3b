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
