"""What has come so far of the channels that a check looks at."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from calib.checks.limits import limit
from calib.guide.growing import Growing
from calib.store.columns import column_index
from calib.store.conversion import step, to_base
from calib.store.rig import Rig
from calib.store.samples import Samples

Floats = NDArray[np.float64]


class Seen:
    """Readings of several channels in their base units, growing."""

    def __init__(self, rig: Rig, columns: Sequence[str], names: Sequence[str]) -> None:
        """Look at the channels ``names`` that the line carries."""
        self._rig = rig
        places = {name: column_index(columns, rig.channels[name].column) for name in names}
        self._places = {name: place for name, place in places.items() if place is not None}
        self._time_s = Growing()
        self._values = {name: Growing() for name in self._places}

    def take(self, samples: Samples) -> None:
        """Take in a run of samples."""
        if not len(samples):
            return
        self._time_s.extend(samples.time_s)
        for name, place in self._places.items():
            self._values[name].extend(to_base(self._rig.channels[name], samples.values[:, place]))

    def __len__(self) -> int:
        """Count of samples."""
        return len(self._time_s)

    @property
    def names(self) -> tuple[str, ...]:
        """The channels that the line carries."""
        return tuple(self._places)

    def limit(self, limit_name: str, name: str) -> float:
        """A limit of a channel: the rig file's own, else the table's."""
        return limit(limit_name, self._rig.channels[name])

    @property
    def now_s(self) -> float:
        """Device time of the newest sample, s; 0 before the first."""
        return float(self._time_s.array[-1]) if len(self._time_s) else 0.0

    @property
    def rate_hz(self) -> float:
        """Median rate over the newest second or so, Hz; 0 before it is known."""
        newest = self._time_s.array[-500:]
        step_s = float(np.median(np.diff(newest))) if newest.shape[0] > 2 else 0.0
        return 1.0 / step_s if step_s > 0.0 else 0.0

    def since(self, start_s: float) -> tuple[Floats, slice]:
        """Times from ``start_s`` on, s, and the slice that cuts the values to them."""
        time_s = self._time_s.array
        first = int(np.searchsorted(time_s, start_s))
        return time_s[first:], slice(first, None)

    def values(self, name: str) -> Floats:
        """Readings of one channel, shape (n,)."""
        return self._values[name].array

    def code_width(self, name: str) -> float:
        """Width of one code of a channel in its base unit; 0 where it is not counted."""
        return step(self._rig.channels[name]) or 0.0
