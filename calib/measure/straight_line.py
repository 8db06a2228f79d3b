"""Straight lines through measured points, with the covariance of slope and intercept."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Own choice: the effective-variance iteration has settled long before this many rounds.
ROUNDS = 25


@dataclass(frozen=True)
class StraightLine:
    """A fitted line y = intercept + slope · x.

    Attributes:
        slope: In units of y over x.
        intercept: In the unit of y.
        u_slope: Standard uncertainty of the slope.
        u_intercept: Standard uncertainty of the intercept.
        cov: Covariance of both.
        residuals: Readings less the line, in the unit of y, shape (n,).
        chi2: Sum of squared residuals over their variances; nan where no uncertainties were given.
        dof: Degrees of freedom, n - 2.
    """

    slope: float
    intercept: float
    u_slope: float
    u_intercept: float
    cov: float
    residuals: Floats
    chi2: float
    dof: int


def fit_line(x: Floats, y: Floats) -> StraightLine:
    """Least-squares line whose uncertainty comes from its own residuals, in the unit of y.

    Args:
        x: Known values, shape (n,), n at least 3, not all equal.
        y: Readings, shape (n,).

    Returns:
        The line.

    Raises:
        ValueError: If there are too few points or they do not differ in x.

    Source: JCGM 100, H.3; sums about the mean of x.
    """
    _check(x, y, least=3)
    line = _solve(x, y, np.ones_like(x))
    scale = float((line.residuals**2).sum()) / line.dof
    return replace(
        line,
        u_slope=line.u_slope * scale**0.5,
        u_intercept=line.u_intercept * scale**0.5,
        cov=line.cov * scale,
        chi2=float("nan"),
    )


def fit_weighted_line(x: Floats, y: Floats, u_x: Floats, u_y: Floats) -> StraightLine:
    """Weighted line whose uncertainty comes from that of the points, in the unit of y.

    Args:
        x: Readings, shape (n,), n at least 2, not all equal.
        y: Readings, shape (n,).
        u_x: Standard uncertainties of x, shape (n,).
        u_y: Standard uncertainties of y, shape (n,); no point may have both zero.

    Returns:
        The line; `chi2` says whether the residuals are larger than the uncertainties allow.

    Raises:
        ValueError: If there are too few points, they do not differ in x, or one has no
            uncertainty.

    Source: weighted least squares, variances of x carried to y by the slope (effective variance,
    Orear, Am. J. Phys. 50 (1982), from memory), solved by iteration.
    """
    _check(x, y, least=2)
    if bool((np.hypot(u_x, u_y) <= 0.0).any()):
        raise ValueError("Every point of a weighted line needs an uncertainty.")
    slope = 1.0
    line = _solve(x, y, 1.0 / (u_y**2 + (slope * u_x) ** 2))
    for _ in range(ROUNDS):
        before, slope = slope, line.slope
        line = _solve(x, y, 1.0 / (u_y**2 + (slope * u_x) ** 2))
        if abs(slope - before) <= 1e-14 * abs(slope):
            break
    return line


def _check(x: Floats, y: Floats, *, least: int) -> None:
    if len(x) != len(y) or len(x) < least:
        raise ValueError(f"{len(x)} and {len(y)} readings: a line needs at least {least} pairs.")
    if float(np.ptp(x)) <= 0.0:
        raise ValueError(f"All readings are {float(x[0]):g}: a line needs readings that differ.")


def _solve(x: Floats, y: Floats, weight: Floats) -> StraightLine:
    """Weighted solution about the weighted mean, which keeps the digits of a far-off x."""
    total = float(weight.sum())
    centre_x, centre_y = float((weight * x).sum()) / total, float((weight * y).sum()) / total
    dx, dy = x - centre_x, y - centre_y
    sxx = float((weight * dx**2).sum())
    slope = float((weight * dx * dy).sum()) / sxx
    residuals: Floats = dy - slope * dx
    return StraightLine(
        slope=slope,
        intercept=centre_y - slope * centre_x,
        u_slope=sxx**-0.5,
        u_intercept=(1.0 / total + centre_x**2 / sxx) ** 0.5,
        cov=-centre_x / sxx,
        residuals=residuals,
        chi2=float((weight * residuals**2).sum()),
        dof=len(x) - 2,
    )
