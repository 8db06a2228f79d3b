"""What is shown of a document, whoever shows it: the terminal and the report draw one and the same.

A view says what a page says and in which order. Rows that a terminal alone can show come with it:
the report has drawings of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from calib.measure.coverage import COVERAGE, KNOWN_FACTOR
from calib.show.console import Text
from calib.store.documents.finding import BudgetLine, Document, Finding, Severity

MOST_SOURCES = 4
"""Own choice: the sources of an uncertainty that a page names; the rest is in the record."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One large figure: what it is, the number as text, its unit."""

    label: str
    number: str
    unit: str

    @property
    def text(self) -> str:
        """The number with its unit."""
        return f"{self.number}{behind(self.unit)}"


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
        document: The document.
        about: What it is about.
        right: Whose figures they are, or what else belongs to the first line.
        title: What it is about, among the records of a report.
        figures: The two or three large ones; none is shown unless the verdict is good.
        facts: What is known beside them, or all that is known where the verdict is not good.
        tables: Rows of readings.
        sources: What the uncertainties are made of.
        notes: Sentences.
        told: The findings that are told; all of the document's where that is None.
        picture: Rows for the terminal, beneath the large figures.
        more: Rows for the terminal among the details, after tables and sources.
    """

    document: Document
    about: str
    right: str = ""
    title: str = ""
    figures: tuple[Figure, ...] = ()
    facts: tuple[Fact, ...] = ()
    tables: tuple[Table, ...] = ()
    sources: tuple[Sources, ...] = ()
    notes: tuple[str, ...] = ()
    told: tuple[Finding, ...] | None = None
    picture: Sequence[Text] = ()
    more: Sequence[Text] = ()

    @property
    def verdict(self) -> Severity:
        """The verdict."""
        return self.document.verdict

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was found, in the order in which it is told."""
        return self.document.findings if self.told is None else self.told

    @property
    def large(self) -> tuple[Figure, ...]:
        """The large figures; none under a verdict that nobody may build upon."""
        return self.figures if self.verdict.is_good else ()


def figures(*given: tuple[str, float | None, str, str]) -> tuple[Figure, ...]:
    """Large figures of what is known: the label, the value, how it is written, its unit."""
    return tuple(
        Figure(label, f"{value:{written}}", unit)
        for label, value, written, unit in given
        if value is not None
    )


def known(*facts: tuple[str, str | None]) -> tuple[Fact, ...]:
    """Facts of which there is something to say."""
    return tuple(Fact(name, text) for name, text in facts if text is not None)


def tables(head: tuple[str, ...], rows: tuple[tuple[str, ...], ...]) -> tuple[Table, ...]:
    """One table; none without rows."""
    return (Table(head, rows),) if rows else ()


def number(
    value: float | None, decimals: int, unit: str, expanded: float | None = None
) -> str | None:
    """A number with unit and expanded uncertainty; None stays None."""
    if value is None:
        return None
    space = "" if unit in ("", "°") else " "
    return f"{value:.{decimals}f}{space}{unit}{spread_text(expanded, decimals)}"


def percent(share: float | None) -> str | None:
    """A share in whole per cent; None stays None."""
    return None if share is None else f"{100 * share:.0f} %"


def expanded(u: float | None) -> float | None:
    """The half-width that holds the truth with 95 %, of infinite degrees of freedom."""
    return None if u is None else KNOWN_FACTOR * u


def spread_text(expanded: float | None, decimals: int) -> str:
    """An expanded uncertainty behind its value, with what it covers; never a bare zero."""
    if expanded is None:
        return ""
    least = 10.0**-decimals
    amount = f"{expanded:.{decimals}f}" if expanded >= least else f"under {least:.{decimals}f}"
    return f" ± {amount} ({100 * COVERAGE:.0f} %)"


def behind(unit: str) -> str:
    """A unit as it stands behind its number."""
    return "°" if unit == "deg" else f" {unit}"


def rate_text(rate_hz: float | None) -> str:
    """A sample rate behind a count; nothing where it is not known."""
    return "" if rate_hz is None else f" at {rate_hz:.4g} Hz"


def measure_of(finding: Finding) -> str:
    """The figure that a finding rests on beside its limit; nothing where either is missing."""
    if finding.value is None or finding.limit is None or finding.severity is Severity.PASS:
        return ""
    unit = f" {finding.unit}" if finding.unit else ""
    return f"{finding.value:.3g}{unit}, limit {finding.limit:.3g}{unit}"
