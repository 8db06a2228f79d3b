"""Allan deviation of a long rest: how long to average, and how far a sensor wanders."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from calib.tilt.geometry import Array

_POINTS_PER_DECADE: Final = 8
_LEAST_PAIRS: Final = 4
"""Own choice: below about four clusters an Allan deviation says little (its relative error is
about 1/sqrt(2(M-1)), so 40 per cent)."""


@dataclass(frozen=True)
class AllanCurve:
    """Overlapping Allan deviation of a series.

    Attributes:
        tau_s: Averaging times, s, shape (k,), rising.
        sigma: Deviation at each time, in the unit of the series, shape (k,).
        count: Readings in the series.
    """

    tau_s: Array
    sigma: Array
    count: int

    def best(self) -> tuple[float, float]:
        """The averaging time, s, with the least deviation, and that deviation."""
        at = int(np.argmin(self.sigma))
        return float(self.tau_s[at]), float(self.sigma[at])

    def time_to_reach_s(self, target: float) -> float | None:
        """The least averaging time, s, whose deviation is at most `target`; None if never."""
        reached = np.flatnonzero(self.sigma <= target)
        return float(self.tau_s[reached[0]]) if reached.size else None


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
        message = f"clusters of {cluster} in {reading.size} readings; at least two must fit"
        raise ValueError(message)
    total = np.concatenate(([0.0], np.cumsum(reading - reading.mean())))
    average = (total[cluster:] - total[:-cluster]) / cluster
    step = average[cluster:] - average[:-cluster]
    return float(np.sqrt(0.5 * np.mean(step**2)))


def allan_curve(reading: Array, rate_hz: float) -> AllanCurve:
    """Overlapping Allan deviation at evenly spread averaging times.

    Args:
        reading: Readings at an even pace, shape (n,), any unit, no NaN.
        rate_hz: Readings per second.

    Returns:
        The curve, from one reading to a quarter of the series.

    Raises:
        ValueError: Too few readings for a single point.

    Source: NIST SP 1065, equation 11; the longest time is own choice, see `_LEAST_PAIRS`.
    """
    longest = reading.size // _LEAST_PAIRS
    if longest < 1:
        message = f"{reading.size} readings; at least {_LEAST_PAIRS} are needed"
        raise ValueError(message)
    steps = int(np.ceil(np.log10(longest) * _POINTS_PER_DECADE)) + 1
    clusters = np.unique(np.round(np.geomspace(1, longest, steps)).astype(int))
    sigma = np.array([overlapping_deviation(reading, int(m)) for m in clusters])
    return AllanCurve(tau_s=clusters / rate_hz, sigma=sigma, count=reading.size)
