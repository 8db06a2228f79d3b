"""Still stretches of a sensor with one or more axes: where it stands, and how far it wanders."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from calib.measure.distributions import chi2_quantile
from calib.measure.sliding import Run, runs_of
from calib.tilt.attitude import Array, Flags

WINDOW_S: Final = 0.4
"""Length of the window in which unrest is judged, s. Own choice, because a hand that sets a
sensor down moves at 1 to 10 Hz and a window has to hold most of one such movement."""

_LEAST_WINDOW: Final = 5
_FLOOR_QUANTILE: Final = 0.10
"""Share of windows taken as surely still. Own choice, because a person who rests a sensor in a
pose leaves at least a tenth of the time to rest."""

_UNREST_RATIO: Final = 3.0
"""Unrest over the quiet floor above which a window moves. Own choice, because the scatter of a
window of 40 readings is known to 11 per cent, and the lightest touch multiplies it by ten."""

_RARE: Final = 1e-6
"""Share of windows of mere noise that may pass for a movement. Own choice, because an hour of a
slow logger has some hundred thousand of them."""

_SHIFT_RATIO: Final = 8.0
"""Own choice: a shift between neighbouring windows that is eight times the usual one is passed by
noise once in millions of windows."""

_POINTS_PER_DECADE: Final = 8
_LEAST_PAIRS: Final = 4
"""Own choice: below about four clusters an Allan deviation says little (its relative error is
about 1/sqrt(2(M-1)), so 40 per cent)."""


def _unrest(reading: Array, window: int) -> Array:
    """Scatter about each reading, over all axes, in a centred window; shape (n,).

    By running sums about the median, so that an hour at a kilohertz costs one pass.
    """
    centred = reading - np.median(reading, axis=0)
    mean, mean_square = _running_mean(centred, window), _running_mean(centred**2, window)
    scatter = np.sqrt(np.clip(mean_square - mean**2, 0.0, None).sum(axis=1))
    return np.pad(scatter, (window // 2, window - 1 - window // 2), mode="edge")


def _running_mean(reading: Array, window: int) -> Array:
    """Mean over each window, shape (n - window + 1, axes)."""
    total = np.vstack([np.zeros(reading.shape[1]), np.cumsum(reading, axis=0)])
    return (total[window:] - total[:-window]) / window


def find_rests(
    reading: Array,
    rate_hz: float,
    *,
    most_unrest: float,
    least_s: float = 1.0,
    least_shift: float = np.inf,
    breaks: Sequence[int] = (),
) -> tuple[Run, ...]:
    """Still stretches of a reading with one or more axes.

    Args:
        reading: Readings, shape (n, axes), one unit, no NaN.
        rate_hz: Readings per second.
        most_unrest: Scatter, in the unit of the readings, above which nothing counts as still,
            however noisy the rest of the capture is.
        least_s: Shortest stretch that counts, s.
        least_shift: Shift of the mean from one window to the next, in the unit of the readings,
            that may be a movement too slow to stand out of the noise; not looked for when
            infinite.
        breaks: Indices of readings before which some are missing; no stretch crosses one.

    Returns:
        The stretches, each without a quarter of a window on both sides in which a movement may
        still show. No stretch when the capture is too short or moves all the time.

    Source: moving-variance detector of Tedaldi, Pretto and Menegatti (ICRA 2014), with the
    floor from the quiet windows themselves in place of an initial rest.
    """
    window = max(_LEAST_WINDOW, round(WINDOW_S * rate_hz))
    if reading.shape[0] < 2 * window:
        return ()
    unrest = _unrest(reading, window)
    quiet = unrest[unrest <= np.quantile(unrest, _FLOOR_QUANTILE)]
    floor = max(float(np.median(quiet)), _flicker(reading))
    ratio = max(_UNREST_RATIO, _noise_ratio((window - 1) * reading.shape[1]))
    still = unrest <= min(ratio * floor, most_unrest)
    if np.isfinite(least_shift):
        still &= ~_drifting(reading, window, unrest <= np.median(quiet), least_shift)
    still[[index for index in breaks if 0 < index < still.size]] = False
    least = max(2, round(least_s * rate_hz))
    inner = (_inside(run, reading.shape[0], window // 4) for run in runs_of(still))
    return tuple(run for run in inner if len(run) >= least)


def _noise_ratio(dof: int) -> float:
    """How far the scatter of a window of noise rises above that of the quiet windows.

    It is more than `_UNREST_RATIO` where few readings make a window: a slow logger's, of one axis.

    Source: the sum of squares of normal noise follows chi-squared with ``dof`` degrees of freedom;
    the floor is the median of the quietest, and so its quantile at half of their share.
    """
    loudest, quietest = chi2_quantile(1.0 - _RARE, dof), chi2_quantile(0.5 * _FLOOR_QUANTILE, dof)
    return math.sqrt(loudest / quietest)


def _drifting(reading: Array, window: int, quiet: Flags, least_shift: float) -> Flags:
    """Readings in a movement too slow to stand out of the noise within one window; shape (n,).

    The means of the windows before and after each reading are compared, against what those of the
    quiet readings differ by.
    """
    means = _running_mean(reading - reading[0], window)
    shift = np.linalg.norm(means[window:] - means[:-window], axis=1)
    shift = np.pad(shift, (window, reading.shape[0] - window - shift.size), mode="edge")
    usual = float(np.median(shift[quiet]))
    moving: Flags = shift > max(least_shift, _SHIFT_RATIO * usual)
    return moving


def _flicker(reading: Array) -> float:
    """Scatter of a reading that flickers between two neighbouring steps, all axes together.

    A coarse converter can show no scatter at all in its quietest windows; without this every
    flicker would pass for a movement.
    """
    steps = [np.diff(np.unique(axis)) for axis in reading.T]
    return 0.5 * float(np.linalg.norm([step.min() for step in steps if step.size]))


def _inside(run: Run, count: int, margin: int) -> Run:
    """The run without the margins in which a movement beside it still shows."""
    first = run.first + margin if run.first else 0
    stop = run.stop - margin if run.stop < count else count
    return Run(first, max(first, stop))


def overlapping_deviation(reading: Array, cluster: int) -> float:
    """Overlapping Allan deviation, in the unit of the readings, of averages over a cluster.

    Args:
        reading: Readings at an even pace, shape (n,), no NaN.
        cluster: Readings in one average, m, with 2 m at most n.

    Returns:
        Deviation, in the unit of the readings.

    Raises:
        ValueError: Fewer than two clusters.

    Source: NIST SP 1065 (Riley 2008), equation 11, with readings in place of fractional
    frequency.
    """
    if cluster < 1 or 2 * cluster > reading.size:
        raise ValueError(f"clusters of {cluster} in {reading.size} readings; at least two must fit")
    total = np.concatenate(([0.0], np.cumsum(reading - reading.mean())))
    average = (total[cluster:] - total[:-cluster]) / cluster
    step = average[cluster:] - average[:-cluster]
    return float(np.sqrt(0.5 * np.mean(step**2)))


def allan_curve(reading: Array, rate_hz: float) -> tuple[Array, Array]:
    """Overlapping Allan deviation at evenly spread averaging times.

    Args:
        reading: Readings at an even pace, shape (n,), any unit, no NaN.
        rate_hz: Readings per second.

    Returns:
        Averaging times, s, rising, from one reading to a quarter of the series, shape (k,); and
        the deviation at each, in the unit of the readings, shape (k,).

    Raises:
        ValueError: Too few readings for a single point.

    Source: NIST SP 1065, equation 11; the longest time is own choice, see `_LEAST_PAIRS`.
    """
    longest = reading.size // _LEAST_PAIRS
    if longest < 1:
        raise ValueError(f"{reading.size} readings; at least {_LEAST_PAIRS} are needed")
    steps = int(np.ceil(np.log10(longest) * _POINTS_PER_DECADE)) + 1
    clusters = np.unique(np.round(np.geomspace(1, longest, steps)).astype(int))
    sigma = np.array([overlapping_deviation(reading, int(m)) for m in clusters])
    return clusters / rate_hz, sigma
