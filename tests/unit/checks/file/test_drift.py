from __future__ import annotations

import math

import numpy as np
import pytest

from calib.checks.file.history import drift_of
from calib.checks.file.moved import Mean


def _line(
    slope: float, count: int = 8, noise: float = 0.0, seed: int = 1
) -> list[tuple[float, Mean]]:
    rng = np.random.default_rng(seed)
    found = []
    for day in range(0, 10 * count, 10):
        stray = float(rng.normal(0.0, noise)) if noise else 0.0
        found.append((float(day), Mean(1.0 + slope * day + stray, 0.002, math.inf)))
    return found


def test_a_straight_drift_is_found_with_when_it_leaves() -> None:
    """1 mV a day from 1.0 V reaches 1.1 V on day 100, 30 days after the last record."""
    found = drift_of(_line(0.001))
    assert found is not None
    assert found.slope == pytest.approx(0.001)
    assert found.sure
    assert found.days_until(0.9, 1.1) == pytest.approx(30.0)


def test_a_fall_leaves_at_the_lower_limit() -> None:
    """The other way round."""
    found = drift_of(_line(-0.001))
    assert found is not None
    assert found.days_until(0.9, 1.1) == pytest.approx(30.0)


def test_no_sure_drift_never_leaves() -> None:
    """A slope within its uncertainty is not told as a date."""
    found = drift_of(_line(0.0, noise=0.002))
    assert found is not None
    assert not found.sure
    assert found.days_until(0.9, 1.1) is None


def test_what_is_outside_already_has_left() -> None:
    """Zero days."""
    found = drift_of(_line(0.01))
    assert found is not None
    assert found.days_until(0.9, 1.1) == 0.0


def test_scatter_beyond_the_uncertainties_widens_the_slope_s() -> None:
    """Ten times the stated scatter makes the slope ten times less sure, never surer."""
    calm, wild = drift_of(_line(0.0, noise=0.0002)), drift_of(_line(0.0, noise=0.02))
    assert calm is not None
    assert wild is not None
    assert wild.u_slope > 5.0 * calm.u_slope
    stated = 0.002 / np.sqrt(sum((day - 35.0) ** 2 for day in range(0, 80, 10)))
    assert calm.u_slope == pytest.approx(stated)


def test_two_records_or_one_evening_say_nothing() -> None:
    """Two points lie on any line, and within an evening a control warms."""
    assert drift_of(_line(0.001)[:2]) is None
    assert drift_of([(day, Mean(1.0, 0.1, math.inf)) for day in (1.0, 1.2, 1.4)]) is None
