"""Whether something stayed where it was: two one-sided tests, not "no significant difference"."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from calib.measure.distributions import student_beyond, student_quantile
from calib.measure.uncertainty import effective_dof

CONFIDENCE = 0.95
"""Confidence of each one-sided test; own choice, because it is the usual one."""


class Moved(Enum):
    """What the two one-sided tests say."""

    EQUIVALENT = "equivalent"
    OUTSIDE = "outside"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Level:
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
        p: The larger p-value of the two one-sided tests: small means equivalent.
        moved: The verdict at ``CONFIDENCE``.
    """

    value: float
    u: float
    dof: float
    margin: float
    p: float
    moved: Moved

    @property
    def low(self) -> float:
        """Lower end of the two-sided interval of twice the one-sided risk."""
        return self.value - self._half_width

    @property
    def high(self) -> float:
        """Upper end of that interval."""
        return self.value + self._half_width

    @property
    def _half_width(self) -> float:
        return student_quantile(CONFIDENCE, self.dof) * self.u


def shift(now: Level, then: Level, *, margin: float) -> Shift:
    """How far a level moved, in its unit, and whether that is within a margin.

    Equivalent when the interval lies wholly within the margin, outside when wholly beyond it.

    Args:
        now: The level now.
        then: The level on record.
        margin: Largest shift that does not matter, above 0.

    Source: two one-sided tests, Schuirmann, J. Pharmacokinetics and Biopharmaceutics 15 (1987)
    657 (from memory); degrees of freedom JCGM 100:2008, G.4.1, equation G.2b.
    """
    value = now.mean - then.mean
    u = math.hypot(now.u, then.u)
    dof = effective_dof([(now.u, now.dof), (then.u, then.dof)])
    p = max(_upper_tail(value + margin, u, dof), _upper_tail(margin - value, u, dof))
    half = student_quantile(CONFIDENCE, dof) * u
    if abs(value) + half < margin:
        moved = Moved.EQUIVALENT
    elif abs(value) - half > margin:
        moved = Moved.OUTSIDE
    else:
        moved = Moved.UNDECIDED
    return Shift(value=value, u=u, dof=dof, margin=margin, p=p, moved=moved)


def _upper_tail(distance: float, u: float, dof: float) -> float:
    """Probability of a distance at least as large when the truth is zero."""
    if u == 0.0:
        return 0.0 if distance > 0.0 else 1.0
    return student_beyond(distance / u, dof)
