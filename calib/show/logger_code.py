"""The page of ``calib logger-code``."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import finding_lines, headline, list_lines, note_lines
from calib.store.documents.printed import LoggerCodeDocument
from calib.store.text import neutral


def show_logger_code(document: LoggerCodeDocument, console: Screen) -> None:
    """What it is for, where it lies, what it sends, and what to do next."""
    baud = "over USB" if document.baud is None else f"at {document.baud} baud"
    checksum = ", each line with a checksum" if document.checksum else ""
    what = (
        "For a bare board of your own. It never touches a controller: it reads voltages and sends."
    )
    columns = ",".join(document.columns)
    following = "build, load and wire it as the note tells, then: calib setup"
    console.print(
        headline("source for a bare logger board"),
        Text(),
        *note_lines(what),
        Text(),
        *note_lines("Written:"),
        *(Text(f"    {neutral(file, 200)}", style="bold") for file in document.files),
        Text(),
        *note_lines(f"It sends {columns} {document.rate_hz} times a second {baud}{checksum}."),
        Text(),
        *finding_lines(document.findings),
        Text(),
        *list_lines("BEFORE YOU TOUCH THE MACHINE", document.cautions),
        Text(),
        Text(f" NEXT  {following}", style="bold"),
    )
