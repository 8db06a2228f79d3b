"""Seeded noise that continues from block to block, whatever the blocks' length."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Array = NDArray[np.float64]

# Time constants a decade apart make a sum of relaxations fall as 1/f to within a decibel or two.
FLICKER_TAUS_S = (0.03, 0.3, 3.0, 30.0)


class Relaxation:
    """Unit-variance first-order noise (AR(1)) of one time constant, for several columns at once."""

    def __init__(self, rng: np.random.Generator, tau_s: float, rate_hz: float, width: int) -> None:
        """Start in the steady state, so that the first sample is as wide as the last."""
        self._rng = rng
        self._width = width
        self._rho = float(np.exp(-1.0 / (tau_s * rate_hz)))
        self._state = self._rho * rng.standard_normal((1, width))

    def block(self, samples: int) -> Array:
        """Return the next samples, shape (samples, width), standard deviation 1."""
        white = self._rng.standard_normal((samples, self._width))
        white *= np.sqrt(1.0 - self._rho**2)
        out, self._state = lfilter([1.0], [1.0, -self._rho], white, axis=0, zi=self._state)
        return np.asarray(out, dtype=np.float64)


class Flicker:
    """Unit-variance noise whose power falls roughly as 1/f from about 5 Hz to 0.005 Hz."""

    def __init__(self, rng: np.random.Generator, rate_hz: float, width: int) -> None:
        """Give every time constant its own stream."""
        streams = rng.spawn(len(FLICKER_TAUS_S))
        self._parts = [
            Relaxation(stream, tau_s, rate_hz, width)
            for stream, tau_s in zip(streams, FLICKER_TAUS_S, strict=True)
        ]

    def block(self, samples: int) -> Array:
        """Return the next samples, shape (samples, width), standard deviation 1."""
        total = self._parts[0].block(samples)
        for part in self._parts[1:]:
            total += part.block(samples)
        total /= np.sqrt(len(self._parts))
        return total
