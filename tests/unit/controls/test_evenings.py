from __future__ import annotations

import numpy as np
import pytest

from calib.controls.evenings import Evening, evening_limits, evening_of
from calib.controls.stay_level import StayLevel
from calib.controls.travel import LevelMeasurement
from calib.measure.spread import level_spread
from calib.measure.tolerance import tolerance_limits


def level(mean_V: float, seed: int = 1) -> LevelMeasurement:
    """One evening's rest: five stays, 2 mV from press to press, 3 mV of noise."""
    rng = np.random.default_rng(seed)
    stays = tuple(mean_V + 0.002 * rng.normal() + 0.003 * rng.normal(size=150) for _ in range(5))
    spread = level_spread(stays, lsb=0.001)
    levels = tuple(StayLevel(stay, float(stay.mean())) for stay in stays)
    return LevelMeasurement(spread, tolerance_limits(spread), levels)


def evenings(means_V: list[float]) -> list[Evening]:
    """Evenings at these means."""
    return [evening_of(level(mean_V, seed).spread) for seed, mean_V in enumerate(means_V)]


def test_evenings_that_differ_move_the_limit_out() -> None:
    """The farther evenings lie apart the farther the limit, counted from their grand mean."""
    tonight = level(0.900)
    near = evening_limits(tonight, evenings([0.901, 0.899, 0.900, 0.902]))
    far = evening_limits(tonight, evenings([0.91, 0.89, 0.905, 0.88]))
    assert near.method == far.method == "evenings"
    assert near.centre == pytest.approx(0.9004, abs=0.002)
    assert far.high - far.centre > 2.0 * (near.high - near.centre)
    assert far.low < near.low


def test_more_evenings_bring_it_nearer() -> None:
    """Twice as many evenings with the same spread leave a nearer limit."""
    tonight = level(0.900)
    few = evening_limits(tonight, evenings([0.904, 0.896, 0.903]))
    many = evening_limits(tonight, evenings([0.904, 0.896, 0.903, 0.897] * 2))
    assert many.above.margin < few.above.margin


def test_three_evenings_are_too_few() -> None:
    """With three evenings in all there is no spread between evenings to build on."""
    with pytest.raises(ValueError, match="3 evenings"):
        evening_limits(level(0.9), evenings([0.9, 0.901]))


def test_what_one_evening_shows_is_pooled_by_its_degrees_of_freedom() -> None:
    """Evenings that agree leave the presses' and the noise's spread, each pooled over them.

    By hand: 2 mV of six stays and 4 mV of three, (5·4 + 2·16)/7; noise alike.
    """
    tonight = level(0.900)
    own = evening_of(tonight.spread)
    others = [
        Evening(own.mean_V, stays, sd_V, 0.003, 100.0)
        for stays, sd_V in ((6, 0.002), (3, 0.004), (6, 0.002))
    ]
    found = evening_limits(tonight, others).above.distance
    parts = [(5.0, 2.0), (2.0, 4.0), (5.0, 2.0), (own.stays - 1.0, 1e3 * own.sd_means_V)]
    press_mV = sum(dof * sd**2 for dof, sd in parts) / sum(dof for dof, _ in parts)
    noise = [(100.0, 3.0)] * 3 + [(own.dof_within, 1e3 * own.sd_within_V)]
    noise_mV = sum(dof * sd**2 for dof, sd in noise) / sum(dof for dof, _ in noise)
    assert found == pytest.approx(3.0902e-3 * (press_mV + noise_mV) ** 0.5, rel=0.02)
