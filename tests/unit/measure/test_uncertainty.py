from __future__ import annotations

import math

import numpy as np
import pytest

from calib.measure.straight_line import fit_line, fit_weighted_line
from calib.measure.uncertainty import Component, budget, coverage_factor, step_u
from tests.straight import at, sd_residual, u_at


def test_best_remedy_is_the_one_that_shrinks_the_sum_most() -> None:
    """A large part that nothing shrinks is passed over for a smaller one that something does."""
    whole = budget(
        [
            Component("temperature", 9.0, "B"),
            Component("reference", 5.0, "B", remedy="true it", u_remedied=1.0),
            Component("step", 1.0, "B", remedy="buy a finer one"),
        ]
    )
    assert [part.source for part in whole.components] == ["temperature", "reference", "step"]
    best = whole.best_remedy()
    assert best is not None
    assert best.source == "reference"
    assert budget([Component("temperature", 9.0, "B")]).best_remedy() is None


def test_parts_of_one_kind() -> None:
    """The budget can be split by kind; the squares of both sum to the whole's."""
    whole = budget([Component("a", 3.0, "A", 4.0), Component("b", 4.0, "B")])
    assert whole.u == 5.0
    assert (whole.of_kind("A").u, whole.of_kind("B").u) == (3.0, 4.0)
    assert whole.dof == pytest.approx(5.0**4 / (3.0**4 / 4.0))
    assert whole.expanded() > 2.0 * whole.u


def test_a_step() -> None:
    """A step carries step/√12."""
    assert step_u(0.01) == pytest.approx(0.01 / math.sqrt(12.0))


def test_few_presses_widen_what_is_stated() -> None:
    """Two presses more than one leave one degree of freedom; it is never less than that."""
    assert coverage_factor(2.0) == pytest.approx(4.303, abs=1e-3)
    assert coverage_factor(0.3) == coverage_factor(1.0)


def test_lines_that_cannot_be() -> None:
    """Too few points, equal x and points without uncertainty are refused in plain words."""
    x = np.array([1.0, 2.0, 3.0])
    with pytest.raises(ValueError, match="at least 3"):
        fit_line(x[:2], x[:2])
    with pytest.raises(ValueError, match="readings that differ"):
        fit_line(np.ones(3), x)
    with pytest.raises(ValueError, match="needs an uncertainty"):
        fit_weighted_line(x, x, np.zeros(3), np.array([0.1, 0.0, 0.1]))


def test_two_points_make_a_line_without_residuals() -> None:
    """Two points fix the line; its uncertainty comes from theirs alone."""
    line = fit_weighted_line(
        np.array([1.0, 4.0]), np.array([1.1, 4.0]), np.zeros(2), np.full(2, 0.01)
    )
    assert at(line, 1.0) == pytest.approx(1.1)
    assert u_at(line, 1.0) == pytest.approx(0.01)
    assert u_at(line, 2.5) == pytest.approx(0.01 / math.sqrt(2.0))
    assert line.dof == 0


def test_a_remedy_that_leaves_nearly_all_is_none() -> None:
    """What counts is what is taken off the sum of squares; a remedy that takes nothing is none."""
    parts = [
        Component("large", 5.0, "B", remedy="polish it", u_remedied=4.9),
        Component("small", 3.0, "B", remedy="leave it out"),
        Component("as it is", 9.0, "B", remedy="look at it", u_remedied=9.0),
    ]
    best = budget(parts).best_remedy()
    assert best is not None
    assert best.source == "small"
    assert budget([parts[2]]).best_remedy() is None
    tiny = Component("tiny", 0.004, "B", remedy="leave it out")
    assert budget([tiny]).best_remedy() == tiny


def test_a_steep_line_carries_what_is_unknown_of_x_to_y() -> None:
    """By its slope, in squares: two points three apart, of slope 4, u 0.3 in x and 0.5 in y.

    By hand: each weighs 1/(0.25 + 1.44); the slope is known to √(2·1.69)/3, the middle to 1.3/√2.
    """
    line = fit_weighted_line(
        np.array([1.0, 4.0]), np.array([2.0, 14.0]), np.full(2, 0.3), np.full(2, 0.5)
    )
    assert (line.slope, line.intercept) == pytest.approx((4.0, -2.0))
    assert line.u_slope == pytest.approx(1.3 * math.sqrt(2.0) / 3.0)
    assert u_at(line, 2.5) == pytest.approx(1.3 / math.sqrt(2.0))
    assert u_at(line, 0.0) == line.u_intercept
    uneven = fit_weighted_line(
        np.array([0.0, 1.0, 2.0]),
        np.array([0.0, 4.1, 8.0]),
        np.array([0.3, 0.0, 0.3]),
        np.full(3, 0.5),
    )
    weights = np.array([1 / 1.69, 1 / 0.25, 1 / 1.69])
    assert uneven.slope == pytest.approx(4.0, abs=1e-9)
    middle = 0.1 * weights[1] / weights.sum()
    assert at(uneven, 1.0) == pytest.approx(4.0 + middle)
    assert uneven.chi2 == pytest.approx(
        2.0 * weights[0] * middle**2 + weights[1] * (0.1 - middle) ** 2, rel=1e-6
    )
    assert sd_residual(uneven) == pytest.approx(
        math.sqrt(2.0 * middle**2 + (0.1 - middle) ** 2), rel=1e-6
    )


def test_a_line_of_three_points_by_hand() -> None:
    """Residuals of 1, -2 and 1 over one degree of freedom: √6; slope to √(6/2), mean to √(6/3)."""
    x = np.array([9.0, 10.0, 11.0])
    line = fit_line(x, 3.0 * x + np.array([1.0, -2.0, 1.0]))
    assert (line.slope, at(line, 10.0)) == pytest.approx((3.0, 30.0))
    assert line.residuals == pytest.approx([1.0, -2.0, 1.0])
    assert sd_residual(line) == pytest.approx(math.sqrt(6.0))
    assert line.dof == 1
    assert line.u_slope == pytest.approx(math.sqrt(3.0))
    assert u_at(line, 10.0) == pytest.approx(math.sqrt(2.0))
    assert u_at(line, 12.0) == pytest.approx(math.sqrt(2.0 + 4.0 * 3.0))
    assert line.cov == pytest.approx(-30.0)
    assert math.isnan(line.chi2)


def test_as_many_readings_as_places() -> None:
    """A reading without its place makes no line, and one point no weighted one."""
    x = np.array([1.0, 2.0, 3.0])
    with pytest.raises(ValueError, match="3 and 2 readings"):
        fit_line(x, x[:2])
    with pytest.raises(ValueError, match="at least 2 pairs"):
        fit_weighted_line(x[:1], x[:1], x[:1], x[:1])


def test_parts_without_anything_unknown() -> None:
    """A budget of nothing is nothing, known for certain; a known part counts with k of 1.96."""
    assert (budget([]).u, budget([]).dof) == (0.0, math.inf)
    known = budget([Component("step", 1.0, "B")])
    assert known.expanded() == pytest.approx(1.959964)
    assert coverage_factor(known.dof, 0.99) == pytest.approx(2.575829)
    assert budget([Component("mean", 1.0, "A", 2.9)]).expanded() == pytest.approx(4.3027, abs=1e-4)


def test_squares_decide_between_remedies() -> None:
    """From 0.9 to 0.6 takes 0.45 off the sum of squares, from 0.7 to nothing takes 0.49."""
    whole = budget(
        [
            Component("first", 0.9, "B", remedy="polish it", u_remedied=0.6),
            Component("second", 0.7, "B", remedy="leave it out"),
        ]
    )
    best = whole.best_remedy()
    assert best is not None
    assert best.source == "second"
