"""The page of ``calib record``."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import detail_lines, headline, print_page, verdict_lines, worst_lines
from calib.store.documents.record import RecordDocument
from calib.store.text import neutral


def show_record(document: RecordDocument, console: Screen) -> None:
    """What was captured: range of each channel, findings, where it lies."""
    ranges = [
        Text(
            f"  {neutral(name, 16):<16} {seen.low:9.3f} to {seen.high:9.3f}   "
            f"median {seen.median:9.3f} {seen.unit}"
        )
        for name, seen in document.channels.items()
    ]
    glance = [
        headline("captured"),
        *verdict_lines(document.verdict),
        Text(),
        *ranges,
        *worst_lines(document),
    ]
    print_page(console, glance, detail_lines(document))
