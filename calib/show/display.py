"""What only the display shows: shown, true, difference, and what explains it."""

from __future__ import annotations

from calib.guide.cautions import PACK
from calib.show.console import Screen
from calib.show.page import print_view
from calib.show.view import Table, View, known
from calib.store.documents.display import DisplayDocument

_NAMES = {"pack": "pack", "motor": "motor, cold"}


def show_display(document: DisplayDocument, console: Screen) -> None:
    """Verdict at a glance; then figure by figure."""
    print_view(console, display_view(document), document)


def display_view(document: DisplayDocument) -> View:
    """What is shown of a display."""
    rows = tuple(
        (
            f"{_NAMES[each.figure]}, {each.unit}",
            f"{each.shown:.2f}",
            f"{each.true:.2f} ({each.true_from})",
            f"{each.difference:+.2f}",
            f"{each.explained:.2f}",
            each.verdict.value.upper(),
        )
        for each in document.figures
    )
    brake = document.brake
    head = ("figure", "shown", "true", "difference", "explained", "verdict")
    return View(
        about="what only the display shows",
        right="controller's display",
        verdict=document.verdict,
        findings=document.findings,
        facts=known(
            ("brake, lever pulled", None if brake is None else brake.pulled),
            ("brake, lever free", None if brake is None else brake.free),
        ),
        tables=(Table(head, rows),) if rows else (),
        notes=PACK if any(each.figure == "pack" for each in document.figures) else (),
    )
