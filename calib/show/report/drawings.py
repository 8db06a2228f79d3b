"""Drawings of our own: the travel ruler, the uncertainty budget, two wheels on a floor line."""

from __future__ import annotations

import math
from collections.abc import Sequence

from calib.show.report.figure import framed
from calib.show.report.markup import Markup, text
from calib.show.ruler import BROKEN_WIRE, DRIVE, HAND_OFF, STOP, Ruler
from calib.store.documents.budget import BudgetLine

WIDTH = 760.0
_LINE = 15.0
_ZONE_CLASS = {BROKEN_WIRE: "z-broken", HAND_OFF: "z-off", DRIVE: "z-drive", STOP: "z-stop"}
_CHAR = 6.2  # about the width of a character of 12 units in a plain sans-serif face


def ruler_drawing(ruler: Ruler, name: str, levels: Sequence[tuple[float, str]] = ()) -> Markup:
    """The travel as a ruler in volts: zones in words, settings beneath, measured levels above.

    Args:
        ruler: Scale and zones.
        name: The drawing's name.
        levels: Measured volts and their words.
    """
    parts: list[str] = []
    rows = _Rows(first=_LINE)
    bar_top = 3.2 * _LINE
    for zone in ruler.zones:
        left, right = _x(ruler, zone.low_V), _x(ruler, zone.high_V)
        parts.append(
            f'<rect class="{_ZONE_CLASS[zone.word]}" x="{left:.1f}" y="{bar_top:.1f}" '
            f'width="{max(right - left, 1):.1f}" height="18"/>'
        )
        middle = (left + right) / 2
        y = rows.place(middle, len(zone.word))
        parts.append(_line(middle, y + 3, middle, bar_top, "s-soft"))
        parts.append(_text(middle, y, zone.word))
    parts.append(_line(0.5, bar_top + 18, WIDTH - 0.5, bar_top + 18, "s-ink"))
    below = _Rows(first=bar_top + 18 + 1.4 * _LINE, step=_LINE)
    marks = [(volts, f"{volts:.2f} V") for volts in ruler.marks_V]
    marks += [(volts, f"{word} {volts:.3f} V") for volts, word in levels]
    marks += [(ruler.low_V, f"{ruler.low_V:.0f} V"), (ruler.high_V, f"{ruler.high_V:.0f} V")]
    for volts, words in marks:
        x = _x(ruler, volts)
        y = below.place(x, len(words))
        parts.append(_line(x, bar_top + 18, x, y - 11, "s-ink"))
        parts.append(_text(x, y, words))
    words = "; ".join(f"{z.word} {z.low_V:.2f} to {z.high_V:.2f} V" for z in ruler.zones)
    height = below.lowest + 6
    return framed("".join(parts), name, "Travel in volts", words or "no zones", WIDTH, height)


def budget_drawing(lines: Sequence[BudgetLine], unit: str, name: str) -> Markup:
    """Standard uncertainties by source as bars, largest first, with the figure beside each."""
    ordered = sorted(lines, key=lambda line: -line.u)
    top = max((line.u for line in ordered), default=0.0) or 1.0
    label_width, row = 320.0, 20.0
    parts = []
    for number, line in enumerate(ordered):
        y = number * row
        length = (WIDTH - label_width - 130) * line.u / top
        parts.append(_text(label_width - 8, y + 14, line.source[:48], anchor="end"))
        parts.append(
            f'<rect class="f-main" x="{label_width:.1f}" y="{y + 4:.1f}" '
            f'width="{max(length, 0.5):.1f}" height="12"/>'
        )
        figure = f"{line.u:.2g}{unit if unit == '°' else f' {unit}'} (type {line.type})"
        parts.append(_text(label_width + length + 6, y + 14, figure, anchor="start"))
    words = "; ".join(f"{line.source} {line.u:.2g} {unit}" for line in ordered)
    return framed(
        "".join(parts), name, "Uncertainty budget", words, WIDTH, max(row * len(ordered), row)
    )


def wheels_drawing(
    name: str, floor_deg: float | None, shown_deg: float | None, words: str
) -> Markup:
    """Two wheels on a floor line, from the left side, front to the right.

    Slopes are drawn five times as steep as they are, so that a degree can be seen.

    Args:
        name: The drawing's name.
        floor_deg: Slope of the floor, front higher positive; None where it is not known.
        shown_deg: The sensor's reading on it; None where there is none.
        words: What it says, for the caption and the screen reader.
    """
    steeper, wheelbase, radius, middle, level = 5.0, 340.0, 50.0, WIDTH / 2, 165.0
    slope = math.radians(max(min((floor_deg or 0.0) * steeper, 25.0), -25.0))
    half = wheelbase / 2

    def along(share: float, up: float) -> tuple[float, float]:
        x = middle + share * math.cos(slope) - up * math.sin(slope)
        return x, level - share * math.sin(slope) - up * math.cos(slope)

    rear, front = along(-half, radius), along(half, radius)
    ends = along(-half - 110, 0), along(half + 110, 0)
    parts = [
        _line(40, level, WIDTH - 40, level, "s-soft dashed"),
        _text(44, level - 5, "level", anchor="start"),
        _line(*ends[0], *ends[1], "s-ink heavy"),
        *(
            f'<circle class="s-ink heavy f-none" cx="{x:.1f}" cy="{y:.1f}" r="{radius - 3:.0f}"/>'
            for x, y in (rear, front)
        ),
        _line(*rear, *front, "s-main heavy"),
        *(_text(x, y - radius - 6, word) for (x, y), word in ((rear, "rear"), (front, "front"))),
    ]
    if shown_deg is not None:
        x, y = along(0, radius + 16)
        parts.append(_text(x, y, f"sensor reads {shown_deg:+.2f}°"))
    x, y = along(0, -22)
    floor = "floor: not known" if floor_deg is None else f"floor {floor_deg:+.2f}°"
    parts.append(_text(x, y, floor))
    return framed("".join(parts), name, "Machine on the floor, from its left", words, WIDTH, 225)


class _Rows:
    """Finds a row in which words at a place do not run into others; rows go downward."""

    def __init__(self, first: float, step: float = _LINE) -> None:
        self._first, self._step = first, step
        self._taken: list[tuple[int, float, float]] = []

    @property
    def lowest(self) -> float:
        """The lowest row in use."""
        return self._first + self._step * max((row for row, _, _ in self._taken), default=0)

    def place(self, middle: float, length: int) -> float:
        """The height of the first row with room for ``length`` characters around ``middle``."""
        half = length * _CHAR / 2 + 4
        left, right = _inside(middle, half) - half, _inside(middle, half) + half
        row = 0
        while any(
            taken == row and left < other_right and right > other_left
            for taken, other_left, other_right in self._taken
        ):
            row += 1
        self._taken.append((row, left, right))
        return self._first + row * self._step


def _inside(middle: float, half: float) -> float:
    return min(max(middle, half), WIDTH - half)


def _x(ruler: Ruler, volts: float) -> float:
    return 0.5 + ruler.share(volts) * (WIDTH - 1)


def _text(x: float, y: float, words: str, anchor: str = "middle") -> str:
    at = _inside(x, len(words) * _CHAR / 2 + 2) if anchor == "middle" else x
    return (
        f'<text class="f-ink" font-size="12" x="{at:.1f}" y="{y:.1f}" '
        f'text-anchor="{anchor}">{text(words)}</text>'
    )


def _line(x1: float, y1: float, x2: float, y2: float, classes: str) -> str:
    return f'<line class="{classes}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'
