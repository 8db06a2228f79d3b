"""One line of an uncertainty budget, in the unit of the document that holds it."""

from __future__ import annotations

import math
from typing import Literal

import msgspec


class BudgetLine(msgspec.Struct, frozen=True, kw_only=True):
    """One source of uncertainty: standard uncertainty, GUM type, degrees of freedom.

    ``dof`` is None where it is infinite.
    """

    source: str
    u: float
    type: Literal["A", "B"]
    dof: float | None


def budget_line(source: str, u: float, kind: Literal["A", "B"], dof: float) -> BudgetLine:
    """The line of one source, whose degrees of freedom may be infinite."""
    return BudgetLine(source=source, u=u, type=kind, dof=dof if math.isfinite(dof) else None)
