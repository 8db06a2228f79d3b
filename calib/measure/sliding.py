"""Windows that slide over a signal, their least value and their mean, and runs of flags."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Run:
    """A run of readings: index of the first and index one past the last."""

    first: int
    stop: int

    def __len__(self) -> int:
        """Count of readings."""
        return self.stop - self.first

    def of(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """These readings of all; shape (len, ...) of (n, ...)."""
        return values[self.first : self.stop]


def least_of_each(values: NDArray[Any], width: int) -> NDArray[Any]:
    """Least value of each window of ``width`` points, shape (n - width + 1,) of (n,).

    Source: the least of two overlapping windows is that of what they cover; windows that double
    in width take a logarithm of steps.
    """
    span = 1
    while span < width:
        step = min(span, width - span)
        values = np.minimum(values[:-step], values[step:])
        span += step
    return values


def largest_of_each(values: NDArray[Any], width: int) -> NDArray[Any]:
    """Largest value of each window of ``width`` points, shape (n - width + 1,) of (n,)."""
    return -least_of_each(-values, width)


def least_around(values: NDArray[Any], width: int) -> NDArray[Any]:
    """Least value of the window about each point, cut short at both ends; same shape."""
    return least_of_each(_padded(values, width), width)


def mean_around(values: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    """Mean of the window about each point, the end values repeated beyond; same shape."""
    shares = np.full(width, 1.0 / width)
    mean: NDArray[np.float64] = np.convolve(_padded(values, width), shares, mode="valid")
    return mean


def edges_of(flags: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The first of each run of true flags, and one past its last; shape (runs,) each."""
    edges = np.diff(np.concatenate([[0], flags.view(np.int8), [0]]))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)


def runs_of(flags: NDArray[np.bool_]) -> list[Run]:
    """Runs of true flags, in order."""
    starts, stops = edges_of(flags)
    return [Run(*each) for each in zip(starts.tolist(), stops.tolist(), strict=True)]


def _padded(values: NDArray[Any], width: int) -> NDArray[Any]:
    """The same with its end values repeated, as far as half a window reaches beyond."""
    return np.pad(values, (width // 2, width - 1 - width // 2), mode="edge")
