"""The page of ``calib trust``: trusted or not, and each piece of evidence with what to do."""

from __future__ import annotations

import textwrap

from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.page import (
    STYLES,
    headline,
    large_lines,
    note_lines,
    print_page,
)
from calib.store.documents.finding import Severity
from calib.store.documents.trust import Evidence, TrustDocument
from calib.store.text import neutral

LONGEST_TEXT = 400


def show_trust(document: TrustDocument, console: Screen) -> None:
    """The word and the first thing to do at a glance; then every piece of evidence."""
    open_items = [item for item in document.evidence if item.verdict is not Severity.PASS]
    count = f"{len(document.evidence) - len(open_items)} of {len(document.evidence)} proven"
    glance = [
        headline("may a tilt-based aid be trusted?", count),
        *large_lines("trusted" if document.trusted else "not trusted"),
        *note_lines(document.statement),
        Text(),
        *(_item_lines(max(open_items, key=lambda item: item.verdict.rank)) if open_items else []),
    ]
    details = [line for item in document.evidence for line in _item_lines(item)]
    print_page(console, glance, details)


def _item_lines(item: Evidence) -> list[Text]:
    """One piece of evidence: verdict word, name, age, statement, what to do."""
    word = item.verdict.value.upper()
    head = Text(f"  {word:<8} {item.name}{_age(item.age_h)}", no_wrap=True)
    head.stylize(STYLES[item.verdict], 2, 2 + len(word))
    lines = [head, *_indented(item.text, "")]
    return [*lines, *_indented(item.action, "-> ")] if item.action else lines


def _age(age_h: float | None) -> str:
    """The age in words."""
    if age_h is None:
        return ""
    if age_h < 1:
        return f", {max(0.0, 60 * age_h):.0f} min old"
    return f", {age_h:.0f} h old" if age_h < 48 else f", {age_h / 24:.0f} days old"


def _indented(text: str, mark: str) -> list[Text]:
    rows = textwrap.wrap(
        neutral(text, LONGEST_TEXT),
        width=WIDTH_CHARS - 1,
        initial_indent=" " * 11 + mark,
        subsequent_indent=" " * (11 + len(mark)),
        break_on_hyphens=False,
    )
    return [Text(row, no_wrap=True) for row in rows]
