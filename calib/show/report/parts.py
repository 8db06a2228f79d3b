"""What every section of the report is made of: what is on file, and the pieces of a page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from calib.checks.file.validity import Filed
from calib.errors import NoDataError
from calib.show.report.drawings import budget_drawing
from calib.show.report.markup import Markup, element, table
from calib.show.view import Fact, View, measure_of
from calib.store.capture import Capture, read_capture
from calib.store.documents.finding import Document, Finding, Severity
from calib.store.records import Record

UNITS = {"deg": "°"}
WORDS = {severity.value.upper(): severity for severity in Severity}


@dataclass
class Context:
    """The folder and what is on file in it; hands out a name for each drawing.

    Attributes:
        folder: Where records and captures lie.
        filed: Rig, records and time.
    """

    folder: Path
    filed: Filed
    _names: int = 0

    def drawing_name(self) -> str:
        """A name that no other drawing of the page has."""
        self._names += 1
        return f"d{self._names}"

    def capture(self, document: Document) -> Capture | str:
        """The capture that a document was made from, or a sentence that says why there is none."""
        ref = document.capture
        if ref is None:
            return "No capture belongs to this record."
        named = Path(ref.path)
        # Where it was, or by its name in captures/ of a folder that was moved.
        places = (named, self.folder / named, self.folder / "captures" / ref.name)
        path = next((place for place in places if place.is_file()), None)
        if path is None:
            return f"The capture {ref.name} is no longer on disk, so its signal is not drawn."
        try:
            capture = read_capture(path)
        except NoDataError as error:
            return f"{error.what} Its signal is not drawn."
        if capture.sha256 != ref.sha256:
            return f"The capture {ref.name} was changed after it was judged; it is not drawn."
        return capture


def section_of(
    record: Record, view: View, *drawings: Markup, picture: Markup | None = None
) -> Markup:
    """A section about one record: title, verdict, when it was measured, then what its view shows.

    Under a verdict that nobody may build upon the cause comes first, with what to do, and there is
    no large figure.

    Args:
        record: The record.
        view: What is shown of its document.
        drawings: What is drawn of it, between its facts and its tables.
        picture: What is drawn beside the large figures.
    """
    condition = f", {record.condition}" if record.condition else ""
    good, found = view.verdict.is_good, findings_list(view.findings)
    large = [
        Fact(each.label, f"{each.number} {UNITS.get(each.unit, each.unit)}") for each in view.large
    ]
    return element(
        "section",
        element("h3", view.title, " ", verdict_badge(view.verdict)),
        element("p", f"Measured {when(record)}{condition}. Record {record.id}.", class_="made"),
        None if good else found,
        element("div", _pairs("large", large), picture, class_="top") if large else None,
        _pairs("figures", view.facts),
        element("div", *drawings, class_="drawings") if drawings else None,
        [table(each.head, [_row(row) for row in each.rows]) for each in view.tables],
        element("div", _sources(record, view), class_="drawings") if view.sources else None,
        [element("p", note) for note in view.notes],
        found if good else None,
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


def _pairs(kind: str, facts: Sequence[Fact]) -> Markup | None:
    """Names and what is known of them; nothing where nothing is known."""
    pairs = [
        element(
            "div",
            element("dt", fact.name),
            element("dd", fact.text),
            [element("dd", more, class_="more") for more in fact.more],
        )
        for fact in facts
    ]
    return element("dl", pairs, class_=kind) if pairs else None


def _row(row: Sequence[str]) -> tuple[Markup | str, ...]:
    """Cells, a verdict word in its frame."""
    return tuple(verdict_badge(WORDS[cell]) if cell in WORDS else cell for cell in row)


def findings_list(findings: Sequence[Finding]) -> Markup | None:
    """Findings in the order in which a view tells them, each with what to do."""
    items = [
        element(
            "li",
            verdict_badge(each.severity),
            " ",
            each.text,
            _span("measure", "", measure_of(each)),
            _span("action", "What to do: ", each.action),
        )
        for each in findings
    ]
    return element("ul", items, class_="findings") if items else None


def _span(kind: str, before: str, said: str) -> Markup | None:
    """Words behind a finding, with what stands before them; nothing where there are none."""
    return element("span", f" {before}{said}", class_=kind) if said else None


def verdict_badge(verdict: Severity) -> Markup:
    """The verdict word in a frame of its own; the frame's shape tells it without colour."""
    return element("strong", verdict.value.upper(), class_=f"verdict v-{verdict.value}")


def drawing(svg: Markup, caption: str, *, narrow: bool = False) -> Markup:
    """A drawing with its caption; a narrow one stands beside a wide one where there is room."""
    classes = "narrow" if narrow else None
    return element("figure", svg, element("figcaption", caption), class_=classes)


def missing(why: str) -> Markup:
    """What stands in place of a drawing that cannot be made."""
    return element("p", why, class_="missing")


def when(record: Record) -> str:
    """When a record was measured, to the minute."""
    return f"{record.when:%Y-%m-%d %H:%M}"
