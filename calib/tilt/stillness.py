"""Still stretches of a sensor with one or more axes: where it stands, and how well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

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


@dataclass(frozen=True)
class Still:
    """One still stretch.

    Attributes:
        start: Index of its first reading.
        stop: Index after its last reading.
    """

    start: int
    stop: int

    @property
    def count(self) -> int:
        """Readings in the stretch."""
        return self.stop - self.start


@dataclass(frozen=True)
class Rests:
    """What was found about standing still.

    Attributes:
        stretches: Still stretches in order of time.
        floor: Scatter of the quiet windows, in the unit of the readings, all axes together.
        unrest: Scatter about each reading, same unit, shape (n,).
    """

    stretches: tuple[Still, ...]
    floor: float
    unrest: Array

    def longest(self) -> Still | None:
        """The longest still stretch, or None."""
        return max(self.stretches, key=lambda s: s.count, default=None)


def _unrest(reading: Array, window: int) -> Array:
    """Scatter about each reading, over all axes, in a centred window; shape (n,)."""
    views = sliding_window_view(reading, window, axis=0)
    scatter = np.sqrt(views.var(axis=-1).sum(axis=1))
    return np.pad(scatter, (window // 2, window - 1 - window // 2), mode="edge")


def find_rests(
    reading: Array,
    rate_hz: float,
    *,
    most_unrest: float,
    least_s: float = 1.0,
    breaks: Sequence[int] = (),
) -> Rests:
    """Still stretches of a reading with one or more axes.

    Args:
        reading: Readings, shape (n, axes), one unit, no NaN.
        rate_hz: Readings per second.
        most_unrest: Scatter, in the unit of the readings, above which nothing counts as still,
            however noisy the rest of the capture is.
        least_s: Shortest stretch that counts, s.
        breaks: Indices of readings before which some are missing; no stretch crosses one.

    Returns:
        The stretches, each without the half window on both sides in which a movement still
        shows, and the floor of scatter against which they were judged. No stretch when the
        capture is too short or moves all the time.

    Source: moving-variance detector of Tedaldi, Pretto and Menegatti (ICRA 2014), with the
    floor from the quiet windows themselves in place of an initial rest.
    """
    window = max(_LEAST_WINDOW, round(WINDOW_S * rate_hz))
    if reading.shape[0] < 2 * window:
        return Rests((), float("inf"), np.zeros(reading.shape[0]))
    unrest = _unrest(reading, window)
    quiet = unrest[unrest <= np.quantile(unrest, _FLOOR_QUANTILE)]
    floor = max(float(np.median(quiet)), _flicker(reading))
    still = unrest <= min(_UNREST_RATIO * floor, most_unrest)
    still[[index for index in breaks if 0 < index < still.size]] = False
    least = max(2, round(least_s * rate_hz))
    inner = (_inside(run, reading.shape[0], window // 2) for run in _runs(still))
    return Rests(tuple(s for s in inner if s.count >= least), floor, unrest)


def _flicker(reading: Array) -> float:
    """Scatter of a reading that flickers between two neighbouring steps, all axes together.

    A coarse converter can show no scatter at all in its quietest windows; without this every
    flicker would pass for a movement.
    """
    steps = [np.diff(np.unique(axis)) for axis in reading.T]
    return 0.5 * float(np.linalg.norm([step.min() for step in steps if step.size]))


def _runs(still: Flags) -> list[Still]:
    """The runs of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], still, [False])).astype(np.int8)))
    return [Still(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _inside(run: Still, count: int, margin: int) -> Still:
    """The run without the margins in which a movement beside it still shows."""
    start = run.start + margin if run.start else 0
    stop = run.stop - margin if run.stop < count else count
    return Still(start, max(start, stop))
