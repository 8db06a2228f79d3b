"""What a fitted line says at a place, for tests that hold it against published figures."""

from __future__ import annotations

import math

from calib.measure.straight_line import StraightLine


def at(line: StraightLine, x: float) -> float:
    """The line's value at x, in the unit of y."""
    return line.intercept + line.slope * x


def u_at(line: StraightLine, x: float) -> float:
    """Standard uncertainty of the line's value at x. Source: JCGM 100, H.3.4, eq. (H.15)."""
    variance = line.u_intercept**2 + (x * line.u_slope) ** 2 + 2.0 * x * line.cov
    return math.sqrt(max(0.0, variance))


def sd_residual(line: StraightLine) -> float:
    """Standard deviation of the readings about the line, with n - 2 degrees of freedom."""
    return math.sqrt(float((line.residuals**2).sum()) / line.dof)
