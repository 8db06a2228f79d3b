"""Plots as inline SVG, drawn by us: text stays text, colours are classes, no inline style."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calib.show.report.markup import Markup, text
from calib.show.report.ticks import Tick

MM: Final = 72 / 25.4
"""Points in a millimetre; drawings are measured in points, as letters are."""
LETTERS: Final = 8.0
LETTER_WIDTH: Final = 4.25
"""About the width of a letter of 8 points in a plain sans-serif face, in points."""
MARGIN_LEFT, MARGIN_FOOT = 16.0 * MM, 10.0 * MM
MARKS: Final = ("circle", "square", "triangle", "diamond")


@dataclass(frozen=True, slots=True)
class Paper:
    """How large a drawing is on paper, in millimetres, and what stands beside its axes.

    Attributes:
        width_mm: From edge to edge.
        height_mm: From edge to edge.
        right_mm: Room at the right of the axes, for words that no trace may cross.
        top_mm: Room above them.
    """

    width_mm: float
    height_mm: float
    right_mm: float = 2.0
    top_mm: float = 2.0


@dataclass(frozen=True, slots=True)
class Axis:
    """From where to where an axis reaches, and its ticks."""

    low: float
    high: float
    ticks: Sequence[Tick]
    label: str
    logarithmic: bool = False

    def share(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where values lie, 0 at its low end and 1 at its high end; same shape."""
        low, high = self.low, self.high
        if self.logarithmic:
            low, high, values = math.log(low), math.log(high), np.log(values)
        return (values - low) / (high - low)


def reach(values: NDArray[np.float64], beyond: float) -> tuple[float, float]:
    """From the lowest to the highest of values, and a share of that beyond; never of no length."""
    found = values[np.isfinite(values)]
    low, high = (float(found.min()), float(found.max())) if found.size else (0.0, 1.0)
    room = beyond * (high - low) or 0.05 * abs(high) or 1.0
    return low - room, high + room


class Plot:
    """Two axes on a paper, and what is drawn upon them; what is drawn later lies above."""

    def __init__(self, paper: Paper, across: Axis, up: Axis) -> None:
        """Lay the axes on the paper, with grid, ticks and figures."""
        self.across, self.up = across, up
        self.width, self.height = paper.width_mm * MM, paper.height_mm * MM
        self.left, self.right = MARGIN_LEFT, self.width - paper.right_mm * MM
        self.top, self.foot = paper.top_mm * MM, self.height - MARGIN_FOOT
        self._beneath: list[str] = []
        self._parts: list[str] = []
        self._frame()

    def x(self, value: float) -> float:
        """Place of a value along the paper, in points."""
        return float(self._xs(np.array(value)))

    def y(self, value: float) -> float:
        """Place of a value down the paper, in points."""
        return float(self._ys(np.array(value)))

    def shade(self, start: float, end: float) -> None:
        """A stretch of the axis across in a soft tone, beneath all else."""
        left, width = self.x(start), self.x(end) - self.x(start)
        self._beneath.append(
            f'<rect class="f-shade" x="{left:.1f}" y="{self.top:.1f}" '
            f'width="{width:.1f}" height="{self.foot - self.top:.1f}"/>'
        )

    def trace(self, xs: NDArray[np.float64], ys: NDArray[np.float64], colour: str) -> None:
        """A line through points, each of shape (n,); it is broken where one is not finite."""
        places, heights = self._xs(xs), self._ys(ys)
        missing = np.flatnonzero(~np.isfinite(heights))
        for stretch in np.split(np.arange(heights.size), missing):
            kept = stretch[np.isfinite(heights[stretch])]
            points = " ".join(f"{places[each]:.1f},{heights[each]:.1f}" for each in kept)
            self._parts.append(
                f'<polyline class="s-{colour} f-none" stroke-width="1.1" points="{points}"/>'
            )

    def bars(self, edges: NDArray[np.float64], heights: NDArray[np.int64]) -> None:
        """Bars from the foot, between one more edge than there are heights."""
        corners = np.repeat(self._xs(edges), 2)[1:-1], np.repeat(self._ys(heights), 2)
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(*corners, strict=True))
        self._parts.append(
            f'<polygon class="f-main" points="{corners[0][0]:.1f},{self.foot:.1f} {points} '
            f'{corners[0][-1]:.1f},{self.foot:.1f}"/>'
        )

    def mark(self, x: float, y: float, number: int, colour: str, radius: float = 2.2) -> None:
        """A mark at a place in points; its shape tells it from others without colour."""
        if MARKS[number] == "circle":
            self._parts.append(
                f'<circle class="f-{colour}" cx="{x:.1f}" cy="{y:.1f}" r="{radius}"/>'
            )
            return
        corners = {
            "square": ((-1, -1), (1, -1), (1, 1), (-1, 1)),
            "triangle": ((0, -1.3), (1.2, 1), (-1.2, 1)),
            "diamond": ((0, -1.4), (1.4, 0), (0, 1.4), (-1.4, 0)),
        }[MARKS[number]]
        points = " ".join(f"{x + radius * dx:.1f},{y + radius * dy:.1f}" for dx, dy in corners)
        self._parts.append(f'<polygon class="f-{colour}" points="{points}"/>')

    def bar_of_error(self, x: float, y: float, half: float) -> None:
        """An upright bar from ``y - half`` to ``y + half``, in the axes' units."""
        if math.isfinite(half) and half > 0:
            place = self.x(x)
            self._line("s-soft", (place, self.y(y - half), place, self.y(y + half)), 1.1)

    def level(self, value: float, *, upright: bool = False) -> None:
        """A dashed line over the whole plot, across or upright, at a value that was set."""
        if upright:
            place = self.x(value)
            ends = (place, self.top, place, self.foot)
        else:
            place = self.y(value)
            ends = (self.left, place, self.right, place)
        self._line("s-warn", ends, 0.9, 'stroke-dasharray="3.5 2" ')

    def words(self, x: float, y: float, said: str, anchor: str = "start") -> None:
        """Words whose foot stands at a place in points."""
        self._parts.append(
            f'<text class="f-ink" font-size="{LETTERS:g}" x="{x:.1f}" y="{y:.1f}" '
            f'text-anchor="{anchor}">{text(said)}</text>'
        )

    def svg(self, name: str, title: str, description: str) -> Markup:
        """The finished drawing.

        Args:
            name: A short word, different for each drawing of a page; its ids begin with it.
            title: What the drawing shows, for a screen reader.
            description: What it says, in a sentence.
        """
        inside = "".join((*self._beneath, *self._parts))
        return framed(inside, name, title, description, self.width, self.height)

    def _frame(self) -> None:
        """Grid, ticks, figures and labels."""
        for value, said in self.across.ticks:
            x = self.x(value)
            self._line("s-soft", (x, self.top, x, self.foot), 0.2)
            self._line("s-soft", (x, self.foot, x, self.foot + 3), 0.6)
            self.words(x, self.foot + 4 + LETTERS, said, "middle")
        for value, said in self.up.ticks:
            y = self.y(value)
            self._line("s-soft", (self.left, y, self.right, y), 0.2)
            self._line("s-soft", (self.left - 3, y, self.left, y), 0.6)
            self.words(self.left - 5, y + LETTERS / 3, said, "end")
        self._line("s-soft", (self.left, self.top, self.left, self.foot), 0.8)
        self._line("s-soft", (self.left, self.foot, self.right, self.foot), 0.8)
        middle = (self.left + self.right) / 2
        self.words(middle, self.height - 2.5, self.across.label, "middle")
        self._parts.append(
            f'<text class="f-ink" font-size="{LETTERS:g}" text-anchor="middle" '
            f'transform="translate({LETTERS:g} {(self.top + self.foot) / 2:.1f}) rotate(-90)">'
            f"{text(self.up.label)}</text>"
        )

    def _xs(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        return self.left + self.across.share(values) * (self.right - self.left)

    def _ys(self, values: NDArray[np.float64] | NDArray[np.int64]) -> NDArray[np.float64]:
        return self.foot - self.up.share(values.astype(np.float64)) * (self.foot - self.top)

    def _line(
        self, colour: str, ends: tuple[float, float, float, float], width: float, more: str = ""
    ) -> None:
        x1, y1, x2, y2 = ends
        self._parts.append(
            f'<line class="{colour}" stroke-width="{width}" {more}'
            f'x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'
        )


def framed(
    inside: str, name: str, title: str, description: str, width: float, height: float
) -> Markup:
    """An SVG element with title and description around ``inside``, which is markup already."""
    return Markup(
        f'<svg role="img" '
        f'aria-labelledby="{text(name)}-t {text(name)}-d" '
        f'viewBox="0 0 {width:.1f} {height:.1f}">'
        f'<title id="{text(name)}-t">{text(title)}</title>'
        f'<desc id="{text(name)}-d">{text(description)}</desc>{inside}</svg>'
    )
