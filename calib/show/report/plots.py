"""The plots: signal against time, histogram, deviation over averaging time, trend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from calib.show.report.figure import MARGIN_LEFT_MM, Paper, drawing, inline_svg, plain_axes
from calib.show.report.markup import Markup
from calib.show.report.palette import INK, MAIN, OTHER, SHADE, SOFT, WARN, stand_in

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

MOST_POINTS = 1200
"""Own choice: two for each of the 600 columns that a plot has on paper at 85 dots an inch."""

FEW_DECADES = 20.0
"""Own choice: below this ratio a logarithmic axis has too few whole decades to be read by."""

SIGNAL = Paper(118.0, 46.0, right_mm=27.0)
HISTOGRAM = Paper(64.0, 46.0, top_mm=11.0)
DEVIATION = Paper(118.0, 42.0)
TREND = Paper(118.0, 46.0, top_mm=7.0)
"""Wide and narrow ones stand side by side on A4, and one by one on a telephone, where a wider one
could not be read."""

LETTER_MM = 1.5
"""About the width of a letter of 8 points in a plain sans-serif face."""
WORDS_APART = 0.11
"""Least distance between two labels, as a share of the axes' height: a line and a little."""


@dataclass(frozen=True, slots=True)
class Span:
    """A shaded stretch of time: from, to, and the word for it."""

    start_s: float
    end_s: float
    word: str


@dataclass(frozen=True, slots=True)
class Level:
    """A level drawn across a plot, and the words that stand at it."""

    value: float
    words: str


@dataclass(frozen=True, slots=True)
class Labels:
    """What a plot is called and says, and what its value axis measures."""

    name: str
    title: str
    description: str
    value: str


@dataclass(frozen=True, slots=True)
class Trend:
    """One figure over the months: when, how much, and its expanded uncertainty (NaN: none)."""

    word: str
    when: tuple[datetime, ...]
    values: Floats
    spread: Floats


def envelope(
    time_s: Floats, values: Floats, breaks: Sequence[int] = (), most: int = MOST_POINTS
) -> tuple[Floats, Floats]:
    """Lowest and highest value of each stretch, so that no spike is lost when points are dropped.

    Args:
        time_s: Times, shape (n,).
        values: Values, shape (n,).
        breaks: Indices before which nothing may be joined; NaN is put there.
        most: About how many points may remain.

    Returns:
        Times and values with NaN at breaks; the values as they are where there are few.
    """
    pieces = np.split(np.arange(time_s.shape[0]), sorted(breaks))
    times: list[Floats] = []
    found: list[Floats] = []
    size = max(int(np.ceil(2 * time_s.shape[0] / most)), 1)
    for piece in pieces:
        if not piece.size:
            continue
        kept = piece if size <= 2 else _extremes(values, piece, size)
        times += [time_s[kept], time_s[kept[-1:]]]
        found += [values[kept], np.array([np.nan])]
    if not times:
        return time_s, values
    return np.concatenate(times), np.concatenate(found)


def _extremes(values: Floats, piece: NDArray[np.int64], size: int) -> NDArray[np.int64]:
    whole = piece[: piece.size // size * size]
    rows = values[whole].reshape(-1, size)
    starts = whole[::size]
    kept = np.concatenate(
        [starts + rows.argmin(axis=1), starts + rows.argmax(axis=1), piece[whole.size :]]
    )
    return np.unique(kept)


def signal_plot(
    labels: Labels,
    time_s: Floats,
    values: Floats,
    *,
    breaks: Sequence[int] = (),
    spans: Sequence[Span] = (),
    levels: Sequence[Level] = (),
) -> Markup:
    """A signal against time, with shaded stretches and levels; gaps stay open."""
    with drawing(SIGNAL) as figure:
        axes = figure.add_subplot()
        plain_axes(axes)
        axes.broken_barh(
            [(span.start_s, span.end_s - span.start_s) for span in spans],
            (0, 1),
            transform=axes.get_xaxis_transform(),
            color=stand_in(SHADE),
            linewidth=0,
            zorder=0,
        )
        axes.plot(*envelope(time_s, values, breaks), color=stand_in(MAIN))
        axes.set_xlabel("seconds")
        axes.set_ylabel(labels.value)
        axes.margins(x=0.01)
        _draw_levels(axes, levels)
        return inline_svg(figure, labels.name, labels.title, labels.description)


def histogram_plot(
    labels: Labels, values: Floats, levels: Sequence[Level], step: float | None = None
) -> Markup:
    """How often each value was read, with levels as upright lines.

    Args:
        labels: What it is called.
        values: Readings, shape (n,).
        levels: Limits and settings to draw.
        step: Width of one code of the converter, so that no bar is empty by rounding alone.
    """
    with drawing(HISTOGRAM) as figure:
        axes = figure.add_subplot()
        plain_axes(axes)
        counts, edges = np.histogram(values, bins=_bins(values, step))
        axes.stairs(counts, edges, fill=True, color=stand_in(MAIN))
        for level in levels:
            axes.axvline(level.value, color=stand_in(WARN), linestyle="--")
        axes.margins(x=0.12)
        axes.locator_params(axis="x", nbins=4)
        low, high = axes.get_xlim()
        # Above the axes, where no bar reaches; the words lean back where they would run out.
        axes_mm = HISTOGRAM.width_mm - MARGIN_LEFT_MM - HISTOGRAM.right_mm
        for row, level in enumerate(sorted(levels, key=lambda each: each.value)):
            share = (level.value - low) / (high - low)
            axes.annotate(
                level.words,
                (share, 1.03 + WORDS_APART * row),
                xycoords="axes fraction",
                ha="right" if share * axes_mm + len(level.words) * LETTER_MM > axes_mm else "left",
                va="bottom",
                annotation_clip=False,
            )
        axes.set_xlabel(labels.value)
        axes.set_ylabel("readings")
        return inline_svg(figure, labels.name, labels.title, labels.description)


def deviation_plot(labels: Labels, tau_s: Sequence[float], sigma: Sequence[float]) -> Markup:
    """Allan deviation over averaging time, both axes logarithmic."""
    from matplotlib.ticker import NullFormatter

    with drawing(DEVIATION) as figure:
        axes = figure.add_subplot()
        plain_axes(axes)
        axes.loglog(tau_s, sigma, color=stand_in(MAIN), marker="o", markersize=2.5)
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_formatter("{x:g}")
            axis.set_minor_formatter(NullFormatter())
        if max(sigma) < FEW_DECADES * min(sigma):
            axes.yaxis.set_minor_formatter("{x:g}")
        axes.set_xlabel("averaging time in seconds")
        axes.set_ylabel(labels.value)
        return inline_svg(figure, labels.name, labels.title, labels.description)


def trend_plot(labels: Labels, trends: Sequence[Trend]) -> Markup:
    """Figures over the months, each with its spread."""
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    marks = ("o", "s", "^", "D")
    with drawing(TREND) as figure:
        axes = figure.add_subplot()
        plain_axes(axes)
        for number, trend in enumerate(trends):
            axes.errorbar(
                np.array(trend.when, dtype="datetime64[s]"),
                trend.values,
                yerr=np.nan_to_num(trend.spread),
                color=stand_in((MAIN, OTHER, INK, WARN)[number % 4]),
                ecolor=stand_in(SOFT),
                marker=marks[number % 4],
                markersize=4,
                label=trend.word,
            )
        axes.set_ylabel(labels.value)
        axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=2)
        dates = AutoDateLocator(minticks=3, maxticks=6)  # type: ignore[no-untyped-call]
        axes.xaxis.set_major_locator(dates)
        axes.xaxis.set_major_formatter(ConciseDateFormatter(dates))  # type: ignore[no-untyped-call]
        return inline_svg(figure, labels.name, labels.title, labels.description)


def _draw_levels(axes: Axes, levels: Sequence[Level]) -> None:
    """Levels across the plot; their words stand beyond its right edge, apart from each other."""
    low, high = axes.get_ylim()
    lowest = 0.0
    for level in sorted(levels, key=lambda each: each.value):
        axes.axhline(level.value, color=stand_in(WARN), linestyle="--", linewidth=0.9)
        share = max((level.value - low) / (high - low), lowest)
        lowest = share + WORDS_APART
        axes.annotate(
            level.words,
            (1.01, share),
            xycoords="axes fraction",
            ha="left",
            va="center",
            annotation_clip=False,
        )


def _bins(values: Floats, step: float | None) -> Floats | int:
    low, high = float(values.min()), float(values.max())
    if step is None or step <= 0:
        return 40
    stride = step * max(int(np.ceil((high - low) / step / 60)), 1)
    return np.arange(low - stride / 2, high + stride, stride)
