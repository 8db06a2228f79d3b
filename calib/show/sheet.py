"""The pages of ``calib sheet``: what to type in, on a terminal and as Markdown."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.page import (
    STYLES,
    finding_lines,
    headline,
    list_lines,
    note_lines,
    print_page,
    verdict_lines,
)
from calib.show.view import View, spread_text, tables
from calib.store.documents.finding import Severity
from calib.store.documents.sheet import SheetDocument, SheetEntry, VerifyDocument
from calib.store.text import neutral

NAME_CHARS = 24
BOX = "[  ]"
AFTERWARDS = "NOT YET, BUT WHEN IT IS VERIFIED"


def show_sheet(document: SheetDocument, console: Screen) -> None:
    """Every value with room to tick it off and what it rests on; below, where each comes from."""
    glance = [headline("what to type into the controller"), *verdict_lines(document.verdict)]
    details = [Text(" WHERE EACH COMES FROM", style="bold")]
    for channel, entries in groupby(document.entries, lambda entry: entry.channel):
        glance.append(Text(f" {neutral(channel, 40)}", style="bold"))
        for entry in entries:
            glance += _entry_lines(entry)
            details += note_lines(f"{channel}, {entry.name}: {origin_text(entry)}")
    glance += finding_lines(document.findings[:1])
    details += [Text(), *finding_lines(document.findings[1:]), Text()]
    print_page(console, glance, [*details, *list_lines(AFTERWARDS, document.cautions)])


def _entry_lines(entry: SheetEntry) -> list[Text]:
    """One value; beside it, or below where there is no room, what it rests on."""
    row = f"  {BOX} {entry.name:<{NAME_CHARS}} {value_text(entry)}"
    if not entry.warnings:
        return [Text(row)]
    warned = warning_text(entry)
    if len(row) + len(warned) + 2 < WIDTH_CHARS:
        return [Text.assemble(f"{row}  ", (warned, STYLES[Severity.CAUTION]))]
    return [Text(row), *note_lines(warned, indent=len(BOX) + 3)]


def warning_text(entry: SheetEntry) -> str:
    """What a value rests on that nobody measured or proved; empty where there is nothing."""
    return f"! {'; '.join(entry.warnings)}" if entry.warnings else ""


def verify_view(document: VerifyDocument) -> View:
    """What is shown of a control after typing in: figure by figure what it should show."""
    rows = tuple(
        (
            each.name,
            f"{each.expected:.3f} V",
            f"{each.shown:.3f} V",
            f"{each.allowed:.3f} V",
            "agrees" if each.agrees else "DIFFERS",
        )
        for each in document.comparisons
    )
    head = ("figure", "should show", "shows", "allowed apart", "result")
    heading = "NOW THE FIRST TURN OF THE WHEEL" if document.verdict.is_good else AFTERWARDS
    return View(
        document,
        about=f"{document.channel}: what the controller shows",
        right="controller's volts",
        title=f"{document.channel} after typing in",
        tables=tables(head, rows),
        more=list_lines(heading, document.cautions),
    )


def value_text(entry: SheetEntry) -> str:
    """The value with unit and expanded uncertainty; a word and no number where there is none."""
    if entry.state != "ready":
        return f"no value: {entry.state}"
    return f"{bare_value(entry)}{entry_spread(entry)}"


def entry_spread(entry: SheetEntry) -> str:
    """The expanded uncertainty behind a value: volts to one digit more than they are typed in."""
    return spread_text(entry.expanded, entry.decimals + (entry.unit == "V"))


def bare_value(entry: SheetEntry) -> str:
    """What is typed in, with its unit; empty where there is nothing."""
    if entry.value is None:
        return entry.word or ""
    return f"{entry.value:.{entry.decimals}f} {entry.unit}"


def origin_text(entry: SheetEntry) -> str:
    """Where a value comes from and when it was measured, in one line."""
    when = "" if entry.measured_at is None else f" ({entry.measured_at[:16].replace('T', ' ')})"
    return f"{entry.origin}{when}"


def sheet_markdown(document: SheetDocument, rig_name: str) -> str:
    """The sheet as Markdown: one table, boxes to tick, cautions below."""
    return "\n".join(_markdown_rows(document, rig_name)) + "\n"


def _markdown_rows(document: SheetDocument, rig_name: str) -> Iterator[str]:
    yield f"# What to type in: {_cell(rig_name)}"
    yield ""
    yield f"Verdict: **{document.verdict.value.upper()}**"
    yield ""
    yield "| done | channel | setting | value | where it comes from |"
    yield "|---|---|---|---|---|"
    for entry in document.entries:
        value = " ".join(part for part in (value_text(entry), warning_text(entry)) if part)
        cells = (entry.channel, entry.name, value, origin_text(entry))
        yield "| [ ] | " + " | ".join(_cell(cell) for cell in cells) + " |"
    yield ""
    for finding in document.findings:
        yield f"- {_cell(f'{finding.severity.value.upper()}: {finding.text} {finding.action}')}"
    for caution in document.cautions:
        yield f"- {_cell(caution)}"


def _cell(text: str) -> str:
    """Text as one Markdown cell: nothing in it may end the cell or become markup."""
    escaped = "".join(f"\\{char}" if char in "\\`*_[]<>|#!&" else char for char in text)
    return neutral(escaped, 600)
