"""From numbers as received to volts, degrees, g and degrees Celsius."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from calib.store.rig import Channel

STANDARD_GRAVITY_M_S2 = 9.80665  # CGPM 1901, exact by definition

_BASE_UNIT = {
    "count": "V", "V": "V", "mV": "V", "deg": "deg", "rad": "deg", "g": "g", "mg": "g",
    "m/s2": "g", "deg/s": "deg/s", "rad/s": "deg/s", "degC": "degC", "degF": "degC", "raw": "raw",
}  # fmt: skip


def base_unit(channel: Channel) -> str:
    """The unit in which a channel is analysed: V, deg, g, deg/s, degC or raw."""
    if channel.unit == "count" and channel.counts_per_g is not None:
        return "g"
    return _BASE_UNIT[channel.unit]


def to_base(channel: Channel, received: NDArray[np.float64]) -> NDArray[np.float64]:
    """A channel's readings in its base unit; volts are at the wire.

    Counts become volts at the middle of the code of a converter that rounds down:
    (count + 0.5) * reference / full scale * divider; then gain and offset where the channel was
    trued.

    Args:
        channel: What the column carries.
        received: Numbers as received, any shape.

    Returns:
        Same shape, in ``base_unit(channel)``.

    Source: converter transfer as in the data sheet of a common 8-bit microcontroller
    (code = floor(V * codes / reference)); rad, mV, degF by definition; g by CGPM 1901.
    """
    slope, intercept = affine(channel)
    return received * slope + intercept


def affine(channel: Channel) -> tuple[float, float]:
    """Slope and intercept that take a number as received to the channel's base unit."""
    slope, intercept = _untrued_affine(channel)
    if channel.scale is not None and base_unit(channel) == "V":
        return (
            slope * channel.scale.gain,
            intercept * channel.scale.gain + channel.scale.offset_V,
        )
    return slope, intercept


def step(channel: Channel) -> float | None:
    """The width of one code in the base unit; None where numbers are not counts."""
    return affine(channel)[0] if channel.unit == "count" else None


def rails(channel: Channel) -> tuple[float, float] | None:
    """Lowest and highest value that the converter can give, in volts; None if unknown."""
    if channel.unit != "count" or channel.full_scale is None or channel.counts_per_g is not None:
        return None
    slope, intercept = affine(channel)
    return intercept, slope * (channel.full_scale - 1) + intercept


def _untrued_affine(channel: Channel) -> tuple[float, float]:
    if channel.unit == "count":
        if channel.counts_per_g is not None:
            slope = 1.0 / channel.counts_per_g
            return slope, -(channel.zero_count or 0.0) * slope
        full_scale = channel.full_scale or math.nan
        slope = (channel.reference_V or math.nan) / full_scale * channel.divider
        return slope, 0.5 * slope
    if channel.unit == "mV":
        return 1e-3 * channel.divider, 0.0
    if channel.unit == "V":
        return channel.divider, 0.0
    if channel.unit == "degF":
        return 5.0 / 9.0, -32.0 * 5.0 / 9.0
    factor = {
        "rad": math.degrees(1.0),
        "rad/s": math.degrees(1.0),
        "mg": 1e-3,
        "m/s2": 1.0 / STANDARD_GRAVITY_M_S2,
    }
    return factor.get(channel.unit, 1.0), 0.0
