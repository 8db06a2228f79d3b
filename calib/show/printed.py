"""The pages of what is printed and never kept: how far the work is, and source for a board."""

from __future__ import annotations

from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.page import finding_lines, headline, list_lines, note_lines
from calib.store.documents.printed import LoggerCodeDocument, StatusDocument, StatusStep
from calib.store.text import neutral

NAME_CHARS = 35


def show_status(document: StatusDocument, console: Screen) -> None:
    """Step by step in the order of work; the next command last, where the eye is."""
    steps = [line for step in document.steps for line in _step_lines(step)]
    left = [line for command in document.left_over for line in note_lines(command)]
    if left:
        left = [Text(), Text(" BROKEN OFF, can be judged as it is", style="bold"), *left]
    following = Text(f" NEXT  {document.next or 'nothing is open'}", style="bold")
    head = headline(document.rig or "no rig file yet")
    console.print(head, Text(), *steps, *left, Text(), following)


def _step_lines(step: StatusStep) -> list[Text]:
    is_open = step.state not in ("done", "left out")
    word = step.state.upper() if is_open else step.state
    style = "bold" if is_open else ""
    head = f"  {word:<8} {neutral(step.name, NAME_CHARS):<{NAME_CHARS}}"
    if len(head) + 1 + len(step.text) < WIDTH_CHARS:
        return [Text(f"{head} {step.text}", style)]
    return [Text(head.rstrip(), style), *note_lines(step.text, indent=11)]


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
