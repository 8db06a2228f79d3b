"""The page of ``calib`` alone: what is done, missing or stale, and the next command."""

from __future__ import annotations

from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.page import headline, note_lines
from calib.store.documents.printed import StatusDocument, StatusStep
from calib.store.text import neutral

NAME_CHARS = 35


def show_status(document: StatusDocument, console: Screen) -> None:
    """Step by step in the order of work; the next command last, where the eye is."""
    lines = [headline(document.rig or "no rig file yet"), Text()]
    for step in document.steps:
        lines += _step_lines(step)
    if document.left_over:
        lines += [Text(), Text(" BROKEN OFF, can be judged as it is", style="bold")]
        lines += [line for command in document.left_over for line in note_lines(command)]
    following = Text(f" NEXT  {document.next or 'nothing is open'}", style="bold")
    console.print(*lines, Text(), following)


def _step_lines(step: StatusStep) -> list[Text]:
    is_open = step.state not in ("done", "left out")
    word = step.state.upper() if is_open else step.state
    style = "bold" if is_open else ""
    head = f"  {word:<8} {neutral(step.name, NAME_CHARS):<{NAME_CHARS}}"
    if len(head) + 1 + len(step.text) < WIDTH_CHARS:
        return [Text(f"{head} {step.text}", style)]
    return [Text(head.rstrip(), style), *note_lines(step.text, indent=11)]
