"""Large letters made of plain characters, to be read from two metres. The shapes are our own."""

from __future__ import annotations

ROWS = 5

_SHAPES: dict[str, str] = {
    " ": "..|..|..|..|..",
    "A": "###|#.#|###|#.#|#.#",
    "B": "##.|#.#|##.|#.#|##.",
    "C": "###|#..|#..|#..|###",
    "D": "##.|#.#|#.#|#.#|##.",
    "E": "###|#..|##.|#..|###",
    "F": "###|#..|##.|#..|#..",
    "G": "###|#..|#.#|#.#|###",
    "H": "#.#|#.#|###|#.#|#.#",
    "I": "#|#|#|#|#",
    "J": "..#|..#|..#|#.#|###",
    "K": "#.#|#.#|##.|#.#|#.#",
    "L": "#..|#..|#..|#..|###",
    "M": "#...#|##.##|#.#.#|#...#|#...#",
    "N": "#..#|##.#|#.##|#..#|#..#",
    "O": "###|#.#|#.#|#.#|###",
    "P": "###|#.#|###|#..|#..",
    "Q": "###|#.#|#.#|###|..#",
    "R": "###|#.#|##.|#.#|#.#",
    "S": "###|#..|###|..#|###",
    "T": "###|.#.|.#.|.#.|.#.",
    "U": "#.#|#.#|#.#|#.#|###",
    "V": "#.#|#.#|#.#|#.#|.#.",
    "W": "#...#|#...#|#.#.#|##.##|#...#",
    "X": "#.#|#.#|.#.|#.#|#.#",
    "Y": "#.#|#.#|.#.|.#.|.#.",
    "Z": "###|..#|.#.|#..|###",
    "0": "###|#.#|#.#|#.#|###",
    "1": ".#|##|.#|.#|.#",
    "2": "###|..#|###|#..|###",
    "3": "###|..#|.##|..#|###",
    "4": "#.#|#.#|###|..#|..#",
    "5": "###|#..|###|..#|###",
    "6": "###|#..|###|#.#|###",
    "7": "###|..#|..#|..#|..#",
    "8": "###|#.#|###|#.#|###",
    "9": "###|#.#|###|..#|###",
    ".": ".|.|.|.|#",
    ",": ".|.|.|#|#",
    ":": ".|#|.|#|.",
    "-": "..|..|##|..|..",
    "+": "...|.#.|###|.#.|...",
    "±": ".#.|###|.#.|...|###",
    "/": "..#|..#|.#.|#..|#..",
    "%": "#.#|..#|.#.|#..|#.#",
    "°": "##|##|..|..|..",
    "?": "###|..#|.##|...|.#.",
    "!": "#|#|#|.|#",
}

_FULL_WIDTH = 2  # a terminal cell is about twice as high as wide: two cells make a square


_HALVES = {(True, True): "█", (True, False): "▀", (False, True): "▄", (False, False): " "}


def half_large(text: str, width: int) -> list[str]:
    """``text`` in letters of three rows, two dots a row: for what is second, or little room.

    Args:
        text: What to say; letters are shown as capitals.
        width: Columns that there are; where they do not do, the text comes back as one plain row.
    """
    dots = large(text, width, ink="#", most_stroke=1)
    if len(dots) == 1:
        return dots
    dots.append(" " * len(dots[0]))
    return [
        "".join(
            _HALVES[upper == "#", lower == "#"] for upper, lower in zip(top, below, strict=True)
        )
        for top, below in zip(dots[::2], dots[1::2], strict=True)
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
    shapes = [_SHAPES.get(char, _SHAPES["?"]).split("|") for char in text.upper()]
    for stroke in range(most_stroke, 0, -1):
        rows = [
            " ".join(
                "".join((ink if dot == "#" else " ") * stroke for dot in shape[row])
                for shape in shapes
            )
            for row in range(ROWS)
        ]
        if max(len(row) for row in rows) <= width:
            return rows
    return [text.upper()[:width]]
