from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from calib.checks.travel.evenings import Evening, evening_limits, evening_of
from calib.controls.travel import LevelMeasurement, StayLevel
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


def test_distance_and_margin_of_evenings_by_hand() -> None:
    """Distance hypot(z·E, w), margin hypot(k·E, w·√(ν/χ²)), w = hypot(z·press, q/sd·noise).

    E from evening to evening, press and noise pooled; q/sd where the noise reaches farther than a
    normal one. Factors from scipy: noncentral t of four evenings, χ² of all degrees of freedom.
    """
    tonight = level(0.900)
    limits = tonight.limits
    heavy = replace(limits.tail_high, sd=0.003, quantile=0.0135)
    tonight = replace(tonight, limits=replace(limits, tail_high=heavy))
    own = evening_of(tonight.spread)
    others = [Evening(mean_V, 5, 0.002, 0.003, 40.0) for mean_V in (0.90, 0.91, 0.92)]
    found = evening_limits(tonight, others)
    between_V = float(np.std([own.mean_V, 0.90, 0.91, 0.92], ddof=1))
    press = (3 * 4 * 0.002**2 + 4 * own.sd_means_V**2) / 16
    noise_dof = 3 * 40.0 + own.dof_within
    noise = (3 * 40.0 * 0.003**2 + own.dof_within * own.sd_within_V**2) / noise_dof
    z = float(stats.norm.ppf(0.999))
    factor = float(stats.nct.ppf(0.95, 3, z * 2.0)) / 2.0
    dof = (press + noise) ** 2 / (press**2 / 16 + noise**2 / noise_dof)
    larger = (dof / float(stats.chi2.ppf(0.05, dof))) ** 0.5
    for reach, tail in ((found.above, 4.5), (found.below, None)):
        heavier = tail or max(z, limits.tail_low.quantile / limits.tail_low.sd)
        within_V = float(np.hypot(z * press**0.5, heavier * noise**0.5))
        assert reach.distance == pytest.approx(np.hypot(z * between_V, within_V), rel=1e-6)
        assert reach.margin == pytest.approx(
            np.hypot(factor * between_V, within_V * larger), rel=1e-6
        )


def test_noise_that_reaches_less_far_is_taken_for_normal() -> None:
    """A short tail shortens nothing, and no noise at all divides by nothing."""
    tonight = level(0.900)
    usual = evening_limits(tonight, evenings([0.90, 0.91, 0.92])).above
    for tail in (
        replace(tonight.limits.tail_high, sd=0.003, quantile=0.003),
        replace(tonight.limits.tail_high, sd=0.0, quantile=0.0),
    ):
        short = replace(tonight, limits=replace(tonight.limits, tail_high=tail))
        assert evening_limits(short, evenings([0.90, 0.91, 0.92])).above == usual


def test_evenings_of_one_press_each_tell_nothing_of_presses() -> None:
    """Their spread from press to press is unknown, and what the converter hides stands for it."""
    rng = np.random.default_rng(5)
    spread = level_spread([0.9 + 0.003 * rng.normal(size=150)], lsb=0.05)
    tonight = LevelMeasurement(spread, tolerance_limits(spread), ())
    others = [Evening(mean_V, 1, 0.0, 0.003, 149.0) for mean_V in (0.8, 0.9, 1.0)]
    found = evening_limits(tonight, others).above
    step_V = 0.7 * spread.step_sd
    assert step_V > 0.009
    between_V = float(np.std([spread.mean, 0.8, 0.9, 1.0], ddof=1))
    z = float(stats.norm.ppf(0.999))
    noise = (3 * 149 * 0.003**2 + spread.dof_within * spread.sd_within**2) / (
        3 * 149 + spread.dof_within
    )
    heavier = max(z, tonight.limits.tail_high.quantile / tonight.limits.tail_high.sd)
    by_hand = (z**2 * (between_V**2 + step_V**2) + heavier**2 * noise) ** 0.5
    assert found.distance == pytest.approx(by_hand, rel=1e-9)
