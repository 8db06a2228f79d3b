from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.signal import lfilter

from calib.measure.spread import (
    effective_count,
    level_spread,
    pooled_lag1,
    step_sd,
    variance_dof,
    variance_inflation,
)


def test_variance_inflation_is_the_double_sum() -> None:
    """The closed form equals the sum over all pairs of readings."""
    for count, lag1 in ((2, 0.3), (20, 0.8), (50, 0.5), (200, 0.95)):
        k = np.arange(1, count)
        direct = 1.0 + 2.0 * float(((1.0 - k / count) * lag1**k).sum())
        assert variance_inflation(count, lag1) == pytest.approx(direct, rel=1e-9)


@pytest.mark.parametrize(("count", "lag1"), [(60, 0.6), (150, 0.9), (150, 0.99), (500, 0.95)])
def test_variance_dof_is_no_larger_than_the_exact_one(count: int, lag1: float) -> None:
    """The degrees of freedom of a correlated sum of squares are not overstated, nor halved."""
    covariance = lag1 ** np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    centred = covariance - covariance.mean(axis=0)
    exact = float(np.trace(centred)) ** 2 / float((centred * centred.T).sum())
    assert 0.3 * exact < variance_dof(count, lag1) <= exact


def test_negative_correlation_shrinks_nothing() -> None:
    """A negative lag-1 correlation leaves the count of independent readings as it is."""
    assert variance_inflation(100, -0.5) == 1.0
    assert effective_count(100, -0.5) == 100.0
    zigzag = np.tile([1.0, -1.0], 50)
    assert pooled_lag1(zigzag, np.array([100.0])) == 0.0


def test_lag1_bias_of_short_plateaus_is_corrected() -> None:
    """Averaged over many captures of short plateaus the correlation comes out near its truth."""
    rng = np.random.default_rng(11)
    found = []
    for _ in range(300):
        groups = [lfilter([0.6], [1.0, -0.8], rng.normal(size=260))[200:] for _ in range(5)]
        found.append(level_spread(groups).lag1)
    assert float(np.mean(found)) == pytest.approx(0.8, abs=0.02)


def test_components_are_recovered() -> None:
    """The spreads within and between come out as they were made, correlation or not."""
    rng = np.random.default_rng(12)
    groups = []
    for _ in range(400):
        noise = lfilter([np.sqrt(1.0 - 0.9**2)], [1.0, -0.9], rng.normal(size=400))[200:]
        groups.append(1.0 + 0.003 * rng.normal() + 0.005 * noise)
    spread = level_spread(groups)
    assert spread.mean == pytest.approx(1.0, abs=0.0006)
    assert spread.sd_within == pytest.approx(0.005, rel=0.05)
    assert spread.sd_between == pytest.approx(0.003, rel=0.15)
    assert spread.n_effective == pytest.approx(400 * effective_count(200, 0.9), rel=0.15)


def test_step_sd_falls_from_a_full_step_to_nothing() -> None:
    """Without flicker the step leaves LSB/√12; with noise of half a step it leaves nothing."""
    assert step_sd(0.0, 0.02) == pytest.approx(0.02 / np.sqrt(12.0), rel=1e-12)
    assert step_sd(0.02, 0.02) < 1e-6
    assert step_sd(0.0, 0.0) == 0.0
    values = [step_sd(sd, 0.02) for sd in np.linspace(0.0, 0.02, 30)]
    assert all(b <= a for a, b in itertools.pairwise(values))


def test_one_plateau_claims_no_spread_between() -> None:
    """With one plateau the between spread is 0 and the uncertainty rests on the readings."""
    spread = level_spread([np.array([1.0, 1.1, 0.9])])
    assert (spread.plateaus, spread.sd_between, spread.sd_means) == (1, 0.0, 0.0)
    assert spread.u > 0.0


def test_a_level_needs_a_plateau() -> None:
    """No plateau, or an empty one, is no level."""
    with pytest.raises(ValueError, match="at least one plateau"):
        level_spread([])


def test_stays_are_the_least_degrees_of_freedom() -> None:
    """However correlated the readings of a stay are, each stay tells of the noise once."""
    slow = [np.linspace(0.0, 1.0, 400) + 0.1 * place for place in range(6)]
    spread = level_spread(slow)
    assert spread.lag1 > 0.99
    assert spread.dof_within >= 5.0


def test_what_ends_one_stay_and_begins_the_next_are_no_neighbours() -> None:
    """Readings on either side of a border say nothing of how one reading follows another."""
    there, back = np.array([-1.0, 0.0, 1.0]), np.array([1.0, 0.0, -1.0])
    residuals = np.concatenate([there, back] * 20)
    assert pooled_lag1(residuals, np.full(40, 3.0)) == 0.0


def test_short_stays_hide_none_of_their_noise() -> None:
    """The mean of five readings takes a fifth of their variance with it, and it is given back."""
    rng = np.random.default_rng(13)
    spread = level_spread([0.5 * rng.normal() + rng.normal(size=5) for _ in range(4000)])
    assert spread.sd_within == pytest.approx(1.0, rel=0.02)
    assert spread.sd_between == pytest.approx(0.5, rel=0.06)
    assert spread.sd_residual == pytest.approx(np.sqrt(0.8), rel=0.02)


def test_correlation_of_short_stays_by_hand() -> None:
    """Two up, two down, twelve readings: one product of eleven is left over.

    Raw 1/12 · 12/11; corrected by the bias -(1 + 3·r)/(n - 1): (1 + 1)/8.
    """
    residuals = np.array([1.0, 1.0, -1.0, -1.0] * 3)
    assert pooled_lag1(residuals, np.array([12.0])) == pytest.approx(0.25)
    assert pooled_lag1(residuals[:8], np.array([8.0])) == pytest.approx(1.0 / 7.0)


def test_uncertainty_of_a_mean_by_hand() -> None:
    """Spread of the means over √n, and what the step hides: LSB/√12 where nothing flickers."""
    pair = level_spread([np.full(4, 1.0), np.full(4, 1.2)], lsb=0.12)
    assert (pair.mean, pair.sd_means, pair.sd_between) == pytest.approx((1.1, 0.02**0.5, 0.02**0.5))
    assert pair.u == pytest.approx((0.02 / 2.0 + 0.12**2 / 12.0) ** 0.5)
    assert pair.means == pytest.approx([1.0, 1.2])
    assert (pair.samples, pair.plateaus) == (8, 2)
    alone = level_spread([np.array([1.0, 1.2, 0.8, 1.0])])
    assert alone.u == alone.sd_residual == pytest.approx(0.02**0.5)
    assert alone.residuals == pytest.approx([0.0, 0.2, -0.2, 0.0])


def test_a_creeping_stay_hides_no_more_than_nineteen_twentieths() -> None:
    """Readings that are all but one and the same tell next to nothing of the noise.

    Six such stays tell of it six times, less one.
    """
    slow = level_spread([np.linspace(0.0, 1.0, 400) + place for place in range(6)])
    assert slow.sd_within == pytest.approx(slow.sd_residual / 0.05**0.5)
    assert slow.dof_within == 5.0
    assert slow.means == pytest.approx(0.5 + np.arange(6.0))


@pytest.mark.parametrize("lag1", [0.3, 0.9, 0.99])
def test_two_and_three_correlated_readings_by_hand(lag1: float) -> None:
    """Variance of a mean of two: (1 + r)/2; of three: (3 + 4·r + 2·r²)/9."""
    assert effective_count(2, lag1) == pytest.approx(2.0 / (1.0 + lag1))
    assert effective_count(3, lag1) == pytest.approx(9.0 / (3.0 + 4.0 * lag1 + 2.0 * lag1**2))
    assert effective_count(1, lag1) == 1.0


@pytest.mark.parametrize("noise", [0.02, 0.05, 0.1])
def test_what_a_step_leaves_beside_a_little_noise(noise: float) -> None:
    """Terms of lsb²/(2π²k²)·exp(-4π²k²σ²/lsb²), σ² less Sheppard's lsb²/12.

    Source: Widrow and Kollár's series, its first three terms written out.
    """
    lsb, pulse = 0.02, 4.0 * np.pi**2 * noise
    by_hand = (np.exp(-pulse) + np.exp(-4.0 * pulse) / 4.0 + np.exp(-9.0 * pulse) / 9.0) / (
        2.0 * np.pi**2
    )
    found = step_sd(lsb * (noise + 1.0 / 12.0) ** 0.5, lsb)
    assert found == pytest.approx(lsb * by_hand**0.5, rel=1e-3)


@pytest.mark.parametrize(("count", "lag1"), [(100, 0.0), (100, 0.5), (3, 0.1)])
def test_degrees_of_freedom_of_correlated_readings(count: int, lag1: float) -> None:
    """n·(1 - r²)/(1 + r²), and never more than n - 1."""
    by_hand = count * (1.0 - lag1**2) / (1.0 + lag1**2)
    assert variance_dof(count, lag1) == pytest.approx(min(count - 1.0, by_hand))
    assert variance_dof(1, lag1) == 0.0
