"""The pieces that every section of the report is made of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from calib.show.report.drawings import budget_drawing
from calib.show.report.markup import Markup, element, table
from calib.show.view import Fact, Figure, View, said
from calib.store.documents.finding import Document, Finding, Severity
from calib.store.records import Record

DEGREES = "°"
WORDS = {severity.value.upper(): severity for severity in Severity}


def verdict_badge(verdict: Severity) -> Markup:
    """The verdict word in a frame of its own; the frame's shape tells it without colour."""
    return element("strong", verdict.value.upper(), class_=f"verdict v-{verdict.value}")


def section_of(
    record: Record, title: str, view: View, *drawings: Markup | None, picture: Markup | None = None
) -> Markup:
    """A section about one record: title, verdict, when it was measured, then what its view shows.

    Under a verdict that nobody may build upon the cause comes first, with what to do, and there is
    no large figure.

    Args:
        record: The record.
        title: What it is about.
        view: What is shown of its document.
        drawings: What is drawn of it, between its facts and its tables.
        picture: What is drawn beside the large figures.
    """
    condition = f", {record.condition}" if record.condition else ""
    good = view.verdict.is_good
    return element(
        "section",
        element("h3", title, " ", verdict_badge(view.verdict)),
        element("p", f"Measured {when(record)}{condition}. Record {record.id}.", class_="made"),
        None if good else findings_list(view.findings),
        element("div", _large(view.large), picture, class_="top") if view.large else None,
        _facts(view.facts),
        element("div", *drawings, class_="drawings") if any(drawings) else None,
        [table(each.head, [_row(row) for row in each.rows]) for each in view.tables],
        element("div", _sources(record, view), class_="drawings") if view.sources else None,
        [element("p", note) for note in view.notes],
        findings_list(view.findings) if good else None,
        id=record.id,
        class_="record",
    )


def _sources(record: Record, view: View) -> list[Markup]:
    """What each uncertainty is made of, as bars."""
    return [
        drawing(
            budget_drawing(each.lines, each.unit, f"{record.id}-{index}"),
            f"What the uncertainty of {each.figure} is made of (standard uncertainties).",
        )
        for index, each in enumerate(view.sources)
    ]


def findings_list(findings: Sequence[Finding]) -> Markup | None:
    """Findings in the order in which a view tells them, each with what to do."""
    items = [
        element(
            "li",
            verdict_badge(each.severity),
            " ",
            each.text,
            element("span", f" {each.measure}", class_="measure") if each.measure else None,
            element("span", f" What to do: {each.action}", class_="action")
            if each.action
            else None,
        )
        for each in said(findings)
    ]
    return element("ul", items, class_="findings") if items else None


def _large(figures: Sequence[Figure]) -> Markup | None:
    """The two or three figures that matter."""
    if not figures:
        return None
    pairs = [
        element(
            "div",
            element("dt", figure.label),
            element("dd", f"{figure.number} {DEGREES if figure.unit == 'deg' else figure.unit}"),
        )
        for figure in figures
    ]
    return element("dl", pairs, class_="large")


def _facts(facts: Sequence[Fact]) -> Markup | None:
    if not facts:
        return None
    pairs = [
        element(
            "div",
            element("dt", fact.name),
            element("dd", fact.text),
            [element("dd", more, class_="more") for more in fact.more],
        )
        for fact in facts
    ]
    return element("dl", pairs, class_="figures")


def _row(row: Sequence[str]) -> tuple[Markup | str, ...]:
    """Cells, a verdict word in its frame."""
    return tuple(verdict_badge(WORDS[cell]) if cell in WORDS else cell for cell in row)


def drawing(svg: Markup, caption: str, *, narrow: bool = False) -> Markup:
    """A drawing with its caption; a narrow one stands beside a wide one where there is room."""
    classes = "narrow" if narrow else None
    return element("figure", svg, element("figcaption", caption), class_=classes)


def when(record: Record) -> str:
    """When a record was measured, to the minute."""
    return f"{record.when:%Y-%m-%d %H:%M}"


def cautions_of(documents: Iterable[Document]) -> list[str]:
    """Every caution once, in the order in which they first appear."""
    return list(dict.fromkeys(caution for each in documents for caution in each.cautions))
