"""On which fixed scale a channel is watched, and how its values are said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from calib.checks.bench.switches import is_on_at
from calib.checks.temperature import degrees, has_thermistor
from calib.controls.supply import ASSUMED_V
from calib.store.conversion import base_unit
from calib.store.rig import Channel, Role

LEAST_MOVE: Final = {"V": 0.1, "g": 0.1, "deg": 2.0, "degC": 2.0, "deg/s": 5.0}
"""Own choice: less than this over the last seconds, in the unit, is noise and no hand."""

ENDS: Final[dict[Role, tuple[float, float]]] = {
    "pitch": (-30.0, 30.0),
    "roll": (-30.0, 30.0),
    "accel-x": (-2.0, 2.0),
    "accel-y": (-2.0, 2.0),
    "accel-z": (-2.0, 2.0),
    "gyro-x": (-250.0, 250.0),
    "gyro-y": (-250.0, 250.0),
    "gyro-z": (-250.0, 250.0),
    "temperature": (-20.0, 150.0),
    "ambient": (-20.0, 60.0),
}
"""Ends of the scale by role, in degrees, g, degrees a second and degC. Own choice: a machine worked
by hand leans no further, and its parts get no warmer, while somebody still stands beside it."""


@dataclass(frozen=True, slots=True)
class Scale:
    """How one channel is shown.

    Attributes:
        channel: What it is.
        unit: Unit in which it is said.
        low: Left end of its scale, in that unit; None where nothing is known of it.
        high: Right end; None likewise.
    """

    channel: Channel
    unit: str
    low: float | None
    high: float | None

    @property
    def is_switch(self) -> bool:
        """Whether its value is a word."""
        return self.channel.role == "switch"

    def value(self, base: float) -> float:
        """A value of the channel's base unit, in the unit in which it is said."""
        about = self.channel
        if self.unit == base_unit(about):
            return base
        if self.unit == "deg":
            return (base - (about.zero_V or 0.0)) / (about.sensitivity_V_per_deg or 1.0)
        celsius = degrees(about, np.array(base))
        return base if celsius is None else float(celsius)

    def words(self, base: float) -> str:
        """The value as it is said: a switch in words, anything else as a number with its unit."""
        if self.is_switch:
            return "on" if is_on_at(self.channel, base) else "off"
        return f"{self.number(base)} {self.unit}"

    def number(self, base: float) -> str:
        """The value without its unit."""
        decimals = {"V": 3, "g": 3, "deg": 2}.get(self.unit, 1)
        return f"{self.value(base):.{decimals}f}"

    def share(self, base: float) -> float | None:
        """Where a value lies between the ends: 0 to 1, or beyond; None without ends."""
        value = self.value(base)
        if self.low is None or self.high is None or not np.isfinite(value):
            return None
        return (value - self.low) / (self.high - self.low)

    def moves(self, low: float, high: float) -> bool:
        """Whether what was seen lately, between two values of the base unit, is more than noise."""
        if self.is_switch:
            return self.words(low) != self.words(high)
        return not abs(self.value(high) - self.value(low)) <= LEAST_MOVE.get(self.unit, 0.0)


def scale_of(channel: Channel) -> Scale:
    """The fixed scale of a channel: 0 to its supply for volts, the limits of its role otherwise."""
    unit, role = base_unit(channel), channel.role
    has_angle = None not in (channel.zero_V, channel.sensitivity_V_per_deg)
    if unit == "V" and role in ("pitch", "roll") and has_angle:
        unit = "deg"
    elif unit == "V" and role in ("temperature", "ambient") and has_thermistor(channel):
        unit = "degC"
    ends = (0.0, _most_V(channel)) if unit == "V" else ENDS.get(role, (None, None))
    return Scale(channel, unit, *ends)


def _most_V(channel: Channel) -> float:
    """Highest voltage of the scale: what feeds a control or switch, else what the logger reads."""
    if channel.supply_V is not None:
        return channel.supply_V
    if channel.role in ("control", "switch") or channel.reference_V is None:
        return ASSUMED_V
    return channel.reference_V * channel.divider
