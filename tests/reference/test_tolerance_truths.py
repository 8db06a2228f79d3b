"""Tolerance limits against published tables and scipy."""

from __future__ import annotations

import numpy as np
import pytest

from calib.measure.order import order_statistic_count, order_statistic_rank
from calib.measure.tolerance import (
    howe_factor,
    one_sided_factor,
    random_effects_margin,
    two_sided_factor,
)
from tests.reference.statistics_tables import table


def test_handbook_one_sided_example() -> None:
    """For n = 43, content 90 %, confidence 99 %: exactly 1.873954, by the handbook 1.8752.

    Source: NIST/SEMATECH e-Handbook 7.2.6.3; exact by scipy's noncentral t.
    """
    exact = one_sided_factor(43, 0.90, 0.99)
    assert exact == pytest.approx(1.873954, abs=1e-6)
    assert abs(exact - 1.8752) > 1e-3


def test_handbook_two_sided_example() -> None:
    """For n = 43, content 90 %, confidence 99 %: Howe's factor 2.2173 and the exact 2.2228.

    Source: NIST/SEMATECH e-Handbook 7.2.6.3; exact by the package toleranceinterval 1.0.3.
    """
    assert howe_factor(43, 0.90, 0.99) == pytest.approx(2.2173159, abs=1e-6)
    assert two_sided_factor(43, 0.90, 0.99) == pytest.approx(2.2228252, abs=1e-6)


def test_one_sided_factors_against_a_published_table() -> None:
    """All 288 printed factors agree within the printed digits.

    Source: Montgomery and Runger, Table XII (three decimals).
    """
    rows = table("tolerance/oneside_montgomery_runger_XII.csv")
    assert len(rows) == 288
    for row in rows:
        found = one_sided_factor(int(row["n"]), float(row["p"]), float(row["confidence"]))
        # The table's own rounding of large factors reaches 5.1e-4.
        assert found == pytest.approx(float(row["k_table"]), abs=5.2e-4), row


def test_one_sided_factors_against_scipy() -> None:
    """Factors agree with scipy's noncentral t to six decimals.

    Source: scipy.stats.nct.
    """
    for row in table("tolerance/oneside_scipy.csv"):
        found = one_sided_factor(int(row["n"]), float(row["p"]), float(row["confidence"]))
        assert found == pytest.approx(float(row["k_one_sided"]), abs=2e-6), row


def test_two_sided_factors_against_tables() -> None:
    """Exact two-sided factors agree with a published table and with an outside quadrature.

    Source: Meeker, Hahn and Escobar, Table J.5 (three decimals); toleranceinterval 1.0.3.
    """
    for row in table("tolerance/twoside_scipy.csv"):
        content, confidence = float(row["p"]), float(row["confidence"])
        found = two_sided_factor(int(row["n"]), content, confidence)
        assert found == pytest.approx(float(row["k_two_sided_exact"]), abs=1e-5), row
        howe = howe_factor(int(row["n"]), content, confidence)
        assert howe == pytest.approx(float(row["k_two_sided_howe"]), abs=1e-5), row
    printed = [
        row
        for row in table("tolerance/twoside_meeker_hahn_escobar_J5.csv")
        if row["n"] in {"5.0", "10.0", "30.0"} and float(row["confidence"]) >= 0.9
    ]
    assert len(printed) > 20
    for row in printed:
        found = two_sided_factor(int(float(row["n"])), *_content_confidence(row))
        assert found == pytest.approx(float(row["g"]), abs=6e-4), row


def test_random_effects_limit_meets_the_table_where_the_noise_vanishes() -> None:
    """Without noise within plateaus the limit of k presses is the one-sided factor of k values.

    Source: scipy.stats.nct by way of the table.
    """
    for row in table("tolerance/oneside_scipy.csv"):
        margin = random_effects_margin(
            sd_means=1.0,
            plateaus=int(row["n"]),
            noise_sd=0.0,
            noise_quantile=0.0,
            dof_noise=100.0,
            content=float(row["p"]),
            confidence=float(row["confidence"]),
        )
        assert margin == pytest.approx(float(row["k_one_sided"]), rel=2e-5), row


def test_order_statistic_counts() -> None:
    """59 readings for 95/95, 299 for 95/99 and the rest of the table, also for second extremes.

    Source: binomial; the figures 59 and 299 are common knowledge of the trade.
    """
    assert order_statistic_count(0.95, 0.95) == 59
    assert order_statistic_count(0.99, 0.95) == 299
    for row in table("tolerance/wilks.csv"):
        content, confidence = float(row["p"]), float(row["confidence"])
        for rank, column in ((1, "n_one_sided_max"), (2, "n_one_sided_2nd_max")):
            found = order_statistic_count(content, confidence, rank=rank)
            assert found == int(row[column]), row


def test_order_statistic_ranks_against_a_published_table() -> None:
    """The rank of the reading that is a limit agrees with the table, or none where it has none.

    Source: Meeker, Hahn and Escobar, Table J.11.
    """
    rows = table("tolerance/nonparam_oneside_meeker_J11.csv")
    column = next(name for name in rows[0] if name.startswith("rank"))
    for row in rows:
        found = order_statistic_rank(int(row["n"]), float(row["p"]), float(row["confidence"]))
        assert found == (int(float(row[column])) if row[column] else None), row


def test_promise_of_the_margin_by_simulation() -> None:
    """In 1,500 simulated captures of five presses the limit holds in at least 93 %.

    Source: definition of a tolerance limit, seeded simulation.
    """
    rng = np.random.default_rng(53)
    kept = 0
    for _ in range(1500):
        levels = rng.normal(size=5)
        means = levels + rng.normal(size=5) / np.sqrt(50.0)
        within = np.sqrt(rng.chisquare(245.0) / 250.0)
        margin = random_effects_margin(
            sd_means=float(means.std(ddof=1)),
            plateaus=5,
            noise_sd=float(within),
            noise_quantile=3.0902 * float(within),
            dof_noise=245.0,
            content=0.999,
            confidence=0.95,
        )
        kept += float(means.mean()) + margin >= 3.0902 * np.sqrt(2.0)
    assert kept >= 0.93 * 1500


def _content_confidence(row: dict[str, str]) -> tuple[float, float]:
    return float(row["coverage"]), float(row["confidence"])
