"""The parts that every terminal page is made of: read at a glance from two metres, in 80 columns.

From top to bottom a page says: what it is about, the verdict word, the two or three figures, the
worst finding with its one next action, then the rest. Meaning never rests on colour alone.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.glyphs import large
from calib.store.documents.finding import Document, Finding, Severity
from calib.store.text import neutral

STYLES: dict[Severity, str] = {
    Severity.PASS: "bold green",
    Severity.CAUTION: "bold yellow",
    Severity.UNKNOWN: "bold magenta",
    Severity.FAIL: "bold red",
}

_LONGEST_TEXT = 600  # own choice: longer than any sentence of ours, shorter than a flood
_INDENT = "  "


@dataclass(frozen=True, slots=True)
class Figure:
    """One large figure: what it is, the number as text, its unit."""

    label: str
    number: str
    unit: str


def headline(left: str, right: str = "") -> Text:
    """The first line: what the page is about, and whose figures or when on the right."""
    right = neutral(right, WIDTH_CHARS // 2)
    left = neutral(left, WIDTH_CHARS - len(right) - 5)
    gap = WIDTH_CHARS - len(left) - len(right) - 2
    return Text(f" {left}{' ' * gap}{right}", style="bold", no_wrap=True)


def verdict_lines(verdict: Severity) -> list[Text]:
    """The verdict word in large letters; every word as loud as every other."""
    return _large_lines(verdict.value, STYLES[verdict])


def large_lines(text: str) -> list[Text]:
    """A few words or a count in large letters, to be read from two metres."""
    return _large_lines(text, "bold")


def figure_lines(figures: Sequence[Figure]) -> list[Text]:
    """Figures side by side in large digits, each under its label."""
    if not figures:
        return []
    width = WIDTH_CHARS // len(figures) - 1
    blocks = [large(_with_unit(figure), width - 2) for figure in figures]
    labels = [neutral(figure.label, width - 2) for figure in figures]
    lines = [Text("".join(f" {label:<{width}}" for label in labels), style="bold", no_wrap=True)]
    for row in range(max(len(block) for block in blocks)):
        cells = [block[row] if row < len(block) else "" for block in blocks]
        line = "".join(f" {cell:<{width}}" for cell in cells)
        lines.append(Text(line, style="bold", no_wrap=True))
    return lines


def _with_unit(figure: Figure) -> str:
    return f"{figure.number}°" if figure.unit == "deg" else f"{figure.number} {figure.unit}"


def finding_lines(findings: Iterable[Finding]) -> list[Text]:
    """Findings in their order: the severity in words, the statement, and what to do."""
    lines: list[Text] = []
    for finding in findings:
        word = finding.severity.value.upper()
        rows = _wrapped(finding.text, first=f"{_INDENT}{word:<8} ", then=" " * 11)
        head = Text(rows[0], no_wrap=True)
        head.stylize(STYLES[finding.severity], len(_INDENT), len(_INDENT) + len(word))
        lines.append(head)
        lines.extend(Text(row, no_wrap=True) for row in rows[1:])
        if finding.action:
            lines.extend(_plain(finding.action, first=" " * 11 + "-> ", then=" " * 14))
    return lines


def caution_lines(
    cautions: Iterable[str], heading: str = "BEFORE YOU TOUCH THE MACHINE"
) -> list[Text]:
    """Cautions under their heading; none where there are none."""
    rows = [row for text in cautions for row in bullet_lines(text)]
    return [Text(f" {heading}", style="bold"), *rows] if rows else []


def bullet_lines(text: str) -> list[Text]:
    """One point of a list, wrapped."""
    return _plain(text, first="  - ", then="    ")


def note_lines(text: str, indent: int = 2) -> list[Text]:
    """A plain sentence, wrapped and indented by ``indent`` columns."""
    return _plain(text, first=" " * indent, then=" " * indent)


def provenance_lines(document: Document) -> list[Text]:
    """Where the figures came from; none where there is no capture."""
    capture = document.capture
    if capture is None:
        return []
    rate = "" if capture.rate_hz is None else f" at {capture.rate_hz:.4g} Hz"
    lines = _plain(f"from {capture.path}", first=_INDENT, then=_INDENT)
    counts = (
        f"  {capture.samples} samples{rate}, {capture.rejected_lines} rejected lines, "
        f"{capture.gaps} gaps, sha256 {capture.sha256[:12]}…"
    )
    return [*lines, Text(counts, no_wrap=True)]


def print_lines(console: Screen, lines: Iterable[Text]) -> None:
    """Put lines on a console."""
    for line in lines:
        console.print(line)


def print_page(console: Screen, glance: Sequence[Text], details: Sequence[Text]) -> None:
    """Show a page so that its glance part is what stands on the screen at the end.

    Where all of it fits, or is read from a file, the glance part comes first. On a screen that is
    too low the details come first and scroll away, and the glance part stays.
    """
    scrolls = console.is_terminal and len(glance) + len(details) + 2 > console.height
    parts = (details, glance) if scrolls else (glance, details)
    print_lines(console, [*parts[0], Text(), *parts[1]])


def worst_lines(document: Document) -> list[Text]:
    """The worst finding with its one next action; none where nothing was found."""
    return finding_lines(document.findings[:1])


def detail_lines(document: Document) -> list[Text]:
    """What every page has below its glance part: the other findings, cautions, provenance."""
    parts = (
        finding_lines(document.findings[1:]),
        provenance_lines(document),
        caution_lines(document.cautions),
    )
    return [line for part in parts if part for line in (*part, Text())]


def print_findings(console: Screen, findings: Iterable[Finding]) -> None:
    """Findings in their order, each with what to do."""
    print_lines(console, finding_lines(findings))


def print_cautions(console: Screen, cautions: Iterable[str]) -> None:
    """The usual cautions, at the foot of the page."""
    lines = caution_lines(cautions)
    print_lines(console, [Text(), *lines] if lines else [])


def _large_lines(text: str, style: str) -> list[Text]:
    return [Text(f" {row}", style=style, no_wrap=True) for row in large(text, WIDTH_CHARS - 2)]


def _plain(text: str, *, first: str, then: str) -> list[Text]:
    return [Text(row, no_wrap=True) for row in _wrapped(text, first=first, then=then)]


def _wrapped(text: str, *, first: str, then: str) -> list[str]:
    return textwrap.wrap(
        neutral(text, _LONGEST_TEXT),
        width=WIDTH_CHARS - 1,
        initial_indent=first,
        subsequent_indent=then,
        break_on_hyphens=False,
    ) or [first.rstrip()]
