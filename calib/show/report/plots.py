"""Plots as inline SVG, drawn by us: axes with ticks, and signal, histogram, deviation and trend."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from calib.show.report.markup import Markup, framed, tag, text, words

MM: Final = 72 / 25.4
"""Points in a millimetre; drawings are measured in points, as letters are."""
LETTERS: Final = 8.0
LETTER_WIDTH: Final = 4.25
"""About the width of a letter of 8 points in a plain sans-serif face, in points."""
MARGIN_LEFT, MARGIN_FOOT = 16.0 * MM, 10.0 * MM
MARKS: Final = (
    (),
    ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    ((0, -1.3), (1.2, 1), (-1.2, 1)),
    ((0, -1.4), (1.4, 0), (0, 1.4), (-1.4, 0)),
)
"""Corners of the marks that tell one trend from another without colour; the first is round."""


Floats = NDArray[np.float64]
V = TypeVar("V", float, Floats)

Tick = tuple[float, str]
"""A place on the axis, and its words."""

FEW_DECADES = 20.0
"""Own choice: below this ratio a logarithmic axis has too few whole decades to be read by."""

_MINUTE, _HOUR, _DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
_STEPS = (
    *(count * _MINUTE for count in (1, 5, 15)),
    *(count * _HOUR for count in (1, 3, 6)),
    *(count * _DAY for count in (1, 2, 7, 14)),
)
_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120)
"""Steps of a calendar, shortest first; own choice."""


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

    def share(self, values: V) -> V:
        """Where values lie, 0 at its low end and 1 at its high end; same shape."""
        low, high = self.low, self.high
        if self.logarithmic:
            low, high, values = math.log(low), math.log(high), np.log(values)
        return (values - low) / (high - low)


@dataclass(frozen=True, slots=True)
class Labels:
    """What a plot is called and says, and what its value axis measures; as :func:`framed`'s."""

    name: str
    title: str
    description: str
    value: str


def reach(values: Floats, beyond: float) -> tuple[float, float]:
    """From the lowest to the highest of values, and a share of that beyond; never of no length."""
    found = values[np.isfinite(values)]
    low, high = (float(found.min()), float(found.max())) if found.size else (0.0, 1.0)
    room = beyond * (high - low) or 0.05 * abs(high) or 1.0
    return low - room, high + room


def plain_axis(low: float, high: float, label: str, most: int = 5) -> Axis:
    """An axis with round figures, at most so many."""
    return Axis(low, high, figures(low, high, most), label)


def log_axis(values: Floats, label: str) -> Axis:
    """A logarithmic axis around values, of which those above 0 count; shape (n,)."""
    low, high = np.exp(reach(np.log(values), 0.05))
    return Axis(low, high, decades(low, high), label, logarithmic=True)


def date_axis(times_s: Floats) -> Axis:
    """An axis around times, in seconds since 1970; shape (n,)."""
    low, high = reach(times_s, 0.05)
    first, last = (datetime.fromtimestamp(each, UTC) for each in (low, high))
    times, said, shared = dates(first, last, most=6)
    return Axis(low, high, [(each.timestamp(), f"{each:{said}}") for each in times], shared)


def figures(low: float, high: float, most: int) -> list[Tick]:
    """At most ``most`` round figures from ``low`` to ``high``, 1, 2 or 5 of a decade apart."""
    least = (high - low) / most
    decade = 10.0 ** math.floor(math.log10(least))
    step = next(each * decade for each in (1, 2, 5, 10) if each * decade >= least)
    decimals = max(-math.floor(math.log10(step) + 1e-9), 0)
    return [
        (count * step, f"{count * step:.{decimals}f}")
        for count in range(math.ceil(low / step), math.floor(high / step) + 1)
    ]


def decades(low: float, high: float) -> list[Tick]:
    """Whole decades from ``low`` to ``high``, both above 0; 2 and 5 of each where there are few."""
    inner = (1, 2, 5) if high < FEW_DECADES * low else (1,)
    exponents = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    places = (count * 10.0**exponent for exponent in exponents for count in inner)
    return [(place, f"{place:g}") for place in places if low <= place <= high]


def dates(low: datetime, high: datetime, most: int) -> tuple[list[datetime], str, str]:
    """At most ``most`` round times between two.

    Returns:
        The times, how each is written, and the part of the date that stands at none of them.
    """
    span = high - low
    step = next((each for each in _STEPS if span <= most * each), None)
    if step is not None:
        first = low.replace(hour=0, minute=0, second=0, microsecond=0)
        short = step < _DAY
        count = -((first - low) // step) if short else 1
        times = [first + each * step for each in range(count, count + most + 1)]
        said, shared = ("%H:%M", "%Y-%m-%d") if short else ("%m-%d", "%Y")
        return [each for each in times if each <= high], said, f"{low:{shared}}"
    months = next((each for each in _MONTHS if span <= most * each * 30 * _DAY), _MONTHS[-1])
    first_month = -(-(low.year * 12 + low.month) // months) * months
    numbers = range(first_month, high.year * 12 + high.month, months)
    times = [datetime(each // 12, each % 12 + 1, 1, tzinfo=UTC) for each in numbers]
    return times, "%Y-%m" if months < 12 else "%Y", ""


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

    def x(self, values: V) -> V:
        """Places of values along the paper, in points; same shape."""
        return self.left + self.across.share(values) * (self.right - self.left)

    def y(self, values: V) -> V:
        """Places of values down the paper, in points; same shape."""
        return self.foot - self.up.share(values) * (self.foot - self.top)

    def shade(self, start: float, end: float) -> None:
        """A stretch of the axis across in a soft tone, beneath all else."""
        left, right, height = self.x(start), self.x(end), self.foot - self.top
        shaded = tag("rect", "f-shade", x=left, y=self.top, width=right - left, height=height)
        self._beneath.append(shaded)

    def trace(self, xs: Floats, ys: Floats, colour: str) -> None:
        """A line through points, each of shape (n,); it is broken where one is not finite."""
        places, heights = self.x(xs), self.y(ys)
        for stretch in np.split(np.arange(heights.size), np.flatnonzero(~np.isfinite(heights))):
            kept = stretch[np.isfinite(heights[stretch])]
            points = _points(zip(places[kept], heights[kept], strict=True))
            line = tag("polyline", f"s-{colour} f-none", stroke_width="1.1", points=points)
            self._parts.append(line)

    def bars(self, edges: Floats, heights: Floats) -> None:
        """Bars from the foot, between one more edge than there are heights."""
        xs, ys = np.repeat(self.x(edges), 2)[1:-1], np.repeat(self.y(heights), 2)
        corners = [(xs[0], self.foot), *zip(xs, ys, strict=True), (xs[-1], self.foot)]
        self._parts.append(tag("polygon", "f-main", points=_points(corners)))

    def mark(self, x: float, y: float, number: int, colour: str, radius: float = 2.2) -> None:
        """A mark at a place in points; its shape tells it from others without colour."""
        if corners := MARKS[number]:
            points = _points((x + radius * dx, y + radius * dy) for dx, dy in corners)
            self._parts.append(tag("polygon", f"f-{colour}", points=points))
        else:
            self._parts.append(tag("circle", f"f-{colour}", cx=x, cy=y, r=f"{radius}"))

    def bar_of_error(self, x: float, y: float, half: float) -> None:
        """An upright bar from ``y - half`` to ``y + half``, in the axes' units."""
        if half > 0:
            place = self.x(x)
            self._line("s-soft", (place, self.y(y - half), place, self.y(y + half)), 1.1)

    def level(self, value: float, *, upright: bool = False) -> None:
        """A dashed line over the whole plot, across or upright, at a value that was set."""
        place = self.x(value) if upright else self.y(value)
        across, up = (self.left, place, self.right, place), (place, self.top, place, self.foot)
        self._line("s-warn", up if upright else across, 0.9, stroke_dasharray="3.5 2")

    def words(self, x: float, y: float, said: str, anchor: str = "start") -> None:
        """Words whose foot stands at a place in points."""
        self._parts.append(words(x, y, said, LETTERS, anchor))

    def svg(self, labels: Labels) -> Markup:
        """The finished drawing."""
        inside = "".join((*self._beneath, *self._parts))
        name, title, description = labels.name, labels.title, labels.description
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
        size, halfway = f"{LETTERS:g}", (self.top + self.foot) / 2
        turned = f"translate({size} {halfway:.1f}) rotate(-90)"
        place = {"text_anchor": "middle", "transform": turned}
        self._parts.append(tag("text", "f-ink", text(self.up.label), font_size=size, **place))

    def _line(
        self, colour: str, ends: tuple[float, float, float, float], width: float, **more: str
    ) -> None:
        x1, y1, x2, y2 = ends
        line = tag("line", colour, stroke_width=f"{width}", **more, x1=x1, y1=y1, x2=x2, y2=y2)
        self._parts.append(line)


def _points(points: Iterable[tuple[float, float]]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


INK, MAIN, OTHER, WARN = "ink", "main", "other", "warn"
"""Colours by their class, so that light, dark and print each choose."""

MOST_POINTS = 1200
"""Own choice: two for each of the 600 columns that a plot has on paper at 85 dots an inch."""

SIGNAL = Paper(118.0, 46.0, right_mm=27.0)
HISTOGRAM = Paper(64.0, 46.0, right_mm=3.0, top_mm=11.0)
DEVIATION = Paper(118.0, 42.0, right_mm=4.0)
TREND = Paper(118.0, 46.0, right_mm=6.0, top_mm=7.0)
"""Wide and narrow ones stand side by side on A4, and one by one on a telephone, where a wider one
could not be read."""

LINE = 10.0
"""Least distance between two labels, in points: a line of 8 and a little."""


@dataclass(frozen=True, slots=True)
class LevelLine:
    """A level drawn across a plot, and the words that stand at it."""

    value: float
    words: str


@dataclass(frozen=True, slots=True)
class Trend:
    """One figure over the months: when, s since 1970, how much, and its expanded uncertainty."""

    word: str
    when_s: Floats
    values: Floats
    spread: Floats


def envelope(time_s: Floats, values: Floats, breaks: Sequence[int] = ()) -> tuple[Floats, Floats]:
    """Lowest and highest value of each stretch, so that no spike is lost when points are dropped.

    Args:
        time_s: Times, shape (n,).
        values: Values, shape (n,).
        breaks: Indices before which nothing may be joined; NaN is put there.

    Returns:
        Times and values with NaN at breaks; the values as they are where there are few.
    """
    pieces = filter(len, np.split(np.arange(time_s.shape[0]), sorted(breaks)))
    size = max(int(np.ceil(2 * time_s.shape[0] / MOST_POINTS)), 1)
    kept = [piece if size <= 2 else _extremes(values, piece, size) for piece in pieces]
    if not kept:
        return time_s, values
    times = [time_s[np.append(piece, piece[-1])] for piece in kept]
    return np.concatenate(times), np.concatenate([np.append(values[each], np.nan) for each in kept])


def _extremes(values: Floats, piece: NDArray[np.int64], size: int) -> NDArray[np.int64]:
    whole = piece[: piece.size // size * size]
    rows, starts = values[whole].reshape(-1, size), whole[::size]
    low, high = starts + rows.argmin(axis=1), starts + rows.argmax(axis=1)
    return np.unique(np.concatenate([low, high, piece[whole.size :]]))


def signal_plot(
    labels: Labels,
    time_s: Floats,
    values: Floats,
    *,
    breaks: Sequence[int] = (),
    spans: Sequence[tuple[float, float]] = (),
    levels: Sequence[LevelLine] = (),
) -> Markup:
    """A signal against time, with shaded stretches in s and levels; gaps stay open."""
    drawn = np.array([level.value for level in levels])
    plot = Plot(
        SIGNAL,
        plain_axis(*reach(time_s, 0.01), "seconds", most=9),
        plain_axis(*reach(np.concatenate([values, drawn]), 0.05), labels.value),
    )
    for span_s in spans:
        plot.shade(*span_s)
    plot.trace(*envelope(time_s, values, breaks), MAIN)
    # Their words stand beyond the right edge, where no trace runs, and apart from each other.
    above = np.inf
    for level in sorted(levels, key=lambda each: each.value):
        plot.level(level.value)
        above = min(plot.y(level.value) + LETTERS / 3, above - LINE)
        plot.words(plot.right + 3, above, level.words)
    return plot.svg(labels)


def histogram_plot(
    labels: Labels, values: Floats, levels: Sequence[LevelLine], step: float | None = None
) -> Markup:
    """How often each value was read, with levels as upright lines.

    Args:
        labels: What it is called.
        values: Readings, shape (n,).
        levels: Limits and settings to draw.
        step: Width of one code of the converter, so that no bar is empty by rounding alone.
    """
    counts, edges = np.histogram(values, bins=_bins(values, step))
    drawn = np.array([level.value for level in levels])
    plot = Plot(
        HISTOGRAM,
        plain_axis(*reach(np.concatenate([edges, drawn]), 0.12), labels.value, most=4),
        plain_axis(0.0, 1.05 * float(counts.max()), "readings"),
    )
    plot.bars(edges, counts.astype(np.float64))
    for row, level in enumerate(sorted(levels, key=lambda each: each.value)):
        plot.level(level.value, upright=True)
        # Above the axes, where no bar reaches; the words lean back where they would run out.
        place = plot.x(level.value)
        leans = place + len(level.words) * LETTER_WIDTH > plot.right
        plot.words(place, plot.top - 2 - LINE * row, level.words, "end" if leans else "start")
    return plot.svg(labels)


def deviation_plot(labels: Labels, tau_s: Sequence[float], sigma: Sequence[float]) -> Markup:
    """Allan deviation over averaging time, both axes logarithmic; a deviation of 0 has no place."""
    times, deviations = np.array(tau_s), np.array(sigma)
    deviations[deviations <= 0] = np.nan
    across = log_axis(times, "averaging time in seconds")
    plot = Plot(DEVIATION, across, log_axis(deviations, labels.value))
    plot.trace(times, deviations, MAIN)
    for time_s, deviation in zip(times, deviations, strict=True):
        if np.isfinite(deviation):
            plot.mark(plot.x(time_s), plot.y(deviation), 0, MAIN, radius=1.3)
    return plot.svg(labels)


def trend_plot(labels: Labels, trends: Sequence[Trend]) -> Markup:
    """Figures over the months, each with its spread."""
    times = [trend.when_s + side_s for trend in trends for side_s in (-30, 30)]
    ends = [trend.values + sign * trend.spread for trend in trends for sign in (-1, 1)]
    up = plain_axis(*reach(np.concatenate(ends), 0.05), labels.value)
    plot = Plot(TREND, date_axis(np.concatenate(times)), up)
    for number, trend in enumerate(trends):
        colour = (MAIN, OTHER, INK, WARN)[number % 4]
        for when_s, value, half in zip(trend.when_s, trend.values, trend.spread, strict=True):
            plot.bar_of_error(when_s, value, half)
        plot.trace(trend.when_s, trend.values, colour)
        for when_s, value in zip(trend.when_s, trend.values, strict=True):
            plot.mark(plot.x(when_s), plot.y(value), number % 4, colour)
        left = plot.left + 6 + number * (plot.right - plot.left) / len(trends)
        plot.mark(left, plot.top - 7, number % 4, colour)
        plot.words(left + 6, plot.top - 7 + LETTERS / 3, trend.word)
    return plot.svg(labels)


def _bins(values: Floats, step: float | None) -> Floats | int:
    low, high = float(values.min()), float(values.max())
    if step is None or step <= 0:
        return 40
    stride = step * max(int(np.ceil((high - low) / step / 60)), 1)
    return np.arange(low - stride / 2, high + stride, stride)
