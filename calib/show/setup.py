"""The page of ``calib setup``."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import (
    finding_lines,
    headline,
    note_lines,
    print_page,
    provenance_lines,
    verdict_lines,
)
from calib.store.documents.setup import ColumnSeen, Origin, Setting, SetupDocument
from calib.store.text import neutral


def show_setup(document: SetupDocument, console: Screen, *, then: str) -> None:
    """What was found and written, what was assumed, and the next command.

    Args:
        document: What was found.
        console: Where it goes.
        then: The command after a first look at the columns.
    """
    what = "rig file made" if document.created else "rig file"
    findings = document.findings
    glance = [
        headline(f"{what}: {document.rig}", document.port or "from a file"),
        Text(),
        *verdict_lines(document.verdict),
        *finding_lines(findings[:1]),
        Text(),
        *_changes(document),
        Text(),
        Text(f" NEXT  {_next(document, then)}", style="bold", no_wrap=True),
    ]
    details = [
        *_settings(document),
        Text(),
        *_columns(document),
        Text(),
        *finding_lines(findings[1:]),
        *provenance_lines(document),
    ]
    print_page(console, glance, details)


def _changes(document: SetupDocument) -> list[Text]:
    """How much was written."""
    changed = [each for each in document.settings if each.changed]
    if not changed:
        return note_lines("Nothing had to be changed.")
    if document.created:
        return note_lines(f"{len(changed)} values were written, each with where it comes from.")
    names = ", ".join(f"{each.table}.{each.key}" for each in changed)
    return note_lines(f"Changed: {names}. The rest stands as it was.")


def _settings(document: SetupDocument) -> list[Text]:
    """Every value with its origin, table by table."""
    lines: list[Text] = []
    table = ""
    for each in document.settings:
        if each.table != table:
            table = each.table
            lines.append(Text(f"  [{neutral(table)}]", style="bold", no_wrap=True))
        lines.extend(_setting(each))
    return lines


def _setting(each: Setting) -> list[Text]:
    value = neutral(str(each.value), 30)
    origin = each.origin.value.upper() if each.origin is Origin.ASSUMED else each.origin.value
    why = f": {each.why}" if each.why else ""
    return note_lines(f"{each.key} = {value}  ({origin}{why})", indent=6)


def _columns(document: SetupDocument) -> list[Text]:
    """What the logger sends, column by column."""
    head = Text("  columns that the logger sends", style="bold")
    return [head, *(row for column in document.columns for row in _column(column))]


def _column(column: ColumnSeen) -> list[Text]:
    name = "" if column.name is None else f" {column.name}"
    use = column.use or "not known"
    seen = f"{column.low:.6g} to {column.high:.6g}"
    return note_lines(f"{column.number}{name}: {neutral(use)}, {seen}", indent=6)


def _next(document: SetupDocument, then: str) -> str:
    """The command that comes next."""
    if document.verdict.is_good:
        return f"calib watch, then {then}"
    return "mend what is said above, then calib setup again"
