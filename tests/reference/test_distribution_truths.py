"""Our own distributions, windows and fits against scipy, which the tests alone install."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import special, stats
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import minimum_filter1d, uniform_filter1d

from calib.controls.bend import curve_through
from calib.measure import distributions as ours
from calib.measure.distributions import root
from calib.measure.sliding import largest_of_each, least_around, least_of_each, mean_around

DOFS = (1, 1.7, 2, 3, 5.5, 17, 120, 999.5, 1e5)
SHARES = (0.001, 0.05, 0.4, 0.5, 0.6, 0.95, 0.975, 0.9995, 0.999999)
FIGURES = (0.01, 0.5, 1.0, 3.0, 9.0, 40.0)


@pytest.mark.parametrize("dof", DOFS)
def test_students_t(dof: float) -> None:
    """Quantiles and tails agree to eight figures. Source: scipy.special.stdtrit, stdtr."""
    found = [ours.student_quantile(share, dof) for share in SHARES]
    assert found == pytest.approx([special.stdtrit(dof, p) for p in SHARES], rel=1e-8, abs=1e-12)
    for sign in (1.0, -1.0):
        tails = [ours.student_beyond(sign * t, dof) for t in FIGURES]
        assert tails == pytest.approx([stats.t.sf(sign * t, dof) for t in FIGURES], rel=1e-8)


def test_students_t_with_all_degrees_of_freedom_is_normal() -> None:
    """Infinite degrees of freedom: the normal figures. Source: scipy.special.ndtri."""
    normal = [special.ndtri(share) for share in SHARES]
    assert [ours.normal_quantile(p) for p in SHARES] == pytest.approx(normal, rel=1e-12, abs=1e-12)
    known = [ours.student_quantile(p, math.inf) for p in SHARES]
    assert known == pytest.approx(normal, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("above", [1, 2, 3])
@pytest.mark.parametrize("below", [1, 3, 7, 50])
def test_f(above: int, below: int) -> None:
    """Tails agree to ten figures. Source: scipy.special.fdtrc."""
    found = [ours.f_beyond(ratio, above, below) for ratio in FIGURES]
    assert found == pytest.approx([special.fdtrc(above, below, r) for r in FIGURES], rel=1e-10)


@pytest.mark.parametrize("dof", DOFS)
def test_chi_squared(dof: float) -> None:
    """Tails and quantiles agree to nine figures. Source: scipy.special.chdtrc, gammaincinv."""
    figures = [share * dof for share in (0.01, 0.5, 0.99, 1.01, 3.0)]
    tails = [ours.chi2_beyond(chi2, dof) for chi2 in figures]
    assert tails == pytest.approx([special.chdtrc(dof, x) for x in figures], rel=1e-9, abs=1e-300)
    found = [ours.chi2_quantile(share, dof) for share in SHARES]
    assert found == pytest.approx([2 * special.gammaincinv(dof / 2, p) for p in SHARES], rel=1e-9)


@pytest.mark.parametrize("n", [6, 50, 5000])
@pytest.mark.parametrize("share", [0.001, 0.1])
def test_binomial(n: int, share: float) -> None:
    """Tails agree to ten figures. Source: scipy.special.bdtr."""
    found = [ours.binomial_up_to(count, n, share) for count in (0, 1, 5, 6)]
    assert found == pytest.approx([special.bdtr(k, n, share) for k in (0, 1, 5, 6)], rel=1e-10)


@pytest.mark.parametrize("n", [2, 3, 5, 43, 1000, 100_000])
def test_noncentral_t(n: int) -> None:
    """Quantiles agree to eight figures, for contents and confidences from edge to edge.

    Source: scipy.special.nctdtrit.
    """
    for content, confidence in itertools.product((0.9, 0.999, 0.9999), (0.05, 0.5, 0.95, 0.99)):
        shift = ours.normal_quantile(content) * math.sqrt(n)
        found = ours.noncentral_t_quantile(confidence, n - 1, shift)
        assert found == pytest.approx(special.nctdtrit(n - 1, shift, confidence), rel=1e-8)


def test_a_root_is_found_where_the_function_bends_and_where_it_lies_at_the_edge() -> None:
    """A root inside, one at either end, and none where both ends have one sign."""
    assert root(lambda x: x**3 - 2.0, 0.0, 40.0) == pytest.approx(2.0 ** (1 / 3), rel=1e-14)
    assert root(lambda x: x, 0.0, 1.0) == 0.0
    assert root(lambda x: x - 1.0, 0.0, 1.0) == 1.0


@pytest.mark.parametrize("width", [1, 2, 3, 8, 13])
def test_windows(width: int) -> None:
    """Least, largest and mean of sliding windows. Source: scipy.ndimage."""
    values = np.random.default_rng(3).normal(size=40)
    wide = minimum_filter1d(values, width)
    half = width // 2
    assert least_around(values, width) == pytest.approx(wide, rel=0)
    assert least_of_each(values, width) == pytest.approx(wide[half : half + 41 - width], rel=0)
    assert largest_of_each(values, width) == pytest.approx(-least_of_each(-values, width), rel=0)
    mean = uniform_filter1d(values, width, mode="nearest")
    assert mean_around(values, width) == pytest.approx(mean, abs=1e-14)


def test_the_curve_through_a_bowed_converter() -> None:
    """Between readings it runs as the monotone cubic. Source: scipy's PchipInterpolator."""
    x = np.array([0.2, 0.9, 1.4, 2.2, 3.1, 3.3, 4.6])
    y = np.array([0.1, 1.0, 1.2, 2.5, 2.6, 3.4, 4.4])
    rows = curve_through(x, y, np.zeros(7), 0.0)
    assert rows is not None
    assert len(rows) > len(x)
    smooth = PchipInterpolator(x, y)
    assert [row[1] for row in rows] == pytest.approx(smooth([row[0] for row in rows]), rel=1e-12)


@pytest.mark.parametrize("dof", [1, 2, 5, 40])
def test_without_a_shift_the_noncentral_t_is_students(dof: int) -> None:
    """From tail to tail, the middle included. Source: scipy.special.stdtrit."""
    for share in (0.001, 0.01, 0.3, 0.5, 0.7, 0.99, 0.999):
        found = ours.noncentral_t_quantile(share, dof, 0.0)
        assert found == pytest.approx(special.stdtrit(dof, share), rel=1e-8, abs=1e-9)


@pytest.mark.parametrize("shift", [0.5, 3.0, 20.0])
def test_a_shift_the_other_way_mirrors_the_noncentral_t(shift: float) -> None:
    """What lies below -t with one shift lies above t with the other. Source: its definition."""
    for share in (0.05, 0.5, 0.9):
        mirrored = -ours.noncentral_t_quantile(1.0 - share, 7, shift)
        assert ours.noncentral_t_quantile(share, 7, -shift) == pytest.approx(mirrored, rel=1e-8)


def test_shares_at_the_very_edges() -> None:
    """Beyond nothing lies everything; what is certain happens, and what cannot happen does not."""
    assert ours.f_beyond(0.0, 2, 3) == 1.0
    assert ours.chi2_beyond(0.0, 4.0) == 1.0
    assert ours.chi2_beyond(0.0, 0.5) == 1.0
    assert ours.student_beyond(0.0, 3.0) == 0.5
    assert ours.binomial_up_to(3, 5, 0.0) == 1.0
    assert ours.binomial_up_to(3, 5, 1.0) == 0.0
    assert ours.binomial_up_to(5, 5, 1.0) == 1.0
