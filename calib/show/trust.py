"""The gate: trusted or not, and each piece of evidence with what to do."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import action_lines, headline, large_lines, note_lines, print_page, word_line
from calib.show.view import Table, View
from calib.store.documents.finding import Severity
from calib.store.documents.tilt import Evidence, TrustDocument


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
    print_page(console, glance, [line for item in document.evidence for line in _item_lines(item)])


def _item_lines(item: Evidence) -> list[Text]:
    """One piece of evidence: verdict word, name, age, statement, what to do."""
    head = word_line(item.verdict, f"{item.name}{_age(item.age_h)}")
    return [head, *note_lines(item.text, indent=11), *action_lines(item.action)]


def _age(age_h: float | None) -> str:
    """The age in words."""
    if age_h is None:
        return ""
    if age_h < 1:
        return f", {max(0.0, 60 * age_h):.0f} min old"
    return f", {age_h:.0f} h old" if age_h < 48 else f", {age_h / 24:.0f} days old"


def trust_view(document: TrustDocument) -> View:
    """What is shown of the gate: every piece of evidence, in the order in which it is made."""
    rows = tuple(
        (
            each.name,
            each.verdict.value.upper(),
            "" if each.age_h is None else f"{each.age_h:.0f} h",
            f"{each.text} {each.action}".strip(),
        )
        for each in document.evidence
    )
    return View(
        document,
        about="trust in a tilt-based aid",
        title="May the tilt-based aid be trusted?",
        tables=(Table(("evidence", "verdict", "age", "what is known, what to do"), rows),),
        notes=(document.statement,),
    )
