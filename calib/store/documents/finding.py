"""Findings, verdicts, budgets and what every document has in common."""

from __future__ import annotations

import math
import ntpath
from collections.abc import Iterable
from enum import StrEnum
from typing import TYPE_CHECKING, Literal

import msgspec

if TYPE_CHECKING:
    from calib.measure.uncertainty import Budget


class Severity(StrEnum):
    """How bad a finding is, and so how good a verdict can be; best first."""

    PASS = "pass"
    CAUTION = "caution"
    UNKNOWN = "unknown"
    FAIL = "fail"

    @property
    def rank(self) -> int:
        """0 for the best, 3 for the worst."""
        return list(Severity).index(self)

    @property
    def is_good(self) -> bool:
        """Whether a command with this verdict ends with exit code 0."""
        return self in (Severity.PASS, Severity.CAUTION)


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One checked statement.

    Attributes:
        code: A short stable name in kebab case, for scripts.
        severity: How bad it is.
        text: The statement, one sentence, for the person.
        value: The figure that was found, in ``unit``; None where there is none.
        limit: The figure it was held against, in ``unit``; None where there is none.
        unit: The unit of both.
        action: What to do next; empty where nothing needs doing.
        channel: The channel it is about; None where it is about the whole.
    """

    code: str
    severity: Severity
    text: str
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    action: str = ""
    channel: str | None = None


def worst(severities: Iterable[Severity]) -> Severity:
    """The verdict of a set of findings: the worst of them; ``unknown`` when there are none."""
    found = list(severities)
    return max(found, key=lambda severity: severity.rank) if found else Severity.UNKNOWN


class CaptureRef(msgspec.Struct, frozen=True, kw_only=True):
    """The capture that a document was made from.

    Attributes:
        path: Where it lies.
        sha256: Of the CSV as analysed.
        samples: Count of samples.
        rejected_lines: Count of lines that were not decoded.
        gaps: Count of gaps in time.
        rate_hz: Median sample rate; None for fewer than two samples.
    """

    path: str
    sha256: str
    samples: int
    rejected_lines: int
    gaps: int
    rate_hz: float | None

    @property
    def name(self) -> str:
        """Its file's name, whichever system wrote the path: a folder may have been moved."""
        return ntpath.basename(self.path)


class Document(msgspec.Struct, frozen=True, kw_only=True, tag_field="schema", tag="calib/1"):
    """What every document carries; each kind adds its own keys and its own ``schema`` tag."""

    verdict: Severity
    findings: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()
    capture: CaptureRef | None = None


class BudgetLine(msgspec.Struct, frozen=True, kw_only=True):
    """One source of uncertainty, in the unit of the document that holds it.

    Attributes:
        source: Where it comes from.
        u: Standard uncertainty.
        type: The GUM's type of its evaluation.
        dof: Degrees of freedom; None where they are infinite.
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


class ErrorDocument(
    msgspec.Struct, frozen=True, kw_only=True, tag_field="schema", tag="calib.error/1"
):
    """An error under ``--json``."""

    what: str
    hint: str
    exit_code: int
    capture: str | None = None
