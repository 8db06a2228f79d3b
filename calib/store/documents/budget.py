"""One line of an uncertainty budget, in the unit of the document that holds it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import msgspec

if TYPE_CHECKING:
    from calib.measure.uncertainty import Budget


class BudgetLine(msgspec.Struct, frozen=True, kw_only=True):
    """One source of uncertainty: standard uncertainty, GUM type, degrees of freedom.

    ``dof`` is None where it is infinite.
    """

    source: str
    u: float
    type: Literal["A", "B"]
    dof: float | None


def budget_lines(budget: Budget) -> tuple[BudgetLine, ...]:
    """The lines of a budget, in its order."""
    return tuple(
        BudgetLine(
            source=part.source,
            u=part.u,
            type=part.kind,
            dof=part.dof if math.isfinite(part.dof) else None,
        )
        for part in budget.components
    )
