"""The page of ``calib record``."""

from __future__ import annotations

from calib.show.console import Screen
from calib.show.page import print_view
from calib.show.view import Table, View
from calib.store.documents.record import RecordDocument


def show_record(document: RecordDocument, console: Screen) -> None:
    """What was captured: range of each channel, findings, where it lies."""
    rows = tuple(
        (name, f"{seen.low:.3f}", f"{seen.high:.3f}", f"{seen.median:.3f}", seen.unit)
        for name, seen in document.channels.items()
    )
    view = View(
        about="captured",
        right="",
        verdict=document.verdict,
        findings=document.findings,
        tables=(Table(("channel", "lowest", "highest", "median", "unit"), rows),) if rows else (),
    )
    print_view(console, view, document)
