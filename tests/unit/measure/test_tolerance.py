from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from calib.measure import tolerance
from calib.measure.order import order_statistic_count, order_statistic_rank
from calib.measure.spread import level_spread
from calib.measure.tolerance import (
    one_sided_factor,
    random_effects_margin,
    tolerance_limits,
)

Z = 3.090232306167813
"""99.9 % quantile of the normal distribution."""


def margin(**changed: float) -> float:
    """A margin with plain figures, some of them changed."""
    figures = {
        "sd_means": 1.0,
        "plateaus": 5,
        "noise_sd": 1.0,
        "noise_quantile": Z,
        "dof_noise": 50.0,
        "content": 0.999,
        "confidence": 0.95,
    }
    figures.update(changed)
    return random_effects_margin(**figures)  # type: ignore[arg-type]  # plateaus is whole


@pytest.mark.parametrize("plateaus", [3, 5, 10, 20])
def test_nothing_within_gives_the_exact_noncentral_t(plateaus: int) -> None:
    """Without noise within plateaus the limit is the exact normal one."""
    exact = stats.nct.ppf(0.95, plateaus - 1, stats.norm.ppf(0.999) * np.sqrt(plateaus))
    found = margin(plateaus=plateaus, noise_sd=0.0, noise_quantile=0.0)
    assert found == pytest.approx(float(exact) / np.sqrt(plateaus), rel=1e-6)


def test_nothing_between_gives_the_quantile_of_the_noise() -> None:
    """When the noise is known and the presses agree, the limit is the plain quantile."""
    found = margin(sd_means=1e-9, dof_noise=1e6)
    assert found == pytest.approx(float(stats.norm.ppf(0.999)), rel=1e-6)


def test_quadrature_agrees_with_drawing() -> None:
    """The quadrature gives the quantile that drawing the pivotal quantity gives."""
    rng = np.random.default_rng(21)
    n, k, dof = 2_000_000, 5, 30.0
    t2 = (k - 1) / rng.chisquare(k - 1, n)
    w2 = dof / rng.chisquare(dof, n)
    drawn = rng.normal(size=n) * np.sqrt(t2 / k) + 3.0902 * np.sqrt(t2 + w2)
    assert margin(dof_noise=dof) == pytest.approx(float(np.quantile(drawn, 0.95)), rel=5e-3)


def test_more_quadrature_points_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Doubling the points moves the limit by less than a thousandth."""
    coarse = margin(), margin(dof_noise=8.0), margin(plateaus=3)
    monkeypatch.setattr(tolerance, "POINTS_BETWEEN", 2 * tolerance.POINTS_BETWEEN)
    monkeypatch.setattr(tolerance, "POINTS_WITHIN", 2 * tolerance.POINTS_WITHIN)
    fine = margin(), margin(dof_noise=8.0), margin(plateaus=3)
    assert coarse == pytest.approx(fine, rel=1e-3)


def test_more_of_anything_asks_for_more() -> None:
    """The margin grows with spread, content and confidence, and falls with presses."""
    assert margin(sd_means=2.0) > margin() < margin(noise_quantile=1.5 * Z)
    assert margin(content=0.9999) > margin() < margin(confidence=0.99)
    assert margin(plateaus=10) < margin()
    assert margin(dof_noise=500.0) < margin()


def test_equal_codes_are_not_certainty() -> None:
    """Presses that all read the same code leave a margin of more than one converter step."""
    limits = tolerance_limits(level_spread([np.full(100, 0.8)] * 5, lsb=0.005))
    assert 0.005 < limits.high - 0.8 < 0.015
    assert limits.high - 0.8 == pytest.approx(0.8 - limits.low)


def test_one_plateau_promises_little() -> None:
    """One plateau alone gives a limit far away, and names its method."""
    rng = np.random.default_rng(22)
    one = tolerance_limits(level_spread([0.8 + 0.002 * rng.normal(size=300)]))
    five = tolerance_limits(level_spread([0.8 + 0.002 * rng.normal(size=300) for _ in range(5)]))
    assert one.method == "one plateau"
    assert one.high - 0.8 > 5.0 * (five.high - 0.8)


def test_order_statistics_need_enough_readings() -> None:
    """One reading fewer than the least count gives no distribution-free limit."""
    least = order_statistic_count(0.99, 0.95)
    assert order_statistic_rank(least, 0.99, 0.95) == 1
    assert order_statistic_rank(least - 1, 0.99, 0.95) is None
    assert order_statistic_rank(order_statistic_count(0.99, 0.95, rank=2), 0.99, 0.95) == 2


def test_wrong_figures_are_refused() -> None:
    """Content, confidence and count of plateaus outside their range are errors."""
    with pytest.raises(ValueError, match=r"content 1\.5"):
        margin(content=1.5)
    with pytest.raises(ValueError, match=r"confidence 0\.2"):
        margin(confidence=0.2)
    with pytest.raises(ValueError, match="at least two"):
        margin(plateaus=1)


def test_nothing_varies() -> None:
    """Without any spread and step the limit is the mean; the exact factor needs no spread."""
    assert margin(sd_means=0.0, noise_sd=0.0, noise_quantile=0.0) == 0.0
    assert one_sided_factor(5, 0.999, 0.95) == pytest.approx(7.501893, abs=1e-6)
