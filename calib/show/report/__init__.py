"""The report: one self-contained HTML file from what is on disk. No script, nothing fetched."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from string import Template

from calib import __version__
from calib.book import packaged
from calib.checks.file.validity import Filed
from calib.checks.sheet import make_sheet
from calib.errors import NoDataError
from calib.guide.cautions import CONTROL_CAUTIONS, DEFER, FIRST_TURN
from calib.show.console import Screen
from calib.show.page import headline, note_lines
from calib.show.report.markup import Markup, Piece, element, join, table, text
from calib.show.report.parts import Context, drawing, findings_list, verdict_badge
from calib.show.report.sections import history, section
from calib.show.sheet import bare_value, entry_spread, origin_text, value_text, warning_text
from calib.show.view import View, rate_text
from calib.show.views import CHAPTERS, view_of
from calib.store.documents.finding import CaptureRef
from calib.store.documents.printed import ReportDocument
from calib.store.documents.sheet import SheetDocument, SheetEntry
from calib.store.files import refused_as, write_whole
from calib.store.records import Record
from calib.store.text import counted

POLICY = "default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"

DRAWINGS = {
    "isolation": "The drive is dead and the driven wheel free before a control is worked.",
    "pins": "Every pin is metered first.",
    "tap": "The tap stands beside the wire.",
    "divider": "A divider for a pin that does not stand 5 V.",
    "ground": "One ground, at the sensor.",
}
"""How the logger is wired, in the order of work; files in calib/data/drawings."""

_OWN_STYLE = re.compile(r"<style>.*?</style>\n?", re.DOTALL)


def show_report(document: ReportDocument, console: Screen) -> None:
    """Where the report was written, and how its sheet stands."""
    console.print(
        headline(f"report of {counted(document.records, 'record')}"),
        *note_lines(f"Written: {document.path}"),
        *note_lines(f"The sheet in it stands at {document.verdict.value.upper()}."),
    )


def write_report(folder: Path, filed: Filed, path: Path) -> Path:
    """Write the report of everything that lies below ``folder`` and return its path.

    Args:
        folder: Where records/ and captures/ lie.
        filed: What is on file.
        path: The HTML file to write.

    Raises:
        NoDataError: The file cannot be written.
    """
    page = report_page(Context(folder, filed))
    hint = "Name another place with --out."
    with refused_as(NoDataError, f"The report {path} cannot be written", hint):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, page.encode("utf-8"))
    return path


def report_page(context: Context) -> Markup:
    """The whole page."""
    style = packaged("report.css")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    doctype, *lines = packaged("report.html").splitlines()
    page = Template(f"{doctype}\n{''.join(lines)}").substitute(
        policy=text(POLICY.format(digest=digest)),
        title=text(f"{context.filed.rig.rig.name}: what it sends, and what to type in"),
        style=style,
        main=join(_chapters(context)),
    )
    return Markup(page)


def _chapters(context: Context) -> Iterator[Markup]:
    filed = context.filed
    sheet = make_sheet(filed)
    looked = element("p", f"Looked at {filed.now:%Y-%m-%d %H:%M}, calib {__version__}.")
    yield element("header", element("h1", filed.rig.rig.name), looked)
    yield element("div", _sheet(sheet), _first_turn(), _cautions(filed), class_="wall")
    for title, views in CHAPTERS.items():
        newest = (record for view in views for record in _newest(filed.records, view))
        shown = [section(context, record) for record in newest]
        if shown:
            yield chapter(title, shown)
    yield chapter("What was measured when", history(context))
    yield chapter("How the logger is wired", _wiring(), class_="chapter wiring")
    yield chapter("Where it all comes from", _provenance(filed), class_="chapter provenance")


def chapter(title: Piece, *inside: Piece, class_: str | None = "chapter") -> Markup:
    """A part of the report under its heading."""
    return element("section", element("h2", title), *inside, class_=class_)


def _newest(records: Sequence[Record], view: Callable[..., View]) -> list[Record]:
    """The newest record for each channel that a view shows and still counts, by channel."""
    found: dict[str, Record] = {}
    for record in sorted(records, key=lambda each: each.place):
        if record.superseded is None and view_of.dispatch(type(record.document)) is view:
            found[record.channel or ""] = record
    return list(found.values())


def _sheet(sheet: SheetDocument) -> Markup:
    rows = [
        (
            f"{entry.channel}: {entry.name}",
            _value(entry),
            [
                element("strong", warning_text(entry), class_="warned") if entry.warnings else None,
                element("span", origin_text(entry), class_="origin"),
            ],
            element("span", "", class_="box"),
        )
        for entry in sheet.entries
    ]
    odd = [each for each in sheet.findings if each.code != "no-value"]
    title = ("What to type in ", verdict_badge(sheet.verdict))
    head = ("setting", "value", "where it comes from", "done")
    return chapter(title, table(head, rows), findings_list(odd), class_="sheet")


def _value(entry: SheetEntry) -> Markup:
    if entry.state != "ready":
        return element("span", value_text(entry), class_="no-value")
    spread = entry_spread(entry).strip()
    behind = element("span", spread, class_="spread") if spread else None
    return join([element("span", bare_value(entry), class_="value"), " ", behind])


def _first_turn() -> Markup:
    title = "Then, once it is verified, the first turn of the wheel"
    return chapter(title, element("ol", [element("li", text) for text in FIRST_TURN]), class_=None)


def _cautions(filed: Filed) -> Markup:
    """Every caution of the records once, in the order in which they first appear."""
    shown = [caution for record in filed.records for caution in record.document.cautions]
    every = dict.fromkeys([*CONTROL_CAUTIONS, *shown])
    texts = [*(text for text in every if text not in (DEFER, *FIRST_TURN)), DEFER]
    points = element("ul", [element("li", text) for text in texts])
    return chapter("Before anyone touches the machine", points, class_="cautions")


def _wiring() -> list[Markup]:
    """The drawings with their captions; the page's style takes the place of their own."""
    return [
        drawing(Markup(_OWN_STYLE.sub("", packaged("drawings", f"{name}.svg"))), caption)
        for name, caption in DRAWINGS.items()
    ]


def _provenance(filed: Filed) -> list[Markup]:
    rig = filed.rig
    made = f". Made with calib {__version__}."
    refs = filter(None, (record.document.capture for record in filed.records))
    captures = {ref.sha256: (ref.name, _content(ref), element("code", ref.sha256)) for ref in refs}
    return [
        element("p", f"Rig file {rig.path.name}, SHA-256 ", element("code", rig.sha256), made),
        table(("capture", "content", "SHA-256"), captures.values()),
    ]


def _content(ref: CaptureRef) -> str:
    samples, gaps = counted(ref.samples, "sample"), counted(ref.gaps, "gap")
    return f"{samples}{rate_text(ref.rate_hz)}, {ref.rejected_lines} rejected, {gaps}"
