"""The pieces that every section of the report is made of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from calib.show.report.markup import Markup, Piece, element
from calib.show.sheet import spread_text
from calib.store.documents.finding import Document, Finding, Severity
from calib.store.records import Record

NO_FIGURE = "not measured"


def verdict_badge(verdict: Severity) -> Markup:
    """The verdict word in a frame of its own; the frame's shape tells it without colour."""
    return element("strong", verdict.value.upper(), class_=f"verdict v-{verdict.value}")


def section_of(record: Record, title: str, *inside: Piece, findings: bool = True) -> Markup:
    """A section about one record: title, verdict, when it was measured, then its own content.

    Args:
        record: The record.
        title: What it is about.
        inside: Its own content.
        findings: Whether its findings are listed; not where the content says them all.
    """
    condition = f", {record.condition}" if record.condition else ""
    return element(
        "section",
        element("h3", title, " ", verdict_badge(record.document.verdict)),
        element("p", f"Measured {when(record)}{condition}. Record {record.id}.", class_="made"),
        *inside,
        findings_list(record.document.findings) if findings else None,
        id=record.id,
    )


def findings_list(findings: Iterable[Finding]) -> Markup | None:
    """Findings in their order, each with what to do."""
    ordered = list(findings)
    if not ordered:
        return None
    return element("ul", [_finding(finding) for finding in ordered], class_="findings")


def _finding(finding: Finding) -> Markup:
    action = (
        element("span", " What to do: ", finding.action, class_="action")
        if finding.action
        else None
    )
    return element("li", verdict_badge(finding.severity), " ", finding.text, action)


def figures(pairs: Sequence[tuple[str, str | None]]) -> Markup:
    """Figures with their names; what was not measured says so."""
    return element(
        "dl",
        [
            element("div", element("dt", name), element("dd", value or NO_FIGURE))
            for name, value in pairs
        ],
        class_="figures",
    )


def drawing(svg: Markup, caption: str) -> Markup:
    """A drawing with its caption."""
    return element("figure", svg, element("figcaption", caption))


def number(
    value: float | None, decimals: int, unit: str, expanded: float | None = None
) -> str | None:
    """A number with unit and expanded uncertainty; None stays None."""
    if value is None:
        return None
    space = "" if unit in ("", "°", "%") else " "
    return f"{value:.{decimals}f}{space}{unit}{spread_text(expanded, decimals)}"


def when(record: Record) -> str:
    """When a record was measured, to the minute."""
    return f"{record.when:%Y-%m-%d %H:%M}"


def cautions_of(documents: Iterable[Document]) -> list[str]:
    """Every caution once, in the order in which they first appear."""
    return list(dict.fromkeys(caution for each in documents for caution in each.cautions))
