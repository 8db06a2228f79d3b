"""The machine from its left side, drawn with characters: two wheels on a floor line."""

from __future__ import annotations

import math
from typing import Final

from calib.show.console import Text

WIDTH: Final = 74
REAR_AT: Final = 16
FRONT_AT: Final = 56
ROWS_PER_DEG: Final = 1.6
MOST_ROWS: Final = 3.0
_WHEEL: Final = ("╭───╮", "│ · │", "╰───╯")
_LEVELS: Final = "▁▂▃▄▅▆▇█"

_Row = list[str]


def two_wheels(
    floor_deg: float | None, floor_words: str, bubble_words: str, *, block_rows: int = 0
) -> list[Text]:
    """Rows of at most 75 columns; the floor is drawn far steeper than it is.

    The front wheel is on the right. Where the floor's slope is not known, its line is broken.

    Args:
        floor_deg: Slope of the floor, front higher positive; None where it is not known.
        floor_words: What is written under the floor line.
        bubble_words: What is written above the machine.
        block_rows: Rows of plank under the front wheel; 0 for none.
    """
    rise = max(-MOST_ROWS, min(MOST_ROWS, ROWS_PER_DEG * (floor_deg or 0.0)))
    rear, front = max(-rise, 0.0), max(rise, 0.0)
    # From the foot upward: the floor, three rows of wheel, and one that stays free.
    grid = [[" "] * WIDTH for _ in range(5 + math.ceil(max(rear, front)) + block_rows)]
    _draw_floor(grid, rear, front, known=floor_deg is not None)
    for at, lift in ((REAR_AT, rear), (FRONT_AT, front + block_rows)):
        for offset, part in enumerate(reversed(_WHEEL)):
            _put(grid[-2 - round(lift) - offset], at - 2, part)
    for row in range(block_rows):
        _put(grid[-2 - round(front) - row], FRONT_AT - 4, "▓" * 9)
    _draw_frame(grid, rear, front + block_rows)
    names = [" "] * WIDTH
    _put(names, REAR_AT - 2, "rear")
    _put(names, FRONT_AT - 2, "front")
    drawn = [row for row in grid if "".join(row).strip()]
    rows = ["".join(row) for row in (bubble_words.center(WIDTH), *drawn, names)]
    return [Text(f" {row.rstrip()}") for row in (*rows, floor_words.center(WIDTH))]


def _draw_floor(grid: list[_Row], rear: float, front: float, *, known: bool) -> None:
    """The floor line, in eighths of a row."""
    slope = (front - rear) / (FRONT_AT - REAR_AT)
    for column in range(4, WIDTH - 4):
        if known or column % 4 <= 1:
            eighths = round(8 * (rear + slope * (column - REAR_AT)))
            row, part = divmod(max(0, eighths), 8)
            grid[-1 - row][column] = _LEVELS[part]


def _draw_frame(grid: list[_Row], rear: float, front: float) -> None:
    """The machine between the axles."""
    start, stop = REAR_AT + 4, FRONT_AT - 4
    for column in range(start, stop + 1):
        share = (column - start) / (stop - start)
        grid[-3 - round(rear + (front - rear) * share)][column] = "═"


def _put(row: _Row, at: int, text: str) -> None:
    """Put a text into a row."""
    row[at : at + len(text)] = text
