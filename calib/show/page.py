"""The parts that every terminal page is made of: read at a glance from two metres, in 80 columns.

From top to bottom a page says: what it is about, the verdict word, the two or three figures, the
worst finding with its one next action, then the rest. Meaning never rests on colour alone.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest

from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.glyphs import large
from calib.show.view import MOST_SOURCES, Fact, Figure, Sources, Table, View, measure_of, rate_text
from calib.store.documents.finding import Document, Finding, Severity
from calib.store.text import counted, neutral

STYLES: dict[Severity, str] = {
    Severity.PASS: "bold green",
    Severity.CAUTION: "bold yellow",
    Severity.UNKNOWN: "bold magenta",
    Severity.FAIL: "bold red",
}

NAME_CHARS = 12
_LONGEST_TEXT = 600  # own choice: longer than any sentence of ours, shorter than a flood
_INDENT = "  "
_WORD_CHARS = len(_INDENT) + 9  # a verdict's word with what stands before and after it


def headline(left: str, right: str = "") -> Text:
    """The first line: what the page is about, and whose figures or when on the right."""
    right = neutral(right, WIDTH_CHARS // 2)
    left = neutral(left, WIDTH_CHARS - len(right) - 5)
    gap = WIDTH_CHARS - len(left) - len(right) - 2
    return Text(f" {left}{' ' * gap}{right}", style="bold")


def verdict_lines(verdict: Severity) -> list[Text]:
    """The verdict word in large letters; every word as loud as every other."""
    return large_lines(verdict.value, STYLES[verdict])


def large_lines(text: str, style: str = "bold") -> list[Text]:
    """A few words or a count in large letters, to be read from two metres."""
    return [Text(f" {row}", style) for row in large(text, WIDTH_CHARS - 2)]


def figure_lines(figures: Sequence[Figure]) -> list[Text]:
    """Figures side by side in large digits, each under its label."""
    if not figures:
        return []
    width = WIDTH_CHARS // len(figures) - 1
    blocks = [large(figure.text, width - 2) for figure in figures]
    labels = [neutral(figure.label, width - 2) for figure in figures]
    return [
        Text("".join(f" {cell:<{width}}" for cell in cells), style="bold")
        for cells in (labels, *zip_longest(*blocks, fillvalue=""))
    ]


def finding_lines(findings: Iterable[Finding]) -> list[Text]:
    """Findings in order: the severity in words, the statement, what to do, figure and limit."""
    lines: list[Text] = []
    for finding in findings:
        first, *rest = note_lines(finding.text, indent=_WORD_CHARS)
        lines += [word_line(finding.severity, first.plain[_WORD_CHARS:]), *rest]
        lines += action_lines(finding.action)
        if measure := measure_of(finding):
            lines += note_lines(measure, indent=_WORD_CHARS)
    return lines


def word_line(severity: Severity, text: str) -> Text:
    """A row that begins with a verdict's word."""
    word = severity.value.upper()
    gap = " " * (_WORD_CHARS - len(_INDENT) - len(word))
    return Text.assemble(_INDENT, (word, STYLES[severity]), f"{gap}{text}")


def action_lines(action: str) -> list[Text]:
    """What to do about what stands above; nothing where nothing is to be done."""
    first = " " * _WORD_CHARS + "-> "
    return _wrapped(action, first=first, then=" " * len(first)) if action else []


def list_lines(heading: str, sentences: Iterable[str]) -> list[Text]:
    """Points under their heading; none where there are none."""
    rows = [row for text in sentences for row in bullet_lines(text)]
    return [Text(f" {heading}", style="bold"), *rows] if rows else []


def bullet_lines(text: str) -> list[Text]:
    """One point of a list, wrapped."""
    return _wrapped(text, first="  - ", then="    ")


def note_lines(text: str, indent: int = 2) -> list[Text]:
    """A plain sentence, wrapped and indented by ``indent`` columns."""
    return _wrapped(text, first=" " * indent, then=" " * indent)


def provenance_lines(document: Document) -> list[Text]:
    """Where the figures came from; none where there is no capture."""
    capture = document.capture
    if capture is None:
        return []
    samples = f"{counted(capture.samples, 'sample')}{rate_text(capture.rate_hz)}"
    rejected, gaps = counted(capture.rejected_lines, "rejected line"), counted(capture.gaps, "gap")
    counts = f"  {samples}, {rejected}, {gaps}, sha256 {capture.sha256[:12]}…"
    return [*note_lines(f"from {capture.path}"), Text(counts)]


def print_page(console: Screen, glance: Sequence[Text], details: Sequence[Text]) -> None:
    """Show a page so that its glance part is what stands on the screen at the end.

    Where all of it fits, or is read from a file, the glance part comes first. On a screen that is
    too low the details come first and scroll away, and the glance part stays.
    """
    scrolls = console.is_terminal and len(glance) + len(details) + 2 > console.height
    parts = (details, glance) if scrolls else (glance, details)
    console.print(*parts[0], Text(), *parts[1])


def print_view(console: Screen, view: View) -> None:
    """Show a view: what a glance needs first, then what it rests on.

    Under a verdict that nobody may build upon, the cause stands in the first line under it and
    what to do in the next; there is no large figure, and what is known all the same is in small
    print.
    """
    good = view.verdict.is_good
    worst = finding_lines(view.findings[:1])
    glance = [headline(view.about, view.right), *verdict_lines(view.verdict)]
    if good:
        glance += [Text(), *figure_lines(view.large), *view.picture, *worst]
    else:
        glance += [*worst, *view.picture]
    groups = (
        [
            *fact_lines(view.facts, style="" if good else "dim"),
            *(line for table in view.tables for line in _table_lines(table)),
            *(line for each in view.sources for line in _source_lines(each)),
            *(line for note in view.notes for line in note_lines(note)),
        ],
        view.more,
        finding_lines(view.findings[1:]),
        provenance_lines(view.document),
    )
    details = [line for group in groups if group for line in (*group, Text())][:-1]
    print_page(console, glance, details)


def fact_lines(facts: Sequence[Fact], style: str = "") -> Iterator[Text]:
    """Facts, a line each, their names in a column; more of one in dim lines below it."""
    width = min(max([NAME_CHARS, *(len(fact.name) for fact in facts)]), WIDTH_CHARS // 2)
    for fact in facts:
        first = f"{_INDENT}{neutral(fact.name, width):<{width}} "
        then = " " * len(first)
        yield from _wrapped(fact.text, first=first, then=then, style=style)
        for more in fact.more:
            yield from _wrapped(more, first=then, then=then, style="dim")


def _table_lines(table: Table) -> Iterator[Text]:
    """A table in columns as wide as what stands in them."""
    rows = [tuple(neutral(cell, WIDTH_CHARS) for cell in row) for row in (table.head, *table.rows)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for number, row in enumerate(rows):
        cells = "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
        yield Text(f"{_INDENT}{cells}"[: WIDTH_CHARS - 1].rstrip(), style="" if number else "dim")


def _source_lines(sources: Sources) -> Iterator[Text]:
    """The largest sources of an uncertainty; volts in millivolts."""
    scale, unit, digits = (1e3, "mV", 1) if sources.unit == "V" else (1.0, sources.unit, 3)
    for number, line in enumerate(sources.lines[:MOST_SOURCES]):
        word = "" if number else f"{sources.figure}'s u"
        text = f"{_INDENT}{word:<{NAME_CHARS}} {scale * line.u:6.{digits}f} {unit}  {line.source}"
        yield Text(text[: WIDTH_CHARS - 1], style="dim")


def _wrapped(text: str, *, first: str, then: str, style: str = "") -> list[Text]:
    rows = textwrap.wrap(
        neutral(text, _LONGEST_TEXT),
        width=WIDTH_CHARS - 1,
        initial_indent=first,
        subsequent_indent=then,
        break_on_hyphens=False,
    )
    return [Text(row, style) for row in rows or [first.rstrip()]]
