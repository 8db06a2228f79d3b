"""The page of ``calib`` alone: what is done, missing or stale, and the next command."""

from __future__ import annotations

from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.page import headline, note_lines, print_lines
from calib.store.documents.status import StatusDocument, StatusStep
from calib.store.text import neutral

NAME_CHARS = 35


def show_status(document: StatusDocument, console: Screen) -> None:
    """Step by step in the order of work; the next command last, where the eye is."""
    lines = [headline(document.rig or "no rig file yet"), Text()]
    for step in document.steps:
        lines.extend(_step_lines(step))
    if document.left_over:
        lines.extend([Text(), Text(" BROKEN OFF, can be judged as it is", style="bold")])
        lines.extend(line for command in document.left_over for line in note_lines(command))
    print_lines(console, [*lines, Text()])
    console.print(Text(f" NEXT  {document.next or 'nothing is open'}", style="bold"))


def _step_lines(step: StatusStep) -> list[Text]:
    is_open = step.state not in ("done", "left out")
    word = step.state.upper() if is_open else step.state
    name = neutral(step.name, NAME_CHARS)
    head = f"  {word:<8} {name:<{NAME_CHARS}} {step.text}"
    if len(head) < WIDTH_CHARS:
        return [Text(head, style="bold" if is_open else "")]
    return [
        Text(f"  {word:<8} {name}", style="bold" if is_open else ""),
        *note_lines(step.text, indent=11),
    ]
