"""Capture for a time, or until the person stops."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from calib.guide.protocols import Hold, Step
from calib.guide.seen import Gauge
from calib.guide.watch import Watch
from calib.store.columns import has_column, require_column
from calib.store.conversion import base_unit
from calib.store.rig import Rig


def gauges_for(rig: Rig, columns: Sequence[str], names: Sequence[str]) -> list[Gauge]:
    """A gauge for each of the channels ``names`` that the line carries."""
    return [gauge_for(rig, columns, name) for name in names if has_column(columns, rig, name)]


def gauge_for(rig: Rig, columns: Sequence[str], name: str) -> Gauge:
    """The gauge of one channel.

    Raises:
        UsageError: The line does not carry it.
    """
    channel = rig.channel(name)
    return Gauge(name, base_unit(channel), require_column(columns, rig, name), channel)


@dataclass
class Recording(Watch):
    """An observer that shows live values and has enough after a time.

    Attributes:
        duration_s: Device time to record, s.
    """

    gauges: Sequence[Gauge] = ()
    duration_s: float = math.inf

    def step(self) -> Step:
        """Nothing is asked for."""
        return Step("record", "everything that comes is on disk")

    def is_over(self) -> bool:
        """Whether the time is over."""
        return self.elapsed_s >= self.duration_s


class RestWatch(Recording):
    """A recording of a set time that says to stay away until it is over, and rings then."""

    def step(self) -> Step:
        """Stay away, and how long it has lasted."""
        hold = Hold(min(self.elapsed_s, self.duration_s), self.duration_s)
        return Step("hands off", "let it rest; nobody near it, no fan, no door", hold=hold)

    def is_over(self) -> bool:
        """Whether the time is over."""
        return super().is_over() and self.done()
