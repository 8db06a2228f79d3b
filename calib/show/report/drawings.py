"""Drawings of our own: the travel ruler, the uncertainty budget, two wheels on a floor line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from calib.show.report.markup import Markup, framed, tag, words
from calib.show.ruler import BROKEN_WIRE, HAND_OFF, STOP, WORKED, Ruler
from calib.store.documents.finding import BudgetLine

WIDTH = 520.0
"""Own choice: with letters of 12 units it can still be read on a telephone, 390 dots across."""
LETTERS = 12.0
_LINE = 15.0
BAR = 16.0
MOST_ROWS = 6
"""Own choice: more labels than zones, settings and levels can make one above the other."""
_ZONE_CLASS = {
    **{BROKEN_WIRE: "z-broken", HAND_OFF: "z-off", STOP: "z-stop"},
    **dict.fromkeys(WORKED, "z-worked"),
}
_CHAR = 6.2  # about the width of a character of 12 units in a plain sans-serif face

Point = tuple[float, float]


def ruler_drawing(ruler: Ruler, name: str, levels: Sequence[tuple[float, str]] = ()) -> Markup:
    """The travel as a ruler in volts: zones in words, settings beneath, measured levels too.

    Args:
        ruler: Scale and zones of a control that has settings: its first two marks.
        name: The drawing's name.
        levels: Measured volts and their words.
    """
    above, below = _Rows(), _Rows()
    spans = [(zone.word, _x(ruler, zone.low_V), _x(ruler, zone.high_V)) for zone in ruler.zones]
    for word, left, right in spans:
        above.place((left + right) / 2, word)
    settings, others = ruler.marks_V[:2], ruler.marks_V[2:]
    middle = sum(settings) / len(settings)
    for volts in settings:  # towards each other, so that what was measured has room outside
        below.place(_x(ruler, volts), f"{volts:.2f} V", lean=1 if volts < middle else -1)
    marks = [(volts, f"{volts:.2f} V") for volts in others]
    marks += [(volts, f"{word} {volts:.3f} V") for volts, word in levels]
    for volts, said in marks:
        below.place(_x(ruler, volts), said, lean=-1 if volts < middle else 1)
    for volts in (0.0, ruler.high_V):
        below.place(_x(ruler, volts), f"{volts:.0f} V")
    bar_top = above.depth + 4
    bar_foot = bar_top + BAR
    parts = []
    for word, left, right in spans:
        inks, high, width = _ZONE_CLASS[word], f"{BAR:.0f}", max(right - left, 1)
        parts.append(tag("rect", inks, x=left, y=bar_top, height=high, width=width))
    for label in above.labels:
        y = bar_top - 6 - label.row * _LINE
        parts.append(_line((label.x, y + 3), (label.x, bar_top), "s-soft"))
        parts.append(words(label.left, y, label.words, LETTERS, "start"))
    parts.append(_line((0.5, bar_foot), (WIDTH - 0.5, bar_foot), "s-ink"))
    for label in below.labels:
        y = bar_foot + 1.2 * _LINE + label.row * _LINE
        parts.append(_line((label.x, bar_foot), (label.x, y - 10), "s-ink"))
        parts.append(words(label.left, y, label.words, LETTERS, "start"))
    said = "; ".join(f"{z.word} {z.low_V:.2f} to {z.high_V:.2f} V" for z in ruler.zones)
    height = bar_foot + 1.2 * _LINE + below.depth
    return framed("".join(parts), name, "Travel in volts", said, WIDTH, height)


def budget_drawing(lines: Sequence[BudgetLine], unit: str, name: str) -> Markup:
    """Standard uncertainties by source as bars, largest first, with the figure beside each."""
    ordered = sorted(lines, key=lambda line: -line.u)
    top = max((line.u for line in ordered), default=0.0) or 1.0
    label_width, figure_width, row = 262.0, 118.0, 18.0
    parts = []
    for number, line in enumerate(ordered):
        y = number * row + 14
        length = (WIDTH - label_width - figure_width) * line.u / top
        figure = f"{line.u:.2g}{unit if unit == '°' else f' {unit}'} (type {line.type})"
        parts += [
            words(label_width - 8, y, line.source[:48], LETTERS, "end"),
            tag("rect", "f-main", x=label_width, y=y - 10, width=max(length, 0.5), height="12"),
            words(label_width + length + 6, y, figure, LETTERS, "start"),
        ]
    said = "; ".join(f"{line.source} {line.u:.2g} {unit}" for line in ordered)
    height = row * max(len(ordered), 1)
    return framed("".join(parts), name, "Uncertainty budget", said, WIDTH, height)


def wheels_drawing(name: str, floor_deg: float | None, shown_deg: float, said: str) -> Markup:
    """Two wheels on a floor line, from the left side, front to the right.

    Slopes are drawn five times as steep as they are, so that a degree can be seen.

    Args:
        name: The drawing's name.
        floor_deg: Slope of the floor, front higher positive; None where it is not known.
        shown_deg: The sensor's reading on it.
        said: What it says, for the screen reader.
    """
    steeper, wheelbase, radius, middle, level = 5.0, 270.0, 40.0, WIDTH / 2, 125.0
    slope = math.radians(max(min((floor_deg or 0.0) * steeper, 25.0), -25.0))
    half = wheelbase / 2

    def along(share: float, up: float) -> Point:
        x = middle + share * math.cos(slope) - up * math.sin(slope)
        return x, level - share * math.sin(slope) - up * math.cos(slope)

    rear, front, rim = along(-half, radius), along(half, radius), f"{radius - 3:.0f}"
    floor = "floor: not known" if floor_deg is None else f"floor {floor_deg:+.2f}°"
    parts = [
        _line((2, level), (WIDTH - 2, level), "s-soft dashed"),
        words(4, level - 5, "level", LETTERS, "start"),
        _line(along(-half - 70, 0), along(half + 70, 0), "s-ink heavy"),
        *(tag("circle", "s-ink heavy f-none", cx=x, cy=y, r=rim) for x, y in (rear, front)),
        _line(rear, front, "s-main heavy"),
        *(_centred(x, y - radius - 6, word) for (x, y), word in ((rear, "rear"), (front, "front"))),
        _centred(*along(0, radius + 16), f"sensor reads {shown_deg:+.2f}°"),
        _centred(*along(0, -22), floor),
    ]
    return framed("".join(parts), name, "Machine on the floor, from its left", said, WIDTH, 178)


@dataclass(frozen=True, slots=True)
class _Label:
    """Words at a place: the row away from the bar, the stem's x, the words' ends."""

    row: int
    x: float
    left: float
    right: float
    words: str


class _Rows:
    """Finds for each label a row, from the bar outward, in which nothing runs into another.

    Neither do words touch words, nor does the stem of one cross the words of another.
    """

    def __init__(self) -> None:
        self.labels: list[_Label] = []

    @property
    def depth(self) -> float:
        """How far the rows reach from the bar."""
        return _LINE * (1 + max((label.row for label in self.labels), default=0))

    def place(self, x: float, words: str, lean: int = 0) -> None:
        """Put words at ``x``: around it, or beginning (1) or ending (-1) there."""
        width = len(words) * _CHAR + 2
        begin = {-1: x - width + 3, 0: x - width / 2, 1: x - 3}
        leans = (lean, *(other for other in (0, -1, 1) if other != lean))
        options = [
            _Label(row, x, left, left + width, words)
            for row in range(MOST_ROWS)
            for left in (min(max(begin[each], 0), WIDTH - width) for each in leans)
        ]
        self.labels.append(next((one for one in options if self._is_free(one)), options[-1]))

    def _is_free(self, new: _Label) -> bool:
        return not any(
            (old.row == new.row and new.left < old.right + 4 and old.left < new.right + 4)
            or (old.row < new.row and old.left - 2 < new.x < old.right + 2)
            or (new.row < old.row and new.left - 2 < old.x < new.right + 2)
            for old in self.labels
        )


def _x(ruler: Ruler, volts: float) -> float:
    return 0.5 + ruler.share(volts) * (WIDTH - 1)


def _centred(x: float, y: float, said: str) -> str:
    """Words around a place, as far as the paper reaches."""
    half = len(said) * _CHAR / 2 + 2
    return words(min(max(x, half), WIDTH - half), y, said, LETTERS, "middle")


def _line(start: Point, end: Point, classes: str) -> str:
    return tag("line", classes, x1=start[0], y1=start[1], x2=end[0], y2=end[1])
