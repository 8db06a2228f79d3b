"""The pages of ``calib sheet``: what to type in, on a terminal and as Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from calib.measure.coverage import COVERAGE
from calib.show.console import Screen, Text
from calib.show.page import (
    caution_lines,
    finding_lines,
    headline,
    note_lines,
    print_page,
    verdict_lines,
)
from calib.store.documents.sheet import SheetDocument, SheetEntry, VerifyDocument
from calib.store.text import neutral

NAME_CHARS = 24
BOX = "[  ]"


def show_sheet(document: SheetDocument, console: Screen) -> None:
    """Every value with room to tick it off; below, where each comes from."""
    glance = [headline("what to type into the controller"), *verdict_lines(document.verdict)]
    details = [Text(" WHERE EACH COMES FROM", style="bold")]
    for channel, entries in _by_channel(document.entries):
        glance.append(Text(f" {neutral(channel, 40)}", style="bold"))
        for entry in entries:
            glance.append(Text(f"  {BOX} {entry.name:<{NAME_CHARS}} {value_text(entry)}"))
            details.extend(note_lines(f"{channel}, {entry.name}: {origin_text(entry)}"))
    if not document.entries:
        glance.extend(finding_lines(document.findings))
    print_page(console, glance, [*details, Text(), *caution_lines(document.cautions)])


def show_verify(document: VerifyDocument, console: Screen) -> None:
    """Whether the controller shows what it should, and what the wheel did."""
    glance = [
        headline(f"{document.channel}: what the controller shows", "controller's volts"),
        *verdict_lines(document.verdict),
        *finding_lines(document.findings),
    ]
    heading = (
        "NOW THE FIRST TURN OF THE WHEEL"
        if document.verdict.is_good
        else "NOT YET, BUT WHEN IT IS VERIFIED"
    )
    print_page(console, glance, caution_lines(document.cautions, heading))


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


def spread_text(expanded: float | None, decimals: int) -> str:
    """An expanded uncertainty behind its value, with what it covers; never a bare zero."""
    if expanded is None:
        return ""
    least = 10.0**-decimals
    amount = f"{expanded:.{decimals}f}" if expanded >= least else f"under {least:.{decimals}f}"
    return f"  ± {amount} ({100 * COVERAGE:.0f} %)"


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
        cells = (entry.channel, entry.name, value_text(entry), origin_text(entry))
        yield "| [ ] | " + " | ".join(_cell(cell) for cell in cells) + " |"
    yield ""
    for caution in document.cautions:
        yield f"- {_cell(caution)}"


def _cell(text: str) -> str:
    """Text as one Markdown cell: nothing in it may end the cell or become markup."""
    escaped = "".join(f"\\{char}" if char in "\\`*_[]<>|#!&" else char for char in text)
    return neutral(escaped, 600)


def _by_channel(entries: Iterable[SheetEntry]) -> Iterator[tuple[str, list[SheetEntry]]]:
    for channel, group in groupby(entries, key=lambda entry: entry.channel):
        yield channel, list(group)
