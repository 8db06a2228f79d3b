from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from calib.measure.spread import level_spread
from calib.measure.tolerance import (
    Reach,
    limits_after,
    one_sided_factor,
    reach,
    spread_factor,
    step_sd_of_means,
    tolerance_limits,
)

Z = 3.090232306167813
"""99.9 % quantile of the normal distribution."""


def margin(
    sd_levels: float = 1.0,
    count: int = 5,
    noise_quantile: float = Z,
    dof_noise: float = 50.0,
    content: float = 0.999,
    confidence: float = 0.95,
) -> float:
    """A margin with plain figures, some of them changed."""
    return reach(
        sd_levels=sd_levels,
        count=count,
        noise_quantile=noise_quantile,
        dof_noise=dof_noise,
        content=content,
        confidence=confidence,
    ).margin


@pytest.mark.parametrize("count", [3, 5, 10, 20])
def test_nothing_within_gives_the_exact_noncentral_t(count: int) -> None:
    """Without noise within stays the limit is the exact normal one."""
    exact = stats.nct.ppf(0.95, count - 1, stats.norm.ppf(0.999) * np.sqrt(count))
    found = margin(count=count, noise_quantile=0.0)
    assert found == pytest.approx(float(exact) / np.sqrt(count), rel=1e-6)


def test_nothing_between_gives_the_quantile_of_the_noise() -> None:
    """When the noise is known and the presses agree, the limit is the plain quantile."""
    assert margin(sd_levels=1e-9, dof_noise=math.inf) == pytest.approx(Z, rel=1e-9)
    assert spread_factor(math.inf, 0.95) == 1.0


def test_more_of_anything_asks_for_more() -> None:
    """The margin grows with spread, content and confidence, and falls with presses."""
    assert margin(sd_levels=2.0) > margin() < margin(noise_quantile=1.5 * Z)
    assert margin(content=0.9999) > margin() < margin(confidence=0.99)
    assert margin(count=10) < margin()
    assert margin(dof_noise=500.0) < margin()


def test_a_shift_moves_the_whole_distance() -> None:
    """With everything known but the shift, its whole allowance stands on top of the distance."""
    known = Reach(distance=3.0, margin=3.0)
    assert known.shifted(1.0, 0.95) == pytest.approx(3.0 + 1.6449, abs=1e-4)
    part = Reach(distance=3.0, margin=7.0)
    assert part.shifted(0.0, 0.95) == 7.0
    assert part.shifted(3.0 / 1.644853627, 0.95) == pytest.approx(3.0 + 5.0)
    assert part.shifted(1.0, 0.95) > math.hypot(7.0, 1.6449)


def test_equal_codes_are_not_certainty() -> None:
    """Presses that all read the same code leave a margin of more than one converter step."""
    limits = tolerance_limits(level_spread([np.full(100, 0.8)] * 5, lsb=0.005))
    assert 0.005 < limits.high - 0.8 < 0.015
    assert limits.high - 0.8 == pytest.approx(0.8 - limits.low)


def test_one_stay_promises_little() -> None:
    """One stay alone gives a limit far away, and names its method."""
    rng = np.random.default_rng(22)
    one = tolerance_limits(level_spread([0.8 + 0.002 * rng.normal(size=300)]))
    five = tolerance_limits(level_spread([0.8 + 0.002 * rng.normal(size=300) for _ in range(5)]))
    assert one.method == "one stay"
    assert one.high - 0.8 > 5.0 * (five.high - 0.8)


def test_wrong_figures_are_refused() -> None:
    """Content, confidence and count of stays outside their range are errors."""
    some = level_spread([np.array([1.0, 1.1]), np.array([1.0, 0.9])])
    with pytest.raises(ValueError, match=r"content 1\.5"):
        tolerance_limits(some, content=1.5)
    with pytest.raises(ValueError, match=r"confidence 0\.2"):
        tolerance_limits(some, confidence=0.2)
    with pytest.raises(ValueError, match="at least two"):
        margin(count=1)


def test_nothing_varies() -> None:
    """Without any spread and step the limit is the mean; the exact factor needs no spread."""
    assert margin(sd_levels=0.0, noise_quantile=0.0) == 0.0
    assert one_sided_factor(5, 0.999, 0.95) == pytest.approx(7.501893, abs=1e-6)


def test_two_stays_are_stays() -> None:
    """They have a spread between them, however little two say of it; one has none."""
    pair = tolerance_limits(level_spread([np.full(9, 1.0), np.full(9, 1.2)]))
    assert pair.method == "stays"
    factor = float(stats.nct.ppf(0.95, 1, Z * np.sqrt(2.0))) / np.sqrt(2.0)
    assert pair.above.margin == pytest.approx(factor * 0.02**0.5, rel=1e-6)
    assert pair.above.distance == pytest.approx(Z * 0.02**0.5)
    assert (pair.high, pair.low) == pytest.approx(
        (1.1 + pair.above.margin, 1.1 - pair.below.margin)
    )


def test_what_the_step_hides_is_spread_between_stays() -> None:
    """Seven tenths of LSB/√12 where codes stand still; one stay takes its own readings' too."""
    spread = level_spread([np.full(9, 1.0)] * 3, lsb=0.12)
    step_V = 0.7 * 0.12 / 12.0**0.5
    assert step_sd_of_means(spread) == pytest.approx(step_V)
    assert tolerance_limits(spread).above.distance == pytest.approx(Z * step_V * 2.0**0.5)
    two = level_spread([np.array([1.0, 1.2, 0.8, 1.0])] * 2)
    assert step_sd_of_means(two) == 0.0
    one = level_spread([np.array([1.0, 1.2, 0.8, 1.0])])
    assert step_sd_of_means(one) == pytest.approx(0.02**0.5)


def test_more_stays_of_the_same_spread() -> None:
    """The reach of another count of stays, by the spreads found: at least of two."""
    spread = level_spread([np.full(9, level) for level in (1.0, 1.1, 1.2)])
    limits = tolerance_limits(spread)
    for plateaus in (2, 3, 10):
        factor = one_sided_factor(plateaus, 0.999, 0.95)
        again = limits_after(spread, limits, plateaus)
        for reach_again in (again.above, again.below):
            assert reach_again.margin == pytest.approx(factor * 0.1, rel=1e-9)
    alone, pair = (limits_after(spread, limits, plateaus) for plateaus in (1, 2))
    assert (alone.low, alone.high) == (pair.low, pair.high)


def test_even_odds_are_the_least_that_can_be_asked() -> None:
    """Half of all readings stay below the mean itself; a certainty cannot be promised."""
    spread = level_spread([np.full(9, 1.0), np.full(9, 1.2)])
    half = tolerance_limits(spread, content=0.5, confidence=0.5)
    assert half.above.distance == pytest.approx(0.0, abs=1e-12)
    assert half.high == pytest.approx(1.1)
    for wrong in ({"content": 1.0}, {"confidence": 1.0}, {"content": 0.499}):
        with pytest.raises(ValueError, match=r"is not between 0\.5 and 1"):
            tolerance_limits(spread, **wrong)


@pytest.mark.parametrize("dof", [1.0, 4.0, 50.0])
def test_how_much_larger_a_deviation_may_be(dof: float) -> None:
    """√(ν/χ²). Source: scipy's χ² distribution."""
    assert spread_factor(dof, 0.95) == pytest.approx((dof / stats.chi2.ppf(0.05, dof)) ** 0.5)
