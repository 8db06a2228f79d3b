"""Means, spreads and lines against NIST's reference sets and published analyses."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from calib.measure.spread import (
    effective_count,
    level_spread,
    step_sd,
    variance_inflation,
)
from calib.measure.straight_line import fit_line, fit_weighted_line
from tests.reference.statistics_tables import document, strd_rows, table
from tests.straight import at, sd_residual, u_at
from tests.tools import require_library

# Relative tolerances: 12 digits where the published set allows; NumAcc3 and 4 lose digits when
# the decimal text becomes float64 (the nearest float64 data have s = 0.10000000003492 and
# 0.10000000055879).
SD_TOLERANCE = {"Mavro": 1e-10, "Michelso": 1e-11, "NumAcc3": 1e-9, "NumAcc4": 1e-8}


@pytest.mark.parametrize("row", table("statistics/certified.csv"), ids=lambda row: row["dataset"])
def test_mean_and_sd_of_nist_univariate_sets(row: dict[str, str]) -> None:
    """Mean and standard deviation agree with NIST's certified values.

    Source: NIST Statistical Reference Datasets, univariate summary statistics.
    """
    name = row["dataset"]
    values = strd_rows("PiDigits.txt" if name == "PiDigits" else f"{name}.dat").ravel()
    assert len(values) == int(row["n"])
    spread = level_spread([values])
    sd = spread.sd_residual * np.sqrt(len(values) / (len(values) - 1.0))
    assert spread.mean == pytest.approx(float(row["certified_mean"]), rel=1e-14)
    assert sd == pytest.approx(float(row["certified_sd"]), rel=SD_TOLERANCE.get(name, 1e-12))


@pytest.mark.parametrize("row", table("statistics/certified.csv"), ids=lambda row: row["dataset"])
def test_negative_correlation_of_nist_sets_shrinks_nothing(row: dict[str, str]) -> None:
    """Sets with a negative certified lag-1 correlation count for no more than their readings.

    Source: NIST, certified lag-1 correlation; the rule is ours.
    """
    count, lag1 = int(row["n"]), float(row["certified_lag1"])
    effective = effective_count(count, lag1)
    if lag1 <= 0.0:
        assert effective == count
    else:
        k = np.arange(1, count)
        inflation = 1.0 + 2.0 * float(((1.0 - k / count) * lag1**k).sum())
        assert effective == pytest.approx(max(1.0, count / inflation), rel=1e-9)


def test_naive_sum_of_squares_would_fail() -> None:
    """The set that defeats the naive formula really does, so that the test above can fail.

    Source: NIST, NumAcc4.
    """
    values = strd_rows("NumAcc4.dat").ravel()
    count = len(values)
    naive = (float((values**2).sum()) - count * float(values.mean()) ** 2) / (count - 1)
    assert naive <= 0.0 or abs(np.sqrt(naive) - 0.1) > 1e-3


@pytest.mark.parametrize(
    ("name", "tolerance"),
    [
        ("SiRstv", 1e-11),
        ("AtmWtAg", 5e-9),
        ("SmLs01", 1e-12),
        ("SmLs02", 1e-12),
        ("SmLs04", 1e-9),
        ("SmLs05", 1e-9),
        # With an offset of 1e12 the text itself keeps four digits of the spread in float64.
        ("SmLs07", 2e-3),
    ],
)
def test_one_way_sums_of_squares_of_nist_sets(name: str, tolerance: float) -> None:
    """What the stays of a level say gives NIST's sums of squares and F, stay for stay.

    Every set is balanced, so that the sums follow from the spread of the means and the root mean
    square about them. Source: NIST Statistical Reference Datasets, analysis of variance.
    """
    row = next(r for r in table("statistics/anova_components.csv") if r["dataset"] == name)
    rows = strd_rows(f"{name}.dat")
    groups = [rows[rows[:, 0] == label, 1] for label in np.unique(rows[:, 0])]
    found = level_spread(groups)
    assert found.plateaus == int(row["groups"])
    assert {len(group) for group in groups} == {found.samples // found.plateaus}
    between = found.samples / found.plateaus * (found.plateaus - 1) * found.sd_means**2
    within = found.samples * found.sd_residual**2
    ratio = between / (found.plateaus - 1) / (within / (found.samples - found.plateaus))
    assert between == pytest.approx(float(row["SS_between"]), rel=tolerance)
    assert within == pytest.approx(float(row["SS_within"]), rel=tolerance)
    assert ratio == pytest.approx(float(row["F"]), rel=tolerance)


@pytest.mark.parametrize(
    "row", table("statistics/ar1_effective_n.csv"), ids=lambda r: f"{r['n']}-{r['phi']}"
)
def test_effective_count_of_first_order_correlation(row: dict[str, str]) -> None:
    """Variance inflation equals the full covariance sum; below 1 it is clipped to 1.

    Source: closed form and full matrix sum, computed outside the project.
    """
    exact = float(row["VIF_exact"])
    found = variance_inflation(int(row["n"]), float(row["phi"]))
    assert found == pytest.approx(max(1.0, exact), rel=1e-5)


@pytest.mark.parametrize(
    "row",
    table("statistics/adc_quantisation.csv"),
    ids=lambda r: f"{r['bits']}-{r['full_scale_V']}",
)
def test_step_of_common_converters(row: dict[str, str]) -> None:
    """A reading that does not flicker carries LSB/√12.

    Source: closed form; data sheets of common converters print the LSB.
    """
    lsb_V = float(row["full_scale_V"]) / 2 ** int(row["bits"])
    assert 1e3 * lsb_V == pytest.approx(float(row["LSB_mV"]), abs=1e-6)
    assert 1e3 * step_sd(0.0, lsb_V) == pytest.approx(float(row["LSB_over_sqrt12_mV"]), abs=1e-6)


def test_line_of_nist_norris() -> None:
    """Slope, intercept and their standard deviations agree with the certified ones.

    Source: NIST Statistical Reference Datasets, Norris (linear calibration of ozone monitors).
    """
    rows = strd_rows("Norris.dat")
    line = fit_line(rows[:, 1], rows[:, 0])
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-12)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.u_intercept == pytest.approx(0.232818234301152, rel=1e-12)
    assert line.u_slope == pytest.approx(0.429796848199937e-3, rel=1e-12)
    assert sd_residual(line) == pytest.approx(0.884796396144373, rel=1e-12)


def test_line_of_the_gum_thermometer() -> None:
    """Line, uncertainties, correlation and a predicted value agree with the GUM's example.

    Source: JCGM 100:2008, H.3.
    """
    h3 = document("gum/gum_H2_H3.json")["H3"]
    line = fit_line(np.array(h3["t_k"]) - h3["t0"], np.array(h3["b_k"]))
    assert line.intercept == pytest.approx(-0.171203790, abs=1e-8)
    assert line.u_intercept == pytest.approx(0.002877598, abs=1e-8)
    assert line.slope == pytest.approx(0.002182698, abs=1e-8)
    assert line.u_slope == pytest.approx(0.000667939, abs=1e-8)
    assert line.cov / (line.u_slope * line.u_intercept) == pytest.approx(-0.930430, abs=1e-6)
    assert round(at(line, 10.0), 4) == h3["b30"][0]
    assert round(u_at(line, 10.0), 4) == h3["b30"][1]
    assert line.dof == h3["nu"]


def test_line_agrees_with_scipy() -> None:
    """Plain and weighted lines agree with scipy's independent fits, covariance included.

    Source: scipy.stats.linregress; scipy.optimize.curve_fit with absolute_sigma.
    """
    from scipy.optimize import curve_fit

    rng = np.random.default_rng(51)
    x = rng.uniform(0.5, 4.5, 12)
    u = rng.uniform(0.001, 0.01, 12)
    y = 1.013 * x - 0.021 + u * rng.normal(size=12)
    plain, known = fit_line(x, y), stats.linregress(x, y)
    assert plain.slope == pytest.approx(float(known.slope), rel=1e-12)
    assert plain.u_slope == pytest.approx(float(known.stderr), rel=1e-10)
    assert plain.u_intercept == pytest.approx(float(known.intercept_stderr), rel=1e-10)
    weighted = fit_weighted_line(x, y, np.zeros(12), u)
    best, covariance = curve_fit(lambda v, a, b: a + b * v, x, y, sigma=u, absolute_sigma=True)
    assert (weighted.intercept, weighted.slope) == pytest.approx(tuple(best), abs=1e-7)
    assert weighted.u_intercept**2 == pytest.approx(covariance[0, 0], rel=1e-5)
    assert weighted.u_slope**2 == pytest.approx(covariance[1, 1], rel=1e-5)
    assert weighted.cov == pytest.approx(covariance[0, 1], rel=1e-5)


def test_line_with_errors_in_both_agrees_with_orthogonal_distance() -> None:
    """With small uncertainties in both directions the line agrees with statsmodels' weighted one.

    Source: statsmodels WLS with the effective variances as weights.
    """
    models = require_library("statsmodels.api")
    rng = np.random.default_rng(52)
    x = np.linspace(0.6, 4.4, 9)
    u_x, u_y = np.full(9, 0.003), np.linspace(0.002, 0.006, 9)
    y = 0.985 * x + 0.012 + np.hypot(u_y, 0.985 * u_x) * rng.normal(size=9)
    line = fit_weighted_line(x, y, u_x, u_y)
    weights = 1.0 / (u_y**2 + (line.slope * u_x) ** 2)
    known = models.WLS(y, models.add_constant(x), weights=weights).fit(cov_type="fixed scale")
    assert (line.intercept, line.slope) == pytest.approx(tuple(known.params), rel=1e-9)
    assert line.cov == pytest.approx(float(known.cov_params()[0, 1]), rel=1e-8)
