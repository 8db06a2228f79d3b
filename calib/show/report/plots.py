"""The plots: signal against time, histogram, deviation over averaging time, trend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.show.report.figure import (
    LETTER_WIDTH,
    LETTERS,
    Labels,
    Paper,
    Plot,
    date_axis,
    log_axis,
    plain_axis,
    reach,
)
from calib.show.report.markup import Markup

Floats = NDArray[np.float64]

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
    pieces = np.split(np.arange(time_s.shape[0]), sorted(breaks))
    times: list[Floats] = []
    found: list[Floats] = []
    size = max(int(np.ceil(2 * time_s.shape[0] / MOST_POINTS)), 1)
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
