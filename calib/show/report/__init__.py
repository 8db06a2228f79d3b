"""The report: one self-contained HTML file from what is on disk. No script, nothing fetched."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Sequence
from importlib import resources
from pathlib import Path

from calib import __version__
from calib.checks.file.standing import Evidence
from calib.checks.sheet import make_sheet
from calib.errors import NoDataError
from calib.guide.cautions import CONTROL_CAUTIONS, DEFER, FIRST_TURN
from calib.show.report.context import Context
from calib.show.report.history import history
from calib.show.report.markup import Markup, element, join, table, text
from calib.show.report.parts import cautions_of, findings_list, verdict_badge
from calib.show.report.sections import SECTIONS
from calib.show.report.wiring import wiring
from calib.show.sheet import bare_value, entry_spread, origin_text, value_text, warning_text
from calib.store.documents.sheet import SheetDocument, SheetEntry
from calib.store.files import write_whole
from calib.store.records import Record
from calib.store.text import counted

POLICY = "default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


def write_report(folder: Path, evidence: Evidence, out: Path) -> Path:
    """Write the report of everything that lies below ``folder`` and return its path.

    Args:
        folder: Where records/ and captures/ lie.
        evidence: What is on file.
        out: The HTML file to write; inside it as report.html where it is a folder.

    Raises:
        NoDataError: The file cannot be written.
    """
    path = out / "report.html" if out.is_dir() else out
    page = report_page(Context(folder, evidence))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, page.encode("utf-8"))
    except OSError as error:
        raise NoDataError(
            f"The report {path} cannot be written: {error.strerror}.",
            "Name another place with --out.",
        ) from error
    return path


def report_page(context: Context) -> Markup:
    """The whole page."""
    style = resources.files("calib.data").joinpath("report.css").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    name = context.evidence.rig.rig.name
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", http_equiv="Content-Security-Policy", content=POLICY.format(digest=digest)),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("title", text(f"{name}: what it sends, and what to type in")),
        Markup(f"<style>{style}</style>"),
    )
    body = element("body", element("main", list(_chapters(context))))
    return join([Markup("<!doctype html>\n"), element("html", head, body, lang="en")])


def _chapters(context: Context) -> Iterator[Markup]:
    evidence = context.evidence
    sheet = make_sheet(evidence)
    yield element(
        "header",
        element("h1", evidence.rig.rig.name),
        element("p", f"Looked at {evidence.now:%Y-%m-%d %H:%M}, calib {__version__}."),
    )
    yield element("div", _sheet(sheet), _first_turn(), _cautions(evidence), class_="wall")
    for title, kinds in SECTIONS.items():
        shown = [
            section(context, record, record.document)
            for kind, section in kinds.items()
            for record in _newest(evidence.records, kind)
        ]
        if shown:
            yield element("section", element("h2", title), shown, class_="chapter")
    yield history(context)
    yield wiring()
    yield _provenance(context)


def _newest(records: Sequence[Record], kind: type) -> list[Record]:
    """The newest record of a kind for each channel that still counts, in order of channel."""
    found: dict[str, Record] = {}
    for record in sorted(records, key=lambda each: each.place):
        if isinstance(record.document, kind) and record.superseded is None:
            found[record.channel or ""] = record
    return list(found.values())


def _sheet(sheet: SheetDocument) -> Markup:
    rows = [
        (
            f"{entry.channel}: {entry.name}",
            _value(entry),
            join(
                [
                    element("strong", warning_text(entry), class_="warned")
                    if entry.warnings
                    else None,
                    element("span", origin_text(entry), class_="origin"),
                ]
            ),
            element("span", "", class_="box"),
        )
        for entry in sheet.entries
    ]
    odd = [each for each in sheet.findings if each.code != "no-value"]
    return element(
        "section",
        element("h2", "What to type in ", verdict_badge(sheet.verdict)),
        table(("setting", "value", "where it comes from", "done"), rows),
        findings_list(odd),
        class_="sheet",
    )


def _value(entry: SheetEntry) -> Markup:
    if entry.state != "ready":
        return element("span", value_text(entry), class_="no-value")
    spread = entry_spread(entry).strip()
    return join(
        [
            element("span", bare_value(entry), class_="value"),
            " ",
            element("span", spread, class_="spread") if spread else None,
        ]
    )


def _first_turn() -> Markup:
    steps = [element("li", text) for text in FIRST_TURN]
    return element(
        "section",
        element("h2", "Then, once it is verified, the first turn of the wheel"),
        element("ol", steps),
    )


def _cautions(evidence: Evidence) -> Markup:
    shown = cautions_of(record.document for record in evidence.records)
    every = dict.fromkeys([*CONTROL_CAUTIONS, *shown])
    texts = [*(text for text in every if text not in (DEFER, *FIRST_TURN)), DEFER]
    return element(
        "section",
        element("h2", "Before anyone touches the machine"),
        element("ul", [element("li", text) for text in texts]),
        class_="cautions",
    )


def _provenance(context: Context) -> Markup:
    evidence = context.evidence
    seen: dict[str, tuple[str, ...]] = {}
    for record in evidence.records:
        ref = record.document.capture
        if ref is not None:
            rate = "" if ref.rate_hz is None else f" at {ref.rate_hz:.4g} Hz"
            counts = (
                f"{counted(ref.samples, 'sample')}{rate}, {ref.rejected_lines} rejected, "
                f"{counted(ref.gaps, 'gap')}"
            )
            seen[ref.sha256] = (ref.name, counts, ref.sha256)
    rig = evidence.rig
    return element(
        "section",
        element("h2", "Where it all comes from"),
        element(
            "p",
            f"Rig file {rig.path.name}, SHA-256 ",
            element("code", rig.sha256),
            f". Made with calib {__version__}.",
        ),
        table(
            ("capture", "content", "SHA-256"),
            [(*cells[:2], element("code", cells[2])) for cells in seen.values()],
        ),
        class_="chapter provenance",
    )
