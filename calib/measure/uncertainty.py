"""Uncertainty budgets: standard uncertainties, their sum, its degrees of freedom and coverage."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from calib.measure.coverage import COVERAGE
from calib.measure.distributions import normal_quantile, student_quantile

Kind = Literal["A", "B"]


@dataclass(frozen=True)
class Component:
    """One source of uncertainty.

    Attributes:
        source: What it comes from, in words for the person.
        u: Standard uncertainty that it adds to the result (times its sensitivity), in the
            result's unit.
        kind: "A" from repeated readings, "B" from anything else.
        dof: Degrees of freedom; infinite where the figure is taken as known.
        remedy: What would shrink it; empty where nothing would.
        u_remedied: What would be left of it then.
    """

    source: str
    u: float
    kind: Kind
    dof: float = math.inf
    remedy: str = ""
    u_remedied: float = 0.0


@dataclass(frozen=True)
class Budget:
    """All components of one result, largest first.

    Attributes:
        components: The components.
    """

    components: tuple[Component, ...]

    @property
    def u(self) -> float:
        """Combined standard uncertainty, in the result's unit. Source: JCGM 100, eq. (10)."""
        return math.sqrt(sum(part.u**2 for part in self.components))

    @property
    def dof(self) -> float:
        """Effective degrees of freedom (Welch-Satterthwaite). Source: JCGM 100, eq. (G.2b)."""
        return effective_dof([(part.u, part.dof) for part in self.components])

    def expanded(self) -> float:
        """Expanded uncertainty, in the result's unit: Student's t at the whole part of the dof.

        Source: JCGM 100, eq. (18), G.4.1 and G.6.4.
        """
        return coverage_factor(self.dof) * self.u

    def of_kind(self, kind: Kind) -> Budget:
        """The components of one kind."""
        return Budget(tuple(part for part in self.components if part.kind == kind))

    def best_remedy(self) -> Component | None:
        """The component whose remedy would shrink the sum most, or None where none would."""
        able = [part for part in self.components if part.remedy and part.u_remedied < part.u]
        return max(able, key=lambda part: part.u**2 - part.u_remedied**2, default=None)


def budget(components: Iterable[Component]) -> Budget:
    """A budget with its components in order of size. Source: JCGM 100, 7.2.3."""
    return Budget(tuple(sorted(components, key=lambda part: -part.u)))


def effective_dof(parts: Sequence[tuple[float, float]]) -> float:
    """Welch-Satterthwaite degrees of freedom of a sum of independent contributions.

    Args:
        parts: Standard uncertainty and degrees of freedom of each; infinite ones add nothing.

    Returns:
        Infinite where all are.

    Source: JCGM 100, eq. (G.2b).
    """
    square = sum(u**2 for u, _ in parts)
    fourth = sum(u**4 / dof for u, dof in parts if math.isfinite(dof))
    return square**2 / fourth if fourth > 0.0 else math.inf


def coverage_factor(dof: float, confidence: float = COVERAGE) -> float:
    """Two-sided coverage factor, no unit. Source: JCGM 100, table G.2; dof are rounded down."""
    upper = 0.5 * (1.0 + confidence)
    if not math.isfinite(dof):
        return normal_quantile(upper)
    return student_quantile(upper, max(1.0, math.floor(dof)))


def rectangular_u(half_width: float) -> float:
    """Standard uncertainty of a value known within ± a half-width. Source: JCGM 100, 4.3.7."""
    return half_width / math.sqrt(3.0)


def step_u(step: float) -> float:
    """Standard uncertainty of a display's or converter's step. Source: JCGM 100, F.2.2.1."""
    return step / math.sqrt(12.0)
