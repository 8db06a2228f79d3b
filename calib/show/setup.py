"""The page of ``calib setup``."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, groupby

from calib.show.console import Screen, Text
from calib.show.page import (
    finding_lines,
    headline,
    note_lines,
    print_page,
    provenance_lines,
    verdict_lines,
)
from calib.store.documents.printed import ColumnSeen, Origin, Setting, SetupDocument
from calib.store.text import neutral


def show_setup(document: SetupDocument, console: Screen, *, then: str) -> None:
    """What was found and written, what was assumed, and the next command.

    Args:
        document: What was found.
        console: Where it goes.
        then: The command after a first look at the columns.
    """
    what = "rig file made" if document.created else "rig file"
    mend = "mend what is said above, then calib setup again"
    following = f"calib watch, then {then}" if document.verdict.is_good else mend
    glance = [
        headline(f"{what}: {document.rig}", document.port or "from a file"),
        Text(),
        *verdict_lines(document.verdict),
        *finding_lines(document.findings[:1]),
        Text(),
        *note_lines(_changes(document)),
        Text(),
        Text(f" NEXT  {following}", style="bold"),
    ]
    details = [
        *_settings(document),
        Text(),
        Text("  columns that the logger sends", style="bold"),
        *(row for column in document.columns for row in _column(column)),
        Text(),
        *finding_lines(document.findings[1:]),
        *provenance_lines(document),
    ]
    print_page(console, glance, details)


def _changes(document: SetupDocument) -> str:
    """How much was written."""
    changed = [each for each in document.settings if each.changed]
    if not changed:
        return "Nothing had to be changed."
    if document.created:
        return f"{len(changed)} values were written, each with where it comes from."
    names = ", ".join(f"{each.table}.{each.key}" for each in changed)
    return f"Changed: {names}. The rest stands as it was."


def _settings(document: SetupDocument) -> Iterator[Text]:
    """Every value with its origin, table by table."""
    for table, settings in groupby(document.settings, lambda each: each.table):
        yield Text(f"  [{neutral(table)}]", style="bold")
        yield from chain.from_iterable(map(_setting, settings))


def _setting(each: Setting) -> list[Text]:
    value = neutral(str(each.value), 30)
    origin = each.origin.value.upper() if each.origin is Origin.ASSUMED else each.origin.value
    why = f": {each.why}" if each.why else ""
    return note_lines(f"{each.key} = {value}  ({origin}{why})", indent=6)


def _column(column: ColumnSeen) -> list[Text]:
    name = "" if column.name is None else f" {column.name}"
    use = neutral(column.use or "not known")
    seen = f"{column.low:.6g} to {column.high:.6g}"
    return note_lines(f"{column.number}{name}: {use}, {seen}", indent=6)
