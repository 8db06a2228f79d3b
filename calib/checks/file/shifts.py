"""Whether a figure stayed where it was, by two one-sided tests, and how it drifts over records."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from calib.measure.distributions import student_quantile
from calib.measure.uncertainty import effective_dof

CONFIDENCE = 0.95
"""Confidence of each one-sided test, and with which a slope must differ from nought to be told; own
choice, because it is the usual one."""

LEAST_POINTS = 3
"""Records below which a line says nothing; own choice: two points always lie on one."""

LEAST_U = 1e-6
"""Least uncertainty of a point, V; own choice: one without any would take the whole weight."""

LEAST_DAYS = 1.0
"""Days that records must span; own choice: within an evening a control warms, it does not drift."""


class Moved(Enum):
    """What the two one-sided tests say."""

    EQUIVALENT = "equivalent"
    OUTSIDE = "outside"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean with what is known of it.

    Attributes:
        mean: The mean.
        u: Its standard uncertainty, same unit.
        dof: Degrees of freedom of ``u``; infinite where it is known otherwise.
    """

    mean: float
    u: float
    dof: float


@dataclass(frozen=True, slots=True)
class Shift:
    """How far something moved between two measurements.

    Attributes:
        value: Now less then.
        u: Standard uncertainty of it.
        dof: Effective degrees of freedom.
        margin: How far it may move.
    """

    value: float
    u: float
    dof: float
    margin: float

    @property
    def half_width(self) -> float:
        """Half of the two-sided interval of twice the one-sided risk."""
        return student_quantile(CONFIDENCE, self.dof) * self.u

    @property
    def moved(self) -> Moved:
        """Equivalent when the interval lies wholly within the margin, outside when beyond it."""
        if abs(self.value) + self.half_width < self.margin:
            return Moved.EQUIVALENT
        beyond = abs(self.value) - self.half_width > self.margin
        return Moved.OUTSIDE if beyond else Moved.UNDECIDED


def shift(now: Mean, then: Mean, *, margin: float) -> Shift:
    """How far a level moved, in its unit, and whether that is within a margin.

    Args:
        now: The level now.
        then: The level on record.
        margin: Largest shift that does not matter, above 0.

    Source: two one-sided tests, Schuirmann, J. Pharmacokinetics and Biopharmaceutics 15 (1987)
    657 (from memory); degrees of freedom JCGM 100:2008, G.4.1, equation G.2b.
    """
    dof = effective_dof([(now.u, now.dof), (then.u, then.dof)])
    return Shift(now.mean - then.mean, math.hypot(now.u, then.u), dof, margin)


@dataclass(frozen=True, slots=True)
class Drift:
    """A straight line through the records.

    Attributes:
        slope: Change a day, in the figure's unit.
        u_slope: Standard uncertainty of the slope.
        dof: Its degrees of freedom.
        last: The line's value at the newest record.
        sure: Whether the slope differs from nought at ``CONFIDENCE``.
    """

    slope: float
    u_slope: float
    dof: int
    last: float
    sure: bool

    def days_until(self, low: float, high: float) -> float | None:
        """Days from the newest record until the line leaves its limits; None if it never will.

        0 where it is outside already; None also where the slope is not sure.
        """
        if not low <= self.last <= high:
            return 0.0
        if not self.sure:
            return None
        return ((high if self.slope > 0.0 else low) - self.last) / self.slope


def drift_of(points: Sequence[tuple[float, Mean]]) -> Drift | None:
    """A weighted straight line through the figures of several records.

    Where the figures scatter more than their own uncertainties say, the uncertainties are
    enlarged to what the scatter shows; they are never made smaller.

    Args:
        points: Days from any fixed moment, and what was found then, in any order.

    Returns:
        None for fewer than three, or all within a day.

    Source: weighted least squares, e.g. NIST/SEMATECH e-Handbook 4.4.3 (from memory); enlarging
    by the Birge ratio, Phys. Rev. 40 (1932) 207 (from memory).
    """
    days = [day for day, _ in points]
    if len(points) < LEAST_POINTS or max(days) - min(days) < LEAST_DAYS:
        return None
    values = [level.mean for _, level in points]
    weights = [1.0 / max(level.u, LEAST_U) ** 2 for _, level in points]
    total = sum(weights)
    mean_day = sum(w * day for w, day in zip(weights, days, strict=True)) / total
    mean = sum(w * value for w, value in zip(weights, values, strict=True)) / total
    triples = [(w, d - mean_day, v - mean) for w, d, v in zip(weights, days, values, strict=True)]
    square = sum(w * off**2 for w, off, _ in triples)
    slope = sum(w * off * above for w, off, above in triples) / square
    misfit = sum(w * (above - slope * off) ** 2 for w, off, above in triples)
    dof = len(points) - 2
    u_slope = max(1.0, math.sqrt(misfit / dof)) / math.sqrt(square)
    quantile = student_quantile(0.5 + 0.5 * CONFIDENCE, dof)
    return Drift(
        slope=slope,
        u_slope=u_slope,
        dof=dof,
        last=mean + slope * (max(days) - mean_day),
        sure=abs(slope) > quantile * u_slope,
    )
