"""What whoever looks on is given: even times where stamps are ragged, no reading missing.

Observers only decide when enough was captured. The clock model is that of the judged capture
(`calib/measure/pace.py`), given the newest stamps, and a missing reading is held at the last one;
the capture keeps stamps and readings as they came.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.guide.protocols import Line
from calib.measure.pace import find_pace
from calib.store.samples import EventKind, Samples

Floats = NDArray[np.float64]

LOOK_BACK = 2048
"""Newest samples whose stamps are looked at: own choice, fifty bursts of forty."""

LOOK_EVERY_S = 0.1
"""Time between two looks at the stamps: own choice, half of that between two counts of presses."""


class Pacer:
    """Lays an even time through ragged stamps as they come; even stamps pass as they are."""

    def __init__(self) -> None:
        """Nothing came yet."""
        self._stamps_s: Floats = np.empty(0)
        self._looked_s = -math.inf
        self._step_s: float | None = None  # where stamps are ragged
        self._last_s = -math.inf

    def take(self, samples: Samples) -> Samples:
        """The samples with even times, and without gaps that were only waits for a burst."""
        count = len(samples)
        if not count:
            return samples
        stamps_s = samples.time_s
        self._stamps_s = np.concatenate([self._stamps_s, stamps_s])[-max(LOOK_BACK, count) :]
        times_s: NDArray[np.floating] = stamps_s
        if stamps_s[-1] - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = float(stamps_s[-1])
            times_s = self._looked_at(count)
        elif self._step_s is not None:
            times_s = self._last_s + self._step_s * np.arange(1, count + 1)
        even_s: Floats = np.maximum.accumulate(np.maximum(times_s, self._last_s)).astype(
            np.float64, copy=False
        )
        self._last_s = float(even_s[-1])
        if self._step_s is None:
            return samples if even_s[0] == stamps_s[0] else replace(samples, time_s=even_s)
        events = [event for event in samples.events if event.kind is not EventKind.GAP]
        return replace(samples, time_s=even_s, events=events)

    def _looked_at(self, count: int) -> Floats:
        """Times of the newest samples by all stamps that are kept, s, shape (count,)."""
        pace = find_pace(self._stamps_s)
        self._step_s = pace.step_s if pace.laid else None
        if not pace.laid:
            return self._stamps_s[-count:]
        on_time_s = float((self._stamps_s - pace.time_s).min())
        return pace.time_s[-count:] + on_time_s


def held(values: Floats, before: Floats | float = np.nan) -> Floats:
    """Readings with each missing one as the last that was there; ``before`` where none was.

    Args:
        values: Readings, shape (n, columns); NaN where missing.
        before: The last reading of each column before them, shape (columns,).
    """
    missing = np.isnan(values)
    if not missing.any():
        return values
    places = np.arange(len(values))[:, None]
    latest = np.maximum.accumulate(np.where(missing, -1, places), axis=0)
    filled: Floats = np.where(latest < 0, before, np.take_along_axis(values, latest, axis=0))
    return filled


def eased(line: Line) -> Iterator[tuple[Samples, Samples]]:
    """Each run of a line's samples as it came, and as whoever looks on is given it.

    Raises:
        PortError: The cable went, or nothing decodable came.
    """
    pacer = Pacer()
    last: Floats | float = np.nan
    for samples in line.blocks():
        paced = pacer.take(samples)
        if len(paced):
            values = held(paced.values, last)
            last = values[-1]
            paced = paced if values is paced.values else replace(paced, values=values)
        yield samples, paced
