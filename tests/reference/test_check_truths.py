"""The bench check's arithmetic and limits against truths from outside the project."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from calib.checks.file.history import drift_of
from calib.checks.file.moved import Mean, Moved, shift
from calib.checks.limits import LIMITS
from calib.checks.temperature import ntc_degC
from tests.tools import require_library
from tests.two_tests import p_value

NORRIS = Path(__file__).resolve().parents[2] / "fixtures" / "reference" / "lines" / "norris.dat"
TABLES = Path(__file__).resolve().parents[2] / "fixtures" / "reference" / "temperature"


def _table(name: str) -> list[dict[str, float]]:
    with (TABLES / name).open(encoding="utf-8") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


@pytest.mark.parametrize("seed", range(8))
def test_equivalence_agrees_with_statsmodels(seed: int) -> None:
    """Both one-sided tests give statsmodels' p-values, for equal and for unequal spreads.

    Source: statsmodels.stats.weightstats.ttost_ind.
    """
    weightstats = require_library("statsmodels.stats.weightstats")
    rng = np.random.default_rng(seed)
    now = rng.normal(0.02, 0.03, int(rng.integers(3, 12)))
    then = rng.normal(0.0, 0.05, int(rng.integers(3, 12)))
    margin = 0.06

    theirs, _, _ = weightstats.ttost_ind(now, then, -margin, margin, usevar="unequal")
    own = shift(_level(now), _level(then), margin=margin)
    assert p_value(own) == pytest.approx(theirs, rel=1e-9)

    theirs, _, _ = weightstats.ttost_ind(now, then, -margin, margin, usevar="pooled")
    dof = len(now) + len(then) - 2
    sd = np.sqrt(((len(now) - 1) * now.var(ddof=1) + (len(then) - 1) * then.var(ddof=1)) / dof)
    # One pooled spread: both levels share its degrees of freedom, so u is combined beforehand.
    both = Mean(float(now.mean() - then.mean()), sd * np.sqrt(1 / len(now) + 1 / len(then)), dof)
    own = shift(both, Mean(0.0, 0.0, np.inf), margin=margin)
    assert p_value(own) == pytest.approx(theirs, rel=1e-9)
    assert (own.moved is Moved.EQUIVALENT) == (theirs < 0.05)


def _level(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> Mean:
    u = values.std(ddof=1) / np.sqrt(len(values))
    return Mean(float(values.mean()), float(u), float(len(values) - 1))


@pytest.mark.parametrize(
    ("column", "beta_K"), [("R_B3435", 3435.0), ("R_B3950", 3950.0), ("R_B3977", 3977.0)]
)
def test_thermistors_follow_the_table(column: str, beta_K: float) -> None:
    """The table's resistance gives its temperature within 1 mK."""
    for row in _table("ntc_beta.csv"):
        back = float(ntc_degC(np.array(row[column]), r25_ohm=10_000.0, beta_K=beta_K))
        assert back == pytest.approx(row["t_C"], abs=1e-3)


def test_the_supply_limits_are_usb_s() -> None:
    """USB 2.0: 5 V within 5 per cent at the source."""
    assert LIMITS["supply_low_V"].value == pytest.approx(5.0 * 0.95)
    assert LIMITS["supply_high_V"].value == pytest.approx(5.0 * 1.05)


def test_the_broken_wire_limits_are_those_of_published_hall_sensors() -> None:
    """Open ground 4.75 to 5.0 V and open supply 0 to 0.25 V on 5 V: both must be caught whole."""
    assert LIMITS["wire_at_supply_pct"].value / 100.0 * 5.0 <= 4.75
    assert LIMITS["wire_at_ground_pct"].value / 100.0 * 5.0 >= 0.25


def test_no_published_output_range_is_called_a_broken_wire() -> None:
    """0.5 to 4.5 V (car pedals), 0.8 to 4.2 V and 0.82 to 3.51 V (hand controls) lie inside."""
    low_V = LIMITS["wire_at_ground_pct"].value / 100.0 * 5.0
    high_V = LIMITS["wire_at_supply_pct"].value / 100.0 * 5.0
    for rest_V, full_V in ((0.5, 4.5), (0.8, 4.2), (0.82, 3.51)):
        assert low_V < rest_V < full_V < high_V


def test_the_return_limit_names_both_sections_and_says_from_memory() -> None:
    """49 CFR 571.124 sets 1 s for another vehicle class; 571.123 is the motorcycles' own."""
    entry = LIMITS["return_fail_s"]
    assert entry.value == 1.0
    for words in ("571.124", "571.123", "from memory", "light vehicles", "another class"):
        assert words in entry.source


def test_the_temperature_bounds_are_those_of_the_monitor_they_are_from() -> None:
    """Above 150 degC taken as a short, below -40 degC as open."""
    assert LIMITS["temperature_short_degC"].value == 150.0
    assert LIMITS["temperature_open_degC"].value == -40.0


def test_the_drift_s_line_is_nist_s() -> None:
    """Slope and its standard deviation of NIST's straight-line calibration set, to 10 digits.

    Source: NIST StRD, Norris; certified 1.00211681802045 and 4.29796848199937e-4.
    """
    rows = np.loadtxt(NORRIS, skiprows=60)
    found = drift_of([(float(x), Mean(float(y), 1e-9, math.inf)) for y, x in rows])
    assert found is not None
    assert found.slope == pytest.approx(1.00211681802045, rel=1e-10)
    assert found.u_slope == pytest.approx(4.29796848199937e-4, rel=1e-8)
    assert found.dof == 34
