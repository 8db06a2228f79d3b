"""Tolerance limits against published tables and scipy."""

from __future__ import annotations

import numpy as np
import pytest

from calib.measure.spread import level_spread
from calib.measure.tails import order_statistic_rank
from calib.measure.tolerance import one_sided_factor, tolerance_limits
from tests.reference.statistics_tables import table


def test_handbook_one_sided_example() -> None:
    """For n = 43, content 90 %, confidence 99 %: exactly 1.873954, by the handbook 1.8752.

    Source: NIST/SEMATECH e-Handbook 7.2.6.3; exact by scipy's noncentral t.
    """
    exact = one_sided_factor(43, 0.90, 0.99)
    assert exact == pytest.approx(1.873954, abs=1e-6)
    assert abs(exact - 1.8752) > 1e-3


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


def test_limits_of_stays_meet_the_table_where_the_noise_vanishes() -> None:
    """Without noise within stays the limits of k presses are mean ± the one-sided factor · sd.

    Source: scipy.stats.nct by way of the table; ISO 16269-6 tabulates the same factors.
    """
    rng = np.random.default_rng(52)
    for row in table("tolerance/oneside_scipy.csv"):
        levels = rng.normal(size=int(row["n"]))
        limits = tolerance_limits(
            level_spread([np.full(10, level) for level in levels]),
            content=float(row["p"]),
            confidence=float(row["confidence"]),
        )
        margin = float(row["k_one_sided"]) * float(levels.std(ddof=1))
        assert limits.high == pytest.approx(float(levels.mean()) + margin, abs=2e-5 * margin), row
        assert limits.low == pytest.approx(float(levels.mean()) - margin, abs=2e-5 * margin), row


def test_order_statistic_counts() -> None:
    """59 readings for 95/95, 299 for 95/99 and the rest of the table, also for second extremes.

    One reading fewer has no such rank. Source: binomial; the figures 59 and 299 are common
    knowledge of the trade.
    """
    assert order_statistic_rank(59, 0.95, 0.95) == 1
    assert order_statistic_rank(299, 0.99, 0.95) == 1
    for row in table("tolerance/wilks.csv"):
        content, confidence = float(row["p"]), float(row["confidence"])
        for rank, column in ((1, "n_one_sided_max"), (2, "n_one_sided_2nd_max")):
            count = int(row[column])
            assert order_statistic_rank(count, content, confidence) == rank, row
            assert order_statistic_rank(count - 1, content, confidence) == (rank - 1 or None), row


def test_order_statistic_ranks_against_a_published_table() -> None:
    """The rank of the reading that is a limit agrees with the table, or none where it has none.

    Source: Meeker, Hahn and Escobar, Table J.11.
    """
    rows = table("tolerance/nonparam_oneside_meeker_J11.csv")
    column = next(name for name in rows[0] if name.startswith("rank"))
    for row in rows:
        found = order_statistic_rank(int(row["n"]), float(row["p"]), float(row["confidence"]))
        assert found == (int(float(row[column])) if row[column] else None), row


def test_promise_of_the_limit_by_simulation() -> None:
    """In 1,500 simulated captures of five presses the limit holds in at least 93 %.

    Source: definition of a tolerance limit, seeded simulation.
    """
    rng = np.random.default_rng(53)
    kept = 0
    for _ in range(1500):
        stays = [level + rng.normal(size=50) for level in rng.normal(size=5)]
        kept += tolerance_limits(level_spread(stays)).high >= 3.0902 * np.sqrt(2.0)
    assert kept >= 0.93 * 1500


def test_the_only_reading_may_be_a_limit() -> None:
    """One reading lies above three tenths of all with a probability of 0.7, and above 0.7 with 0.3.

    Source: definition of an order statistic.
    """
    assert order_statistic_rank(1, 0.3, 0.5) == 1
    assert order_statistic_rank(1, 0.7, 0.5) is None
    assert order_statistic_rank(2, 0.3, 0.5) == 1
    assert order_statistic_rank(0, 0.3, 0.5) is None
