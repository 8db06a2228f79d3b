from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.stay_level import StayLevel, stay_level

RATE_HZ = 200.0
TIME_S = np.arange(400) / RATE_HZ
SPAN_V = 3.0


def level(volts: NDArray[np.float64], inward: int, lsb_V: float = 0.0) -> StayLevel:
    """The level of a stay of two seconds with 2 mV of noise."""
    noise = np.random.default_rng(4).normal(0.0, 0.002, volts.shape)
    return stay_level(volts + noise, inward=inward, span_V=SPAN_V, rate_hz=RATE_HZ, lsb_V=lsb_V)


def test_a_stay_that_stands_gives_all_its_readings() -> None:
    """Noise alone moves nothing: every reading counts, and nothing is told."""
    found = level(np.full(400, 1.0), 1)
    assert len(found.readings) == 400
    assert found.outer_V == pytest.approx(found.readings.mean())
    assert (found.sunk_V, found.tremble_V) == (0.0, 0.0)


@pytest.mark.parametrize(("inward", "sign"), [(1, 1.0), (-1, -1.0)])
def test_a_stay_that_moves_stands_nearest_the_travel(inward: int, sign: float) -> None:
    """The quarter nearest the travel is the level, whichever end and direction it is."""
    sinking = level(1.0 + sign * 0.06 * TIME_S / TIME_S[-1], inward)
    away = level(1.0 - sign * 0.06 * TIME_S / TIME_S[-1], inward)
    assert sign * (sinking.readings.mean() - 1.0) == pytest.approx(0.0525, abs=0.003)
    assert sign * (away.readings.mean() - 1.0) == pytest.approx(-0.0075, abs=0.003)
    assert sign * (sinking.outer_V - 1.0) == pytest.approx(0.0075, abs=0.003)
    assert sinking.sunk_V == pytest.approx(0.04, abs=0.003)
    assert away.sunk_V == pytest.approx(-0.04, abs=0.003)


@pytest.mark.parametrize("rate_hz", [4.0, 8.0, 12.0])
def test_tremble_is_told_and_not_averaged_away(rate_hz: float) -> None:
    """Half the swing is told, and the level lies at its inner side."""
    found = level(4.0 + 0.06 * np.sin(2.0 * np.pi * rate_hz * TIME_S), -1)
    assert found.tremble_V == pytest.approx(0.06, rel=0.1)
    # The outer quarter of a sine has nine tenths of its swing; pieces blunt 12 Hz by a twentieth.
    assert found.readings.mean() == pytest.approx(4.0 - 0.053, abs=0.004)


def test_two_levels_of_one_stay_are_not_pooled() -> None:
    """A thumb that is laid on for half of a stay makes its level, with the noise of the line."""
    found = level(np.where(TIME_S < 1.0, 1.0, 1.09), 1)
    assert found.readings.mean() == pytest.approx(1.09, abs=0.002)
    assert found.readings.std() < 0.004
    assert found.outer_V == pytest.approx(1.0, abs=0.002)


def test_a_flicker_of_the_converter_is_no_movement() -> None:
    """Codes that change by one step stand still."""
    codes = np.where(np.random.default_rng(5).random(400) < 0.5, 1.0, 1.02)
    assert len(level(codes, 1, lsb_V=0.02).readings) == 400


def test_a_brief_stay_is_all_level() -> None:
    """Too few readings to tell movement from noise are taken as they are."""
    assert len(level(np.linspace(1.0, 1.1, 8), 1).readings) == 8
