"""What is shown of a document, whoever shows it: the terminal and the report draw one and the same.

A view says what a page says and in which order; it knows neither columns nor markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from calib.measure.coverage import COVERAGE
from calib.store.documents.budget import BudgetLine
from calib.store.documents.finding import Finding, Severity

MOST_SOURCES = 4
"""Own choice: the sources of an uncertainty that a page names; the rest is in the record."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One large figure: what it is, the number as text, its unit."""

    label: str
    number: str
    unit: str


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that is known, in small print: its name, what is known, and more of it."""

    name: str
    text: str
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells under their heads."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Sources:
    """What an uncertainty is made of, largest first: of which figure, and its unit."""

    figure: str
    unit: str
    lines: tuple[BudgetLine, ...]


@dataclass(frozen=True, slots=True)
class View:
    """What is shown of one document.

    Attributes:
        about: What it is about.
        right: Whose figures they are, or what else belongs to the first line.
        verdict: The verdict.
        findings: Everything that was found, in the order in which it is told.
        figures: The two or three large ones; none is shown unless the verdict is good.
        facts: What is known beside them, or all that is known where the verdict is not good.
        tables: Rows of readings.
        sources: What the uncertainties are made of.
        notes: Sentences.
    """

    about: str
    right: str
    verdict: Severity
    findings: tuple[Finding, ...]
    figures: tuple[Figure, ...] = ()
    facts: tuple[Fact, ...] = ()
    tables: tuple[Table, ...] = ()
    sources: tuple[Sources, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def large(self) -> tuple[Figure, ...]:
        """The large figures; none under a verdict that nobody may build upon."""
        return self.figures if self.verdict.is_good else ()


@dataclass(frozen=True, slots=True)
class Said:
    """One finding in words: its severity, the statement, what to do, and the figure it rests on."""

    severity: Severity
    text: str
    action: str
    measure: str


def said(findings: Iterable[Finding]) -> Iterator[Said]:
    """Findings as every page tells them, in the given order."""
    for finding in findings:
        yield Said(finding.severity, finding.text, finding.action, _against_limit(finding))


def known(*facts: tuple[str, str | None]) -> tuple[Fact, ...]:
    """Facts of which there is something to say."""
    return tuple(Fact(name, text) for name, text in facts if text is not None)


def number(
    value: float | None, decimals: int, unit: str, expanded: float | None = None
) -> str | None:
    """A number with unit and expanded uncertainty; None stays None."""
    if value is None:
        return None
    space = "" if unit in ("", "°") else " "
    return f"{value:.{decimals}f}{space}{unit}{spread_text(expanded, decimals)}"


def spread_text(expanded: float | None, decimals: int) -> str:
    """An expanded uncertainty behind its value, with what it covers; never a bare zero."""
    if expanded is None:
        return ""
    least = 10.0**-decimals
    amount = f"{expanded:.{decimals}f}" if expanded >= least else f"under {least:.{decimals}f}"
    return f" ± {amount} ({100 * COVERAGE:.0f} %)"


def _against_limit(finding: Finding) -> str:
    """The figure beside its limit; nothing where either is missing."""
    if finding.value is None or finding.limit is None or finding.severity is Severity.PASS:
        return ""
    unit = f" {finding.unit}" if finding.unit else ""
    return f"{finding.value:.3g}{unit}, limit {finding.limit:.3g}{unit}"
