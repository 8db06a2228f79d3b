"""The page of ``calib logger-code``."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import (
    caution_lines,
    finding_lines,
    headline,
    note_lines,
    print_lines,
)
from calib.store.documents.logger_code import LoggerCodeDocument
from calib.store.text import neutral


def show_logger_code(document: LoggerCodeDocument, console: Screen) -> None:
    """What it is for, where it lies, what it sends, and what to do next."""
    baud = "over USB" if document.baud is None else f"at {document.baud} baud"
    checksum = ", each line with a checksum" if document.checksum else ""
    files = [Text(f"    {neutral(file, 200)}", style="bold") for file in document.files]
    lines = [
        headline("source for a bare logger board"),
        Text(),
        *note_lines("For a bare board of your own. It never touches a controller: it reads"
                    " voltages and sends."),
        Text(),
        *note_lines("Written:"),
        *files,
        Text(),
        *note_lines(f"It sends {','.join(document.columns)} {document.rate_hz} times a second "
                    f"{baud}{checksum}."),
        Text(),
        *finding_lines(document.findings),
        Text(),
        *caution_lines(document.cautions),
        Text(),
        Text(" NEXT  build, load and wire it as the note tells, then: calib setup", style="bold"),
    ]  # fmt: skip
    print_lines(console, lines)
