"""Large letters made of plain characters, to be read from two metres. The shapes are our own."""

from __future__ import annotations

from functools import cache

from calib.book import packaged

ROWS = 5

_FULL_WIDTH = 2  # a terminal cell is about twice as high as wide: two cells make a square

_HALVES = {("#", "#"): "█", ("#", " "): "▀", (" ", "#"): "▄", (" ", " "): " "}


@cache
def _shapes() -> dict[str, tuple[str, ...]]:
    """The rows of each letter, drawn in bands side by side: a row of names, five rows of dots."""
    shapes: dict[str, tuple[str, ...]] = {" ": ("..",) * ROWS}
    for band in packaged("letters.txt").split("\n\n"):
        names, *rows = (line.split() for line in band.splitlines())
        shapes.update(zip(names, zip(*rows, strict=True), strict=True))
    return shapes


def half_large(text: str, width: int) -> list[str]:
    """``text`` in letters of three rows, two dots a row: for what is second, or little room.

    Args:
        text: What to say; letters are shown as capitals.
        width: Columns that there are; where they do not do, the text comes back as one plain row.
    """
    dots = large(text, width, ink="#", most_stroke=1)
    if len(dots) == 1:
        return dots
    below = [*dots[1::2], " " * len(dots[0])]
    return [
        "".join(_HALVES[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(dots[::2], below, strict=True)
    ]


def large(text: str, width: int, *, ink: str = "█", most_stroke: int = _FULL_WIDTH) -> list[str]:
    """``text`` in five rows of plain characters; as wide as ``width`` columns at most.

    Letters are drawn two cells to a stroke, one where that is too wide; where even that is too
    wide the text comes back as one plain row, for no letter may be cut off.

    Args:
        text: What to say; letters are shown as capitals.
        width: Columns that there are.
        ink: The character that strokes are made of.
        most_stroke: Cells that a stroke may be wide.
    """
    shapes = [_shapes().get(char, _shapes()["?"]) for char in text.upper()]
    dots = [" ".join(shape[row] for shape in shapes) for row in range(ROWS)]
    for stroke in range(most_stroke, 0, -1):
        inks = {".": " " * stroke, "#": ink * stroke, " ": " "}
        rows = ["".join(inks[dot] for dot in row) for row in dots]
        if max(map(len, rows)) <= width:
            return rows
    return [text.upper()[:width]]
