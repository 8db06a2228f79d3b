"""Missing readings held at the last one, for whoever looks on while samples come.

Observers only decide when enough was captured. What is judged is the capture, where a missing
reading stays missing.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.store.samples import Samples


def held(values: NDArray[np.float64], before: float = np.nan) -> NDArray[np.float64]:
    """Readings with each missing one as the last that was there; ``before`` where none was.

    Args:
        values: Readings, shape (n,); NaN where missing.
        before: The last reading before them.
    """
    missing = np.isnan(values)
    if not missing.any():
        return values
    latest = np.maximum.accumulate(np.where(missing, -1, np.arange(len(values))))
    filled: NDArray[np.float64] = np.where(latest < 0, before, values[latest])
    return filled


class Holder:
    """Holds the last reading of each column from one run of samples to the next."""

    def __init__(self) -> None:
        """Nothing came yet."""
        self._last: NDArray[np.float64] | None = None

    def take(self, samples: Samples) -> Samples:
        """The samples with their missing readings held; as they are where none is missing."""
        if not len(samples):
            return samples
        values = samples.values
        if np.isnan(values).any():
            before = np.full(values.shape[1], np.nan) if self._last is None else self._last
            columns = [held(values[:, k], float(before[k])) for k in range(values.shape[1])]
            values = np.column_stack(columns)
            samples = replace(samples, values=values)
        self._last = values[-1]
        return samples
