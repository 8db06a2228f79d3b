"""Seeded noise that continues from block to block, whatever the blocks' length."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Time constants a decade apart make a sum of relaxations fall as 1/f to within a decibel or two.
FLICKER_TAUS_S = (0.03, 0.3, 3.0, 30.0)


_AHEAD = 256
"""Samples that are made at once; own choice, and what is sent does not depend on it."""


class Relaxation:
    """Unit-variance first-order noise (AR(1)) of one time constant, for several columns at once."""

    def __init__(self, rng: np.random.Generator, tau_s: float, rate_hz: float, width: int) -> None:
        """Start in the steady state, so that the first sample is as wide as the last."""
        self._rng = rng
        self._rho = float(np.exp(-1.0 / (tau_s * rate_hz)))
        after = np.subtract.outer(np.arange(_AHEAD), np.arange(_AHEAD))
        self._kept = np.where(after < 0, 0.0, self._rho ** np.maximum(after, 0))
        self._last = rng.standard_normal((1, width))
        self._made = self._last[1:]

    def block(self, samples: int) -> Array:
        """Return the next samples, shape (samples, width), standard deviation 1."""
        made = [self._made]
        for _ in range(-(-(samples - len(self._made)) // _AHEAD)):
            new = self._rng.standard_normal((_AHEAD, self._last.shape[1]))
            new *= np.sqrt(1.0 - self._rho**2)
            new[:1] += self._rho * self._last
            made.append(self._kept @ new)
            self._last = made[-1][-1:]
        ready = np.concatenate(made)
        self._made = ready[samples:]
        return ready[:samples]


class Flicker:
    """Unit-variance noise whose power falls roughly as 1/f from about 5 Hz to 0.005 Hz."""

    def __init__(self, rng: np.random.Generator, rate_hz: float, width: int) -> None:
        """Give every time constant its own stream."""
        parts = zip(rng.spawn(len(FLICKER_TAUS_S)), FLICKER_TAUS_S, strict=True)
        self._parts = [Relaxation(stream, tau_s, rate_hz, width) for stream, tau_s in parts]

    def block(self, samples: int) -> Array:
        """Return the next samples, shape (samples, width), standard deviation 1."""
        total = np.sum([part.block(samples) for part in self._parts], axis=0)
        return np.asarray(total / np.sqrt(len(self._parts)), dtype=np.float64)
