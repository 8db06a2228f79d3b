from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from calib.measure.tails import NoiseTail, excess_sds, noise_tail, without_step


def tail(residuals: NDArray[np.float64], *, lsb: float = 0.0) -> NoiseTail:
    """The upper tail of independent residuals, at the promise's usual content."""
    return noise_tail(
        residuals - residuals.mean(),
        lsb=lsb,
        lag1=0.0,
        dof_within=len(residuals) - 1.0,
        content=0.999,
        confidence=0.95,
    )


def test_normal_noise_stays_normal() -> None:
    """Normal noise is taken for another one in at most a few captures of a hundred."""
    rng = np.random.default_rng(31)
    found = [tail(rng.normal(size=800)) for _ in range(150)]
    assert sum(one.method != "normal" for one in found) <= 7
    assert found[0].quantile == pytest.approx(3.09, rel=0.1)


@pytest.mark.parametrize(
    "law", [stats.expon(loc=-1.0), stats.gamma(4.0, loc=-4.0), stats.t(5.0), stats.laplace()]
)
def test_heavy_tails_are_found_where_they_are(law: stats.rv_continuous) -> None:
    """On average the extrapolated quantile of 1,500 readings is not 5 % short, nor 15 % long.

    It may be longer than short, because a short limit lets the machine creep.
    """
    rng = np.random.default_rng(32)
    found = [tail(np.asarray(law.rvs(1500, random_state=rng))) for _ in range(60)]
    assert all(one.method == "extrapolated" for one in found)
    true = float(law.ppf(0.999))
    assert 0.95 < float(np.mean([one.quantile for one in found])) / true < 1.15


def test_many_readings_need_no_distribution() -> None:
    """With enough readings the limit is an order statistic, and not below the true quantile."""
    rng = np.random.default_rng(33)
    found = [tail(rng.exponential(size=30_000)) for _ in range(25)]
    assert all(one.method == "distribution-free" for one in found)
    true = -np.log(0.001) - 1.0
    assert sum(one.quantile >= true for one in found) >= 22


def test_few_readings_are_not_extrapolated() -> None:
    """Too few effective readings keep the normal tail of all that was seen."""
    residuals = np.concatenate([np.zeros(70), [0.1, -0.1] * 10, [4.0]])
    found = tail(residuals)
    assert found.method == "normal"
    assert found.quantile == pytest.approx(3.0902 * found.sd, rel=1e-4)


def test_coarse_codes_show_no_tail() -> None:
    """With a step coarser than the noise nothing is said of the tail."""
    rng = np.random.default_rng(34)
    codes = np.round(rng.exponential(size=800) / 4.0) * 4.0
    assert tail(codes, lsb=4.0).method == "normal"


def test_light_side_of_skewed_noise_is_not_stretched() -> None:
    """The short side of skewed noise does not get a longer limit than its own spread."""
    rng = np.random.default_rng(35)
    residuals = -rng.exponential(size=2000)
    assert tail(residuals).quantile <= 3.3


def test_the_converter_s_own_noise_is_taken_off() -> None:
    """Where the noise covers the step, LSB²/12 is not taken for noise of the control."""
    assert without_step(5.0, 3.0) == pytest.approx((25.0 - 9.0 / 12.0) ** 0.5)
    assert without_step(1.0, 3.0) == 1.0
    assert without_step(0.0, 3.0) == 0.0


def test_the_order_statistic_counts_readings_and_not_independent_ones() -> None:
    """Of readings of which one in four is independent, four times as many lie beyond the rank.

    Source: the rank from scipy's binomial distribution.
    """
    rng = np.random.default_rng(36)
    residuals = np.repeat(rng.exponential(size=30_000), 4)
    residuals -= residuals.mean()
    found = noise_tail(
        residuals, lsb=0.0, lag1=0.75, dof_within=30_000.0, content=0.999, confidence=0.95
    )
    rank = max(r for r in range(1, 40) if stats.binom.cdf(r - 1, 30_000, 0.001) <= 0.05)
    assert found.method == "distribution-free"
    assert found.quantile == np.sort(residuals)[-4 * rank]
    assert found.dof == np.inf


@pytest.mark.parametrize(("lag1", "excess"), [(0.0, -3.0512), (0.5, -2.7847)])
def test_how_far_a_tail_reaches_beyond_a_normal_one(lag1: float, excess: float) -> None:
    """A coin's two values have no tail: skewness 0, kurtosis -2 beyond a normal law.

    By hand at z = 3: weights 8/6 and 18/24; variances 6/n and 24/n of skewness and kurtosis, for a
    correlation r inflated by (1 + r³)/(1 - r³) and (1 + r⁴)/(1 - r⁴).
    """
    coin = np.tile([1.0, -1.0], 50)
    assert excess_sds(coin, lag1, 3.0) == pytest.approx(excess, abs=2e-4)


def test_an_exponential_tail_is_continued_as_one() -> None:
    """Exact quantiles of one-sided exponential noise give its own 99.9 % quantile."""
    levels = (np.arange(2000) + 0.5) / 2000.0
    found = tail(-np.log1p(-levels))
    assert found.method == "extrapolated"
    assert found.quantile == pytest.approx(np.log(1000.0) - 1.0, rel=0.02)
    # 200 readings in the tail: 1/200 for its scale, and for its shape (by 1/300) how far it reaches
    assert found.dof == pytest.approx(77.0, rel=0.05)


def spaced(law: Any, count: int) -> NDArray[np.float64]:
    """Readings at even shares of a law, so that no draw of chance is in them."""
    return np.asarray(law.ppf((np.arange(count) + 0.5) / count), dtype=np.float64)


def test_no_tail_is_continued_farther_than_its_bound() -> None:
    """However heavy: a generalised Pareto tail of shape 0.4 about the mean of the outer tenth.

    Source: its quantile function, u + m·(1 - ξ)·((ζ/p)^ξ - 1)/ξ.
    """
    residuals = spaced(stats.cauchy(), 2000)
    outer = np.sort(residuals)[-200:]
    threshold = np.sort(residuals)[-201]
    mean = float((outer - threshold).mean())
    by_hand = threshold + mean * 0.6 * (100.0**0.4 - 1.0) / 0.4
    assert tail(residuals).quantile == pytest.approx(by_hand, rel=1e-6)


def test_the_eighth_largest_is_the_first_that_serves() -> None:
    """Of independent readings as many as its rank needs. Source: scipy's binomial distribution."""
    least = next(n for n in range(8000, 20_000) if stats.binom.cdf(7, n, 0.001) <= 0.05)
    residuals = spaced(stats.expon(), 20_000)
    residuals -= residuals.mean()
    for independent, method in ((least, "distribution-free"), (least - 1, "extrapolated")):
        found = noise_tail(
            residuals,
            lsb=0.0,
            lag1=0.0,
            dof_within=float(independent),
            content=0.999,
            confidence=0.95,
        )
        assert found.method == method
    # 8 of as many as are independent: as many more of all
    found = noise_tail(
        residuals, lsb=0.0, lag1=0.0, dof_within=float(least), content=0.999, confidence=0.95
    )
    assert found.quantile == np.sort(residuals)[-int(8 * 20_000 / least)]


@pytest.mark.parametrize(("independent", "method"), [(119.0, "normal"), (121.0, "extrapolated")])
def test_a_tenth_of_the_readings_must_hold_twelve_independent_ones(
    independent: float, method: str
) -> None:
    """Fewer are not continued, and the plain spread is taken."""
    residuals = spaced(stats.expon(), 400)
    residuals -= residuals.mean()
    found = noise_tail(
        residuals, lsb=0.0, lag1=0.0, dof_within=independent, content=0.999, confidence=0.95
    )
    assert found.method == method
    if method == "normal":
        assert found.quantile == pytest.approx(3.0902 * residuals.std(), rel=1e-4)
        assert found.dof == independent


@pytest.mark.parametrize(("lsb_sds", "method"), [(1.45, "extrapolated"), (1.55, "normal")])
def test_a_step_of_one_and_a_half_deviations_hides_the_tail(lsb_sds: float, method: str) -> None:
    """Whatever the readings look like; below it the converter's own part is taken off."""
    residuals = spaced(stats.expon(), 2000)
    found = tail(residuals, lsb=lsb_sds * float(residuals.std()))
    assert found.method == method
    assert without_step(1.0, 1.49) == pytest.approx((1.0 - 1.49**2 / 12.0) ** 0.5)
    assert without_step(1.0, 1.51) == 1.0


def test_noise_of_one_side_is_continued_as_nearly_exponential() -> None:
    """A law that reaches far on both sides is given a heavier prior than one that does not.

    The same upper half beside a long and beside a short lower half: the first reaches farther.
    """
    upper = spaced(stats.t(5.0), 4000)[2000:]
    both, one = np.concatenate([-upper, upper]), np.concatenate([-0.5 * upper, upper])
    by_both, by_one = tail(both), tail(one)
    assert by_both.method == by_one.method == "extrapolated"
    assert by_both.quantile > by_one.quantile + one.mean()


def test_few_equal_readings_reach_nowhere() -> None:
    """Without any spread the tail is nothing, whatever is asked."""
    found = noise_tail(
        np.zeros(5), lsb=0.0, lag1=0.0, dof_within=4.0, content=0.999, confidence=0.95
    )
    assert (found.sd, found.quantile, found.method, found.dof) == (0.0, 0.0, "normal", 4.0)


def test_bounded_noise_with_rare_outliers_is_not_cut_short() -> None:
    """Ten outliers of thirty thousand lie beyond the rank; the plain spread reaches farther."""
    bulk = np.linspace(-1.0, 1.0, 29_990)
    residuals = np.concatenate([bulk, [-100.0] * 5, [100.0] * 5])
    found = tail(residuals)
    assert found.method == "distribution-free"
    assert found.quantile == pytest.approx(3.0902 * residuals.std(), rel=1e-4)


def test_equal_outer_readings_are_not_continued() -> None:
    """A tenth and more of the readings at one level have no way beyond it."""
    residuals = np.concatenate([np.full(45, 3.0), np.full(45, -3.0), np.linspace(-0.1, 0.1, 310)])
    found = tail(residuals)
    assert found.method == "normal"
    assert found.quantile == pytest.approx(3.0902 * residuals.std(), rel=1e-4)


@pytest.mark.parametrize(
    ("law", "prior", "count"),
    [(stats.expon(), 0.0, 2000), (stats.t(4.0), 0.2, 2000), (stats.t(4.0), 0.2, 900),
     (stats.gamma(2.0), 0.0, 6000), (stats.t(3.0), 0.2, 6000)],
)  # fmt: skip
def test_a_tail_by_probability_weighted_moments(law: Any, prior: float, count: int) -> None:
    """A generalised Pareto tail: ξ = 2 - a₀/(a₀ - 2·a₁), its scale m·(1 - ξ), drawn to a prior.

    Source: Hosking and Wallis (1987), plotting positions (i - 0.35)/n. The fit and the prior of
    0 or 0.2 ± 0.1 weigh by (1 + ξ)²/n, at least 1/n, and 0.1². It is of the outer tenth, or of 200
    readings of more.
    """
    residuals = spaced(law, count)
    residuals -= residuals.mean()
    found = tail(residuals)
    assert found.method == "extrapolated"
    independent = count - 1.0
    share = min(0.1, max(0.04, 200.0 / independent))
    outer = np.sort(residuals)[-int(share * count) - 1 :]
    excess = outer[1:] - outer[0]
    n = len(excess)
    a0, a1 = excess.mean(), ((1.0 - (np.arange(n) + 0.65) / n) * excess).mean()
    fitted = 2.0 - a0 / (a0 - 2.0 * a1)
    weights = np.array([share * independent / (1.0 + max(fitted, 0.0)) ** 2, 1.0 / 0.1**2])
    shape = float((weights * [fitted, prior]).sum() / weights.sum())
    beyond = a0 * (1.0 - shape) * ((n / count / 0.001) ** shape - 1.0) / shape
    assert found.quantile == pytest.approx(float(outer[0] + beyond), rel=1e-9)
    tilt = 0.5 * np.log(n / count / 0.001) - 1.0
    relative = (1.0 / (share * independent) + tilt**2 / weights.sum()) * (
        beyond / found.quantile
    ) ** 2
    assert found.dof == pytest.approx(float(0.5 / relative), rel=1e-9)
    assert found.sd == pytest.approx(float(residuals.std()))


def test_a_step_of_just_one_and_a_half_deviations_hides_nothing() -> None:
    """The limit itself belongs to what is looked at."""
    residuals = spaced(stats.expon(), 2000)
    residuals -= residuals.mean()
    lsb = 1.5 * float(np.sqrt((residuals**2).mean()))
    found = noise_tail(
        residuals, lsb=lsb, lag1=0.0, dof_within=1999.0, content=0.999, confidence=0.95
    )
    assert found.method == "extrapolated"
