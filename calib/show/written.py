"""The page of ``calib report``: where the file lies."""

from __future__ import annotations

from calib.show.console import Screen
from calib.show.page import headline, note_lines, print_lines
from calib.store.documents.report import ReportDocument
from calib.store.text import counted


def show_report(document: ReportDocument, console: Screen) -> None:
    """Where the report was written, and how its sheet stands."""
    lines = [
        headline(f"report of {counted(document.records, 'record')}"),
        *note_lines(f"Written: {document.path}"),
        *note_lines(f"The sheet in it stands at {document.verdict.value.upper()}."),
    ]
    print_lines(console, lines)
