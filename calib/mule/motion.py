"""What moves, against time: tracks of breakpoints that the hands extend and the sampler reads."""

from __future__ import annotations

from bisect import bisect_right

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Track:
    """One quantity against time, straight between breakpoints, held before and after them."""

    def __init__(self, value: float = 0.0) -> None:
        """Hold one value from the beginning."""
        self._times_s = [-1.0]
        self._values = [value]

    @property
    def last(self) -> float:
        """The value at which the track ends."""
        return self._values[-1]

    @property
    def end_s(self) -> float:
        """The time in s of the last breakpoint."""
        return self._times_s[-1]

    def add(self, times_s: Array, values: Array) -> None:
        """Append breakpoints; what was planned for later than the first of them is dropped."""
        keep = bisect_right(self._times_s, float(times_s[0]))
        del self._times_s[keep:], self._values[keep:]
        self._times_s.extend(float(t) for t in times_s)
        self._values.extend(float(v) for v in values)

    def set(self, time_s: float, value: float) -> None:
        """Append one breakpoint, as for ``add``."""
        self.add(np.array([time_s]), np.array([value]))

    def move(self, start_s: float, duration_s: float, value: float) -> None:
        """Go smoothly to a value; a duration of 0 s is a step."""
        before = float(self.at(np.array([start_s]))[0])
        if duration_s <= 0.0:
            self.add(np.array([start_s, start_s]), np.array([before, value]))
            return
        share = np.linspace(0.0, 1.0, 17)
        self.add(start_s + duration_s * share, before + (value - before) * eased(share))

    def at(self, times_s: Array) -> Array:
        """The value at each of the times in s."""
        return np.interp(times_s, self._times_s, self._values)

    def forget(self, before_s: float) -> None:
        """Drop breakpoints that can no longer matter, so that hours fit in constant memory."""
        keep = bisect_right(self._times_s, before_s) - 1
        if keep > 0:
            del self._times_s[:keep], self._values[:keep]


def eased(share: Array) -> Array:
    """Share of a reaching movement done at a share of its time: the minimum-jerk polynomial.

    Source: Flash and Hogan, J. Neurosci. 5 (1985) 1688 (from memory).
    """
    return share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
