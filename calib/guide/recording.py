"""Capture for a time, or until the person stops."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from calib.guide.protocols import Person, Reading, Step
from calib.guide.telling import Telling
from calib.store.columns import column_index, require_column
from calib.store.conversion import base_unit, to_base
from calib.store.rig import Rig
from calib.store.samples import Samples


@dataclass
class Gauge:
    """Newest, lowest and highest value of one channel, in its base unit."""

    name: str
    index: int
    rig: Rig
    reading: Reading = field(init=False)
    _seen_s: float = 0.0

    def __post_init__(self) -> None:
        """Nothing seen yet."""
        self.reading = Reading(
            channel=self.name, value=None, unit=base_unit(self.rig.channels[self.name])
        )

    def look(self, samples: Samples, now_s: float) -> Reading:
        """Take in a run of samples that was read at ``now_s`` on the host's clock."""
        if len(samples):
            values = to_base(self.rig.channels[self.name], samples.values[:, self.index])
            values = values[np.isfinite(values)]
            if not len(values):
                return self.now(now_s)
            low, high = float(values.min()), float(values.max())
            was = self.reading
            self._seen_s = now_s
            self.reading = Reading(
                channel=self.name,
                value=float(values[-1]),
                unit=was.unit,
                low=low if was.low is None else min(low, was.low),
                high=high if was.high is None else max(high, was.high),
            )
        return self.now(now_s)

    def now(self, now_s: float) -> Reading:
        """The reading as it is at ``now_s``: a value that is no longer fresh says how old it is."""
        was = self.reading
        return Reading(was.channel, was.value, was.unit, was.low, was.high, now_s - self._seen_s)


def gauges_for(rig: Rig, columns: Sequence[str], names: Sequence[str]) -> list[Gauge]:
    """A gauge for each of the channels ``names`` that the line carries."""
    places = [(name, column_index(columns, rig.channels[name].column)) for name in names]
    return [Gauge(name, index, rig) for name, index in places if index is not None]


def gauge_for(rig: Rig, columns: Sequence[str], name: str) -> Gauge:
    """The gauge of one channel.

    Raises:
        UsageError: The line does not carry it.
    """
    return Gauge(name, require_column(columns, rig, name), rig)


class Recording:
    """An observer that shows live values and has enough after a time."""

    def __init__(
        self,
        person: Person,
        gauges: Sequence[Gauge],
        *,
        duration_s: float | None,
        clock: Callable[[], float],
    ) -> None:
        """Prepare to look on.

        Args:
            person: Sees the live values.
            gauges: The channels to show.
            duration_s: Device time to record; until stopped when None.
            clock: The host's clock in seconds.
        """
        self._gauges = gauges
        self._duration_s = duration_s
        self._clock = clock
        self._telling = Telling(person, clock)

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        self._telling.take(samples)
        elapsed_s = self._telling.elapsed_s
        now_s = self._clock()
        readings = tuple(gauge.look(samples, now_s) for gauge in self._gauges)
        self._telling.show(self.step(elapsed_s), readings)
        return self._duration_s is not None and elapsed_s >= self._duration_s

    def step(self, elapsed_s: float) -> Step:  # noqa: ARG002 (another recording may count it)
        """What the person is told after so many seconds of device time."""
        return Step("record", "everything that comes is on disk")
