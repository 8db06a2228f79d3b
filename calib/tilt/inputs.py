"""The tilt channels of a rig: which columns they are, and their readings in degrees and g."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.columns import column_index, refuse_wrong_gravity, refuse_wrong_unit
from calib.store.conversion import STANDARD_GRAVITY_M_S2, base_unit, rails, step, to_base
from calib.store.rig import Channel, Rig, Role, Truing
from calib.store.text import neutral
from calib.tilt.attitude import Array
from calib.tilt.geometry import normal_gravity_m_s2
from calib.tilt.series import TiltSeries

ACCEL: tuple[Literal["accel-x"], Literal["accel-y"], Literal["accel-z"]] = (
    "accel-x", "accel-y", "accel-z",
)  # fmt: skip
"""The accelerometer's roles, in the order of the vehicle's axes."""
_ANGLES: tuple[Role, ...] = ("pitch", "roll")


def in_axes(truing: Truing, axes: tuple[str, str, str]) -> tuple[Array, Array] | None:
    """The truing for axes that may have been exchanged or turned over since.

    Args:
        truing: As ``calib poses`` wrote it.
        axes: What is accel-x, -y and -z now, as `TiltInputs.axes` has it.

    Returns:
        Bias, g, shape (3,), and matrix, shape (3, 3), of the same truing in those axes: force =
        matrix · (reading - bias). None where they are not the columns that were trued; a truing
        that names no columns is taken for these.

    Source: change of basis: with r' = P·r, bias' = P·bias and matrix' = P·matrix·Pᵀ.
    """
    bias, matrix = np.array(truing.bias), np.array(truing.matrix)
    if truing.columns is None:
        return bias, matrix
    turn = np.zeros((3, 3))
    for row, now in enumerate(axes):
        for place, then in enumerate(truing.columns):
            if now.lstrip("-") == then.lstrip("-"):
                turn[row, place] = 1.0 if now == then else -1.0
    if not np.array_equal(np.abs(turn).sum(axis=0), np.ones(3)):
        return None
    return turn @ bias, turn @ matrix @ turn.T


@dataclass(frozen=True)
class TiltInputs:
    """The tilt channels that a line carries.

    Attributes:
        rig: The rig file.
        places: Channel name and column place by role.
    """

    rig: Rig
    places: dict[Role, tuple[str, int]]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the channels, in the order of their roles."""
        return tuple(name for name, _ in self.places.values())

    @property
    def pitch_name(self) -> str | None:
        """Name of the angle channel that is judged; None where the accelerometer is."""
        place = self.places.get("pitch")
        return None if place is None else place[0]

    @property
    def has_force(self) -> bool:
        """Whether there is a three-axis accelerometer."""
        return all(role in self.places for role in ACCEL)

    @property
    def range_g(self) -> float | None:
        """Largest force, g, that every axis can show; None where the rig file does not say."""
        ranges = [self._channel(role).range_g for role in ACCEL if role in self.places]
        return min((each for each in ranges if each is not None), default=None)

    @property
    def gravity_g(self) -> float:
        """What |g| at rest must be, in g: normal gravity for a sensor that sends m/s², else 1.

        Source: a sensor in g or counts is scaled by its maker to local gravity, whatever it is
        (common practice); one in m/s² says what it means.
        """
        latitude_deg = self.rig.tilt.latitude_deg
        if not self.has_force or latitude_deg is None or self._channel("accel-z").unit != "m/s2":
            return 1.0
        return normal_gravity_m_s2(latitude_deg) / STANDARD_GRAVITY_M_S2

    def step_deg(self) -> float:
        """Step of the pitch reading, degrees; 0 where the rig file does not say."""
        if "pitch" in self.places:
            channel = self._channel("pitch")
            width = step(channel) or 0.0
            return abs(width / (channel.sensitivity_V_per_deg or 1.0))
        if not self.has_force:
            return 0.0
        return float(np.degrees(step(self._channel("accel-x")) or 0.0))

    def pitch_limits_deg(self) -> tuple[float, float] | None:
        """Lowest and highest pitch, degrees, that the converter can give; None if unknown."""
        if "pitch" not in self.places:
            return None
        channel = self._channel("pitch")
        ends = rails(channel)
        if ends is None:
            return None
        low, high = sorted(float(_angle(channel, np.array(end))) for end in ends)
        return low, high

    def series(self, values: Array, rate_hz: float, breaks: Sequence[int] = ()) -> TiltSeries:
        """Readings in degrees and g.

        Args:
            values: Numbers as received, one column per column of the line, shape (n, columns).
            rate_hz: Readings per second.
            breaks: Indices of readings before which some are missing.
        """
        pitch, roll = (self._angle_of(role, values) for role in _ANGLES)
        return TiltSeries(rate_hz, pitch, roll, self._force(values), tuple(breaks))

    @property
    def axes(self) -> tuple[str, str, str]:
        """The accelerometer's columns with their signs, such as ``-ay``; there is a whole one."""
        channels = (self._channel(role) for role in ACCEL)
        x, y, z = (f"{'-' if each.sign < 0 else ''}{each.column}" for each in channels)
        return x, y, z

    def truing(self) -> tuple[Array, Array] | None:
        """The accelerometer's truing in the axes of now; None without one that belongs to them."""
        truing = self.rig.tilt.truing
        return None if truing is None or not self.has_force else in_axes(truing, self.axes)

    def refuse_wrong_units(self, values: Array) -> None:
        """Refuse readings that the units of the rig file cannot give.

        Args:
            values: Numbers as received, shape (n, columns).

        Raises:
            UsageError: A channel's numbers are in another unit, by the look of them.
        """
        for name, place in self.places.values():
            refuse_wrong_unit(self.rig, name, values[:, place])
        if self.has_force:
            names, places = zip(*(self.places[role] for role in ACCEL), strict=True)
            received = values[:, list(places)]
            refuse_wrong_gravity(self.rig, names, received, self._untrued(values))

    def _channel(self, role: Role) -> Channel:
        return self.rig.channels[self.places[role][0]]

    def _angle_of(self, role: Role, values: Array) -> Array | None:
        if role not in self.places:
            return None
        channel = self._channel(role)
        return _angle(channel, to_base(channel, values[:, self.places[role][1]]))

    def _force(self, values: Array) -> Array | None:
        if not self.has_force:
            return None
        force = self._untrued(values)
        truing = self.truing()
        if truing is None:
            return force
        bias_g, matrix = truing
        trued: Array = (force - bias_g) @ matrix.T
        return trued

    def _untrued(self, values: Array) -> Array:
        """Force, g, by the rig file's units alone, shape (n, 3)."""
        return np.column_stack(
            [to_base(self._channel(role), values[:, self.places[role][1]]) for role in ACCEL]
        )


def find_inputs(rig: Rig, columns: Sequence[str]) -> TiltInputs:
    """The tilt channels that a line carries.

    Args:
        rig: The rig file.
        columns: Names of the line's columns.

    Raises:
        UsageError: There is neither a pitch channel nor a whole accelerometer, or one whose unit
            gives no angle or force.
    """
    places: dict[Role, tuple[str, int]] = {}
    for role in (*_ANGLES, *ACCEL):
        for name, channel in rig.with_role(role).items():
            place = column_index(columns, channel.column)
            if place is not None:
                _refuse_unit(rig, name, channel)
                places.setdefault(role, (name, place))
    partial = [role for role in ACCEL if role in places]
    if len(partial) < len(ACCEL):
        for role in partial:
            del places[role]
    if "pitch" not in places and "accel-x" not in places:
        only = f" (only {', '.join(partial)})" if partial else ""
        raise UsageError.of("no-tilt-sensor", path=rig.path, only=only)
    return TiltInputs(rig, places)


def series_of(capture: Capture, rig: Rig) -> tuple[TiltInputs, TiltSeries]:
    """The tilt readings of a capture, with its gaps as breaks.

    Raises:
        UsageError: As `find_inputs`.
    """
    inputs = find_inputs(rig, capture.columns)
    capture.require_clock("telling standing from moving")
    capture = capture.where_present([place for _, place in inputs.places.values()])
    values = np.column_stack([capture.values[name] for name in capture.columns])
    inputs.refuse_wrong_units(values)
    return inputs, inputs.series(values, capture.rate_hz or 1.0, capture.gap_indices)


def _angle(channel: Channel, base: Array) -> Array:
    """Degrees of a reading in the channel's base unit."""
    if base_unit(channel) == "V":
        zero_V, slope = channel.zero_V or 0.0, channel.sensitivity_V_per_deg or 1.0
        return (base - zero_V) / slope
    return base


def _refuse_unit(rig: Rig, name: str, channel: Channel) -> None:
    """Refuse a tilt channel whose unit gives neither an angle nor a force."""
    unit, wanted = base_unit(channel), "deg" if channel.role in _ANGLES else "g"
    in_volts = unit == "V" and wanted == "deg"
    if unit == wanted or (in_volts and channel.sensitivity_V_per_deg):
        return
    key = "counts_per_g" if channel.unit == "count" else "unit"
    if in_volts:
        key = "sensitivity_V_per_deg"
    raise UsageError(
        f"{rig.path}: channel {neutral(name)!r} has role {channel.role!r} and unit "
        f"{channel.unit!r}, which gives no {'angle' if wanted == 'deg' else 'force'}.",
        f"Give '{key}' for it in the rig file.",
    )
