from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.travel import StayLevel, stay_level

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


def exact(pieces: NDArray[np.float64], *, inward: int = 1, **changed: float) -> StayLevel:
    """The level of a stay without noise, of pieces of 15 ms that stand still at 200 Hz."""
    figures = {"span_V": 0.0, "rate_hz": RATE_HZ, "lsb_V": 0.0, **changed}
    return stay_level(np.repeat(pieces, 3), inward=inward, **figures)


@pytest.mark.parametrize(
    ("changed", "bound_V"), [({"span_V": 3.0}, 0.009), ({"lsb_V": 0.02}, 0.044)]
)
def test_what_moves_by_less_than_a_share_of_the_travel_or_a_flicker_stands(
    changed: dict[str, float], bound_V: float
) -> None:
    """Three thousandths of the travel, or 2.2 steps of the converter."""
    half = np.repeat([1.0, 0.0], 10)
    for share, readings in ((0.99, 60), (1.01, 15)):
        found = exact(share * bound_V * half, inward=1, **changed)
        assert len(found.readings) == readings
        assert (found.tremble_V == found.sunk_V == 0.0) is (readings == 60)


def test_noise_that_pieces_average_away_does_not_hide_a_movement() -> None:
    """Eight standard deviations of the noise that is left in a mean of one piece.

    By hand: a zigzag of ±e has second differences of 4·e, and none of it is left in four readings.
    """
    zigzag = 0.001 * np.tile([1.0, -1.0], 40)
    bound_V = 8.0 * 0.004 / (0.6745 * 6.0**0.5) / 2.0
    for share, readings in ((0.97, 80), (1.03, 20)):
        step = np.repeat([0.0, share * bound_V], 40)
        found = stay_level(zigzag + step, inward=1, span_V=0.0, rate_hz=4.0 / 0.015, lsb_V=0.0)
        assert len(found.readings) == readings


@pytest.mark.parametrize(("odd", "moves"), [(2, False), (3, True)])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_fiftieth_of_a_stay_is_not_looked_at(odd: int, moves: bool, sign: float) -> None:
    """Of a hundred pieces two that are off make no movement, three do, above or below."""
    pieces = np.zeros(100)
    pieces[40 : 40 + odd] = 0.3 * sign
    assert (len(exact(pieces, span_V=3.0).readings) < 300) is moves


def test_sinking_is_from_the_first_third_to_the_last() -> None:
    """Of four pieces a third is one, of eight two; a straight way leaves no tremble."""
    assert exact(np.array([0.0, 1.0, 2.0, 3.0])).sunk_V == 3.0
    assert exact(np.array([0.0, 1.0, 2.0, 3.0]), inward=-1).sunk_V == -3.0
    found = exact(np.arange(8.0))
    assert found.sunk_V == 6.0
    long = exact(np.arange(300.0))
    assert long.sunk_V == 200.0
    assert long.tremble_V == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize(("odd", "tremble_V"), [(4, 0.0), (6, 0.5)])
def test_tremble_is_half_the_swing_without_its_outer_twentieths(odd: int, tremble_V: float) -> None:
    """Six of a hundred pieces on either side are tremble, four are not."""
    pieces = np.zeros(100)
    pieces[40 : 40 + odd], pieces[50 : 50 + odd] = 0.5, -0.5
    found = exact(pieces)
    assert (found.tremble_V, found.sunk_V) == (tremble_V, 0.0)


@pytest.mark.parametrize(
    ("count", "rate_hz", "kept"), [(8, 50.0, 5), (28, 50.0, 7), (40, 50.0, 10), (12, 200.0, 6)]
)
def test_a_quarter_makes_the_level_and_five_readings_at_least(
    count: int, rate_hz: float, kept: int
) -> None:
    """The readings nearest the travel; of pieces of three, as many as hold five."""
    ramp = np.arange(float(count))
    up = stay_level(ramp, inward=1, span_V=0.0, rate_hz=rate_hz, lsb_V=0.0)
    assert up.readings.tolist() == ramp[-kept:].tolist()
    assert up.outer_V == ramp[:kept].mean()
    down = stay_level(ramp, inward=-1, span_V=0.0, rate_hz=rate_hz, lsb_V=0.0)
    assert down.readings.tolist() == ramp[:kept].tolist()
    assert down.outer_V == ramp[-kept:].mean()


def test_three_pieces_are_too_few_to_move() -> None:
    """Eleven readings of three a piece are taken as they are; twelve are looked into."""
    assert len(stay_level(np.arange(11.0), inward=1, span_V=0, rate_hz=200, lsb_V=0).readings) == 11
    assert len(stay_level(np.arange(12.0), inward=1, span_V=0, rate_hz=200, lsb_V=0).readings) == 6
