"""The machine from its left side, drawn with characters: two wheels on a floor line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

WIDTH: Final = 74
REAR_AT: Final = 16
FRONT_AT: Final = 56
ROWS_PER_DEG: Final = 1.6
MOST_ROWS: Final = 3.0
_WHEEL: Final = ("╭───╮", "│ · │", "╰───╯")
_LEVELS: Final = "▁▂▃▄▅▆▇█"


@dataclass(frozen=True, slots=True)
class SideView:
    """What is drawn.

    Attributes:
        floor_deg: Slope of the floor, front higher positive; None where it is not known.
        block_rows: Rows of plank under the front wheel; 0 for none.
        floor_words: What is written under the floor line.
        bubble_words: What is written above the machine.
    """

    floor_deg: float | None
    floor_words: str
    bubble_words: str
    block_rows: int = 0


def two_wheels(view: SideView) -> list[str]:
    """Rows of at most 74 columns; the floor is drawn far steeper than it is.

    The front wheel is on the right. Where the floor's slope is not known, its line is broken.
    """
    rise = max(-MOST_ROWS, min(MOST_ROWS, ROWS_PER_DEG * (view.floor_deg or 0.0)))
    rear, front = (0.0, rise) if rise >= 0 else (-rise, 0.0)
    height = 5 + int(max(rear, front) + 0.999) + view.block_rows
    grid = [[" "] * WIDTH for _ in range(height)]
    _draw_floor(grid, rear, front, known=view.floor_deg is not None)
    for at, lift in ((REAR_AT, rear), (FRONT_AT, front + view.block_rows)):
        _draw_wheel(grid, at, lift)
    _draw_block(grid, front, view.block_rows)
    _draw_frame(grid, rear, front + view.block_rows)
    rows = ["".join(row).rstrip() for row in grid]
    while rows and not rows[0]:
        rows.pop(0)
    names = [" "] * WIDTH
    _write(names, REAR_AT - 2, "rear")
    _write(names, FRONT_AT - 2, "front")
    return [
        view.bubble_words.center(WIDTH).rstrip(),
        *rows,
        "".join(names).rstrip(),
        view.floor_words.center(WIDTH).rstrip(),
    ]


def _draw_floor(grid: list[list[str]], rear: float, front: float, *, known: bool) -> None:
    """The floor line, in eighths of a row."""
    slope = (front - rear) / (FRONT_AT - REAR_AT)
    for column in range(4, WIDTH - 4):
        if not known and column % 4 > 1:
            continue
        eighths = round(8 * (rear + slope * (column - REAR_AT)))
        row, part = divmod(max(0, eighths), 8)
        line = len(grid) - 1 - row
        if 0 <= line < len(grid):
            grid[line][column] = _LEVELS[part]


def _draw_wheel(grid: list[list[str]], at: int, lift: float) -> None:
    """A wheel whose foot stands so many rows above the lowest."""
    foot = len(grid) - 2 - round(lift)
    for offset, text in enumerate(reversed(_WHEEL)):
        if 0 <= foot - offset < len(grid):
            _write(grid[foot - offset], at - 2, text)


def _draw_block(grid: list[list[str]], front: float, rows: int) -> None:
    """The plank under the front wheel."""
    for row in range(rows):
        line = len(grid) - 2 - round(front) - row
        _write(grid[line], FRONT_AT - 4, "▓" * 9)


def _draw_frame(grid: list[list[str]], rear: float, front: float) -> None:
    """The machine between the axles."""
    start, stop = REAR_AT + 4, FRONT_AT - 4
    for column in range(start, stop + 1):
        share = (column - start) / (stop - start)
        lift = rear + (front - rear) * share
        line = len(grid) - 3 - round(lift)
        if 0 <= line < len(grid):
            grid[line][column] = "═"


def _write(row: list[str], at: int, text: str) -> None:
    """Put a text into a row, as far as it fits."""
    for offset, char in enumerate(text):
        if 0 <= at + offset < len(row):
            row[at + offset] = char
