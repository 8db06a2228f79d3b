"""What has come so far of a line: newest and extreme values to show, and rows that grow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from calib.guide.protocols import Reading
from calib.store.conversion import step, to_base
from calib.store.rig import Channel
from calib.store.samples import Samples

Floats = NDArray[np.float64]


@dataclass
class Needle:
    """Newest, lowest and highest of some values, as a page shows them."""

    name: str
    unit: str
    _shown: Reading = field(init=False)
    _noted_s: float = field(init=False, default=0.0)

    def __post_init__(self) -> None:
        """Nothing seen yet."""
        self._shown = Reading(self.name, None, self.unit)

    def note(self, values: Floats, now_s: float) -> None:
        """Take in values, shape (n,), that came at ``now_s`` on the host's clock."""
        values = values[np.isfinite(values)]
        if not len(values):
            return
        was, low, high = self._shown, float(values.min()), float(values.max())
        low = low if was.low is None else min(low, was.low)
        high = high if was.high is None else max(high, was.high)
        self._noted_s = now_s
        self._shown = replace(was, value=float(values[-1]), low=low, high=high)

    def now(self, now_s: float) -> Reading:
        """What it shows at ``now_s``: a value that is no longer fresh says how old it is."""
        return replace(self._shown, age_s=now_s - self._noted_s)


@dataclass
class Gauge(Needle):
    """The needle of one column: a channel's in its base unit, any other's as received."""

    index: int
    channel: Channel | None = None

    def values(self, samples: Samples) -> Floats:
        """Its values in a run of samples, shape (n,)."""
        received = samples.values[:, self.index]
        return received if self.channel is None else to_base(self.channel, received)

    @property
    def code_width(self) -> float:
        """Width of one code of a channel in its base unit; 0 where it is not counted."""
        return 0.0 if self.channel is None else step(self.channel) or 0.0

    def look(self, samples: Samples, now_s: float) -> Reading:
        """Take in a run of samples that was read at ``now_s``, and what it shows then."""
        if len(samples):
            self.note(self.values(samples), now_s)
        return self.now(now_s)


class Growing:
    """An array that grows at its end in amortised constant time."""

    def __init__(self) -> None:
        """Nothing is in it; what comes first says how wide it is."""
        self._room: Floats = np.empty(0)
        self._count = 0

    def extend(self, more: Floats) -> None:
        """Append ``more``, of shape (m,) or (m, width)."""
        needed = self._count + len(more)
        if needed > len(self._room):
            room = np.empty((max(4096, needed, 2 * len(self._room)), *more.shape[1:]))
            if self._count:
                room[: self._count] = self.array
            self._room = room
        self._room[self._count : needed] = more
        self._count = needed

    @property
    def array(self) -> Floats:
        """All of it so far, as a view; shape (n,) or (n, width)."""
        return self._room[: self._count]


class Seen:
    """Times and readings so far: of some channels in their base units, or of all as received."""

    def __init__(self, gauges: Sequence[Gauge] | None = None) -> None:
        """Look at the channels of ``gauges``; at every column without them."""
        self._received = gauges is None
        self.gauges = {gauge.name: gauge for gauge in gauges or ()}
        self._times, self._rows = Growing(), Growing()

    def take(self, samples: Samples) -> None:
        """Take in a run of samples."""
        if not len(samples):
            return
        self._times.extend(samples.time_s)
        if self._received:
            self._rows.extend(samples.values)
        elif self.gauges:
            columns = [gauge.values(samples) for gauge in self.gauges.values()]
            self._rows.extend(np.column_stack(columns))

    def __len__(self) -> int:
        """Count of samples."""
        return len(self.time_s)

    @property
    def time_s(self) -> Floats:
        """Times so far, s, shape (n,)."""
        return self._times.array

    @property
    def rows(self) -> Floats:
        """Readings so far, shape (n, channels or columns)."""
        return self._rows.array

    def values(self, name: str) -> Floats:
        """Readings of one channel so far, shape (n,)."""
        return self.rows[:, list(self.gauges).index(name)]

    @property
    def now_s(self) -> float:
        """Device time of the newest sample, s; 0 before the first."""
        return float(self.time_s[-1]) if len(self) else 0.0

    def since(self, start_s: float) -> slice:
        """What cuts times and readings to those from ``start_s`` on."""
        return slice(int(np.searchsorted(self.time_s, start_s)), None)

    def thinned(self, start_s: float, most_hz: float) -> tuple[slice, float]:
        """What cuts as ``since`` and keeps about ``most_hz`` readings a second; and their rate.

        It is in Hz, and 0 before it is known.
        """
        first = self.since(start_s).start
        rate_hz = _rate_hz(self.time_s[first:])
        stride = max(1, round(rate_hz / most_hz))
        return slice(first, None, stride), rate_hz / stride

    @property
    def rate_hz(self) -> float:
        """Median rate over the newest second or so, Hz; 0 before it is known."""
        newest = self.time_s[-500:]
        return _rate_hz(newest) if len(newest) > 2 else 0.0


def _rate_hz(time_s: Floats) -> float:
    """Median rate of some times, Hz; 0 where they do not tell it."""
    step_s = float(np.median(np.diff(time_s))) if len(time_s) > 1 else 0.0
    return 1.0 / step_s if step_s > 0.0 else 0.0
