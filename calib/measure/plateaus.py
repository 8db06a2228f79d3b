"""Where a signal stands still and where it moves, with no threshold that anyone must tune."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.measure.sliding import edges_of, largest_of_each, least_of_each
from calib.measure.step import seen_step

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Own choice, because a hand's movement and a spring's rebound are both resolved at 5 ms.
GRID_S = 0.005
# Own choice, because it is well below the shortest hold that is promised (0.3 s) and well above
# the period of a spring's rebound.
WINDOW_S = 0.10
MIN_WINDOW_SAMPLES = 3
# Own choice: shortest stretch called a hold. A hand that turns round without holding is slower
# than half a per cent of the travel for less than this.
SHORTEST_S = 0.16
SHORTEST_SAMPLES = 5
# Shortest hold that is promised to be found (requirement of this project), in s and readings.
PROMISED_HOLD_S = 0.3
PROMISED_SAMPLES = 8
# Own choice: ratio between the widest still window of a long capture and a low quantile of all
# window ranges; for normal noise the widest of thousands is some three times the narrowest.
QUIET_QUANTILE = 0.03
QUIET_FACTOR = 2.6
# Own choice: bounds of "stands still", as a share of the whole range that the signal covers in
# one window. Below the first a hand cannot be told from warming; above the second a hand that
# takes two seconds for its travel would pass for standing still.
LEAST_SHARE = 0.0015
MOST_SHARE = 0.012
# White-noise multiple that no still window of 20 readings exceeds in practice (own choice).
WHITE_FACTOR = 8.0
# Own choice: a reading may flicker over two steps and still stand still.
LSB_FACTOR = 2.2
# Own choice: a stretch that wanders further than this share of the range is a slow movement.
CREEP_SHARE = 0.05


@dataclass(frozen=True)
class Plateau:
    """One stretch in which the signal stands still.

    Attributes:
        first: Index of its first reading.
        stop: Index one past its last reading.
        start_s: Time of the first reading, s.
        end_s: Time of the last reading, s.
        level: Median of its readings, in the signal's unit.
        drift: Median of its last third less that of its first third, in the signal's unit.
    """

    first: int
    stop: int
    start_s: float
    end_s: float
    level: float
    drift: float

    @property
    def hold_s(self) -> float:
        """How long it stood still, s."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Plateaus:
    """All still stretches of a signal, and the boundary that told them from movement.

    Attributes:
        found: The stretches in order of time.
        still_range: Largest range within one window that still counts as standing still.
        window_s: Length of that window, s.
        white_sd: Standard deviation of the fast part of the noise, from second differences.
        span: Range that the signal covers, single glitches aside.
        rate_hz: Median rate of readings, Hz (0 where there are fewer than two).
        grid: Block medians on which movement was judged, in the signal's unit.
        grid_first: Index of the first reading of each block.
    """

    found: tuple[Plateau, ...]
    still_range: float
    window_s: float
    white_sd: float
    span: float
    rate_hz: float
    grid: Floats
    grid_first: NDArray[np.intp]

    @property
    def fast_enough(self) -> bool:
        """Whether the shortest promised hold holds the promised count of readings."""
        return self.rate_hz * PROMISED_HOLD_S >= PROMISED_SAMPLES


def find_plateaus(
    time_s: Floats, values: Floats, *, lsb: float = 0.0, gaps: Sequence[int] = ()
) -> Plateaus:
    """Still stretches of a signal, in its own unit.

    The signal is reduced to block medians of 5 ms; a window of 0.1 s stands still when its range
    is no larger than `still_range`, which comes from the quietest windows, from second
    differences and from the converter's step. A reading belongs to a plateau when any still
    window holds it, so that the border lies where the movement begins and not half a window off.

    Args:
        time_s: Times of the readings, s, shape (n,), rising.
        values: Readings, shape (n,); NaN is read as "missing" and cuts a plateau in two.
        lsb: Step of the converter in the signal's unit; 0 where it is unknown.
        gaps: Indices of readings before which the record has a gap; no plateau crosses one.

    Returns:
        The plateaus and the boundary that was used.

    Source: own choice of method, because a change-point search needs a penalty to be tuned; it is
    checked against an independent change-point library in tests/reference.
    """
    rate_hz = _rate_hz(time_s)
    if rate_hz <= 0.0 or len(values) < SHORTEST_SAMPLES:
        empty = np.empty(0)
        return Plateaus((), lsb, WINDOW_S, 0.0, 0.0, rate_hz, empty, np.empty(0, dtype=np.intp))
    block = max(1, round(rate_hz * GRID_S))
    raw = block_median(values, block)
    window = max(MIN_WINDOW_SAMPLES, round(WINDOW_S * rate_hz / block))
    grid = despike(raw, 5 if window >= 2 * 5 else 3)
    grid_first = np.arange(len(grid), dtype=np.intp) * block
    moved = _window_range(grid, window)
    span = signal_span(grid)
    white = white_sd(raw)
    limit = _still_limit(moved, white, span, max(lsb, seen_step(values)))
    cuts = _cuts(time_s, gaps, rate_hz, block, len(grid))
    runs = _still_runs(moved <= limit, window, cuts)
    shortest = max(SHORTEST_SAMPLES / block, SHORTEST_S * rate_hz / block)
    most_drift = max(CREEP_SHARE * span, 2.0 * limit)
    joined = _joined(runs, grid, limit, window, cuts)
    long = ((start, stop) for start, stop in joined if stop - start >= shortest)
    stood = (_plateau(time_s, grid, block, start, stop) for start, stop in long)
    found = tuple(each for each in stood if abs(each.drift) <= most_drift)
    return Plateaus(found, limit, window * block / rate_hz, white, span, rate_hz, grid, grid_first)


def median(values: Floats) -> float:
    """Median of some values, in their unit; several times as fast as numpy's for a few of them.

    Args:
        values: Shape (n,), n at least 1, without NaN.

    Source: definition.
    """
    half = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, half)[half])
    ordered = np.partition(values, (half - 1, half))
    return 0.5 * float(ordered[half - 1] + ordered[half])


def block_median(values: Floats, block: int) -> Floats:
    """Glitch-proof block values of a signal, in its unit.

    Each block is cut into at most five parts; the median of the parts' means is taken, so that a
    glitch in one or two parts does not move it.

    Args:
        values: Readings, shape (n,).
        block: Readings a block; a last part block is dropped.

    Returns:
        Shape (n // block,).

    Source: own choice, because it costs one pass at any rate.
    """
    if block == 1:
        return values
    whole = len(values) // block
    parts = min(5, block)
    edges = np.linspace(0, block, parts + 1).astype(int)
    rows = values[: whole * block].reshape(whole, block)
    pairs = itertools.pairwise(edges)
    columns = [rows[:, a] if b - a == 1 else rows[:, a:b].mean(axis=1) for a, b in pairs]
    return _middle(columns)


def despike(values: Floats, width: int = 3) -> Floats:
    """Running median of three or five, in the signal's unit; the ends take their neighbour's.

    Source: own choice, because it takes out glitches of one or two readings and moves no border.
    """
    if len(values) < width:
        return values
    half = width // 2
    result = np.empty_like(values)
    shifted = [values[i : len(values) - width + 1 + i] for i in range(width)]
    result[half : len(values) - half] = _middle(shifted)
    result[:half] = result[half]
    result[len(values) - half :] = result[len(values) - half - 1]
    return result


def white_sd(values: Floats) -> float:
    """Standard deviation of the fast part of the noise, in the signal's unit.

    From the median absolute second difference, which a steady movement does not enter.

    Source: second differences of white noise have the variance 6·sd²; 0.6745 is the normal
    distribution's upper quartile.
    """
    second = np.abs(values[2:] - 2.0 * values[1:-1] + values[:-2])
    second = second[np.isfinite(second)]
    if second.size == 0:
        return 0.0
    return float(np.median(second)) / (0.6745 * float(np.sqrt(6.0)))


def signal_span(grid: Floats) -> float:
    """Range that a signal covers, in its unit, spikes of up to two grid points aside.

    Source: own choice, because a glitch must not set the scale of movement.
    """
    grid = despike(grid, 5)
    if not np.isfinite(grid).any():
        return 0.0
    return float(np.nanmax(grid) - np.nanmin(grid))


def _rate_hz(time_s: Floats) -> float:
    if len(time_s) < 2:
        return 0.0
    # A sample of the steps is enough for their median and keeps an hour at 1 kHz cheap.
    stride = max(1, len(time_s) // 20_000)
    steps = time_s[1::stride] - time_s[: len(time_s) - 1 : stride]
    step_s = float(np.median(steps))
    if step_s <= 0.0:
        step_s = float(time_s[-1] - time_s[0]) / (len(time_s) - 1)
    return 1.0 / step_s if step_s > 0.0 else 0.0


def _middle(columns: Sequence[Floats]) -> Floats:
    """Element-wise median of two to five equal arrays (a sorting network: faster than a sort)."""
    if len(columns) == 2:
        return 0.5 * (columns[0] + columns[1])
    if len(columns) == 3:
        a, b, c = columns
        return np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))
    if len(columns) == 4:
        return np.median(np.stack(columns), axis=0)
    a, b, c, d, e = columns
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return np.maximum(np.minimum(low, high), np.minimum(np.maximum(low, high), e))


def _window_range(grid: Floats, window: int) -> Floats:
    """Range within the window that begins at each grid point; shape (n - window + 1,)."""
    if len(grid) < window:
        return np.empty(0)
    # Missing readings are far from everything: a window with one never stands still.
    high = largest_of_each(np.where(np.isfinite(grid), grid, np.inf), window)
    low = least_of_each(np.where(np.isfinite(grid), grid, -np.inf), window)
    spread: Floats = high - low
    return spread


def _still_limit(moved: Floats, white: float, span: float, lsb: float) -> float:
    finite = moved[np.isfinite(moved)]
    if finite.size == 0:
        return max(LSB_FACTOR * lsb, LEAST_SHARE * span)
    noise = max(WHITE_FACTOR * white, LSB_FACTOR * lsb)
    quiet = QUIET_FACTOR * float(np.quantile(finite, QUIET_QUANTILE))
    least = max(noise, LEAST_SHARE * span)
    return min(max(quiet, least), max(least, MOST_SHARE * span))


def _cuts(
    time_s: Floats, gaps: Sequence[int], rate_hz: float, block: int, blocks: int
) -> NDArray[np.intp]:
    """Grid points before which the record is broken."""
    indices = np.asarray(gaps, dtype=np.intp).ravel()
    # Own choice: three steps and 50 ms, so that bursty host clocks do not cut.
    long = np.flatnonzero(np.diff(time_s) > max(3.0 / rate_hz, 0.05)) + 1
    cuts = np.unique(np.concatenate([indices, long])) // block
    return cuts[(cuts > 0) & (cuts < blocks)]


def _still_runs(still_window: Flags, window: int, cuts: NDArray[np.intp]) -> list[tuple[int, int]]:
    """Runs of grid points of which any two neighbours stand in one still window; none over a cut.

    A step from one reading to the next parts two runs, although every point is in a still window.
    """
    if still_window.size == 0:
        return []
    ok = still_window.copy()
    for cut in cuts:
        ok[max(0, cut - window + 1) : cut] = False
    edges = np.zeros(len(ok) + window - 1, dtype=np.int64)
    edges[: len(ok)] += ok
    edges[window - 1 :] -= ok
    linked = np.cumsum(edges)[:-1] > 0
    starts, stops = edges_of(linked)
    return list(zip(starts.tolist(), (stops + 1).tolist(), strict=True))


def _joined(
    runs: list[tuple[int, int]], grid: Floats, limit: float, window: int, cuts: NDArray[np.intp]
) -> list[tuple[int, int]]:
    """Joins neighbours that one burst of noise tore apart: same level, and never far from it."""
    joined: list[tuple[int, int]] = []
    for start, stop in runs:
        if joined and _belongs(joined[-1], (start, stop), grid, limit, window):
            before_start, before_stop = joined[-1]
            if np.searchsorted(cuts, before_stop) == np.searchsorted(cuts, start, side="right"):
                joined[-1] = (before_start, stop)
                continue
        joined.append((start, stop))
    return joined


def _belongs(
    left: tuple[int, int], right: tuple[int, int], grid: Floats, limit: float, window: int
) -> bool:
    between = grid[left[1] : right[0]]
    if len(between) > window:
        return False
    left_level = median(grid[max(left[0], left[1] - window) : left[1]])
    right_level = median(grid[right[0] : min(right[1], right[0] + window)])
    near = bool(np.all(np.abs(between - left_level) <= 2.0 * limit))
    return near and abs(right_level - left_level) <= limit


def _plateau(time_s: Floats, grid: Floats, block: int, start: int, stop: int) -> Plateau:
    """The plateau of some grid points; each is a whole block of readings."""
    first, last = start * block, stop * block - 1
    third = max(1, (stop - start) // 3)
    level = median(grid[start:stop])
    drift = median(grid[stop - third : stop]) - median(grid[start : start + third])
    return Plateau(first, last + 1, float(time_s[first]), float(time_s[last]), level, drift)
