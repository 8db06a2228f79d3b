"""Capture for a time, or until the person stops."""

from __future__ import annotations

from collections.abc import Sequence

from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.seen import Gauge
from calib.guide.watch import Clock, Watch
from calib.store.columns import column_index, require_column
from calib.store.conversion import base_unit
from calib.store.rig import Rig


def gauges_for(rig: Rig, columns: Sequence[str], names: Sequence[str]) -> list[Gauge]:
    """A gauge for each of the channels ``names`` that the line carries."""
    places = [(name, column_index(columns, rig.channels[name].column)) for name in names]
    return [_gauge(rig, name, index) for name, index in places if index is not None]


def gauge_for(rig: Rig, columns: Sequence[str], name: str) -> Gauge:
    """The gauge of one channel.

    Raises:
        UsageError: The line does not carry it.
    """
    return _gauge(rig, name, require_column(columns, rig, name))


def _gauge(rig: Rig, name: str, index: int) -> Gauge:
    channel = rig.channels[name]
    return Gauge(name, base_unit(channel), index, channel)


class Recording(Watch):
    """An observer that shows live values and has enough after a time."""

    def __init__(
        self,
        person: Person,
        gauges: Sequence[Gauge],
        *,
        duration_s: float | None,
        clock: Clock,
    ) -> None:
        """Prepare to look on.

        Args:
            person: Sees the live values.
            gauges: The channels to show.
            duration_s: Device time to record; until stopped when None.
            clock: The host's clock in seconds.
        """
        super().__init__(person, clock, gauges=gauges)
        self._duration_s = duration_s

    def step(self) -> Step:
        """Nothing is asked for."""
        return Step("record", "everything that comes is on disk")

    def is_over(self) -> bool:
        """Whether the time is over."""
        return self._duration_s is not None and self.elapsed_s >= self._duration_s


class RestWatch(Recording):
    """A recording of a set time that says to stay away until it is over, and rings then."""

    def __init__(
        self, person: Person, gauges: Sequence[Gauge], *, duration_s: float, clock: Clock
    ) -> None:
        """Prepare to look on; arguments as for ``Recording``."""
        super().__init__(person, gauges, duration_s=duration_s, clock=clock)
        self._wanted_s = duration_s

    def step(self) -> Step:
        """Stay away, and how long it has lasted."""
        return Step(
            "hands off",
            "let it rest; nobody near it, no fan, no door",
            hold=Hold(min(self.elapsed_s, self._wanted_s), self._wanted_s),
        )

    def is_over(self) -> bool:
        """Whether the time is over."""
        over = super().is_over()
        if over:
            self.person.sound(Sound.DONE)
        return over
