"""From numbers as received to volts, shares of full scale, degrees, g and degrees Celsius.

Arrays are imported where one is made: what only names a unit starts without them.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from calib.errors import UsageError
from calib.store.rig import Channel, Scale
from calib.store.text import neutral

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

STANDARD_GRAVITY_M_S2 = 9.80665  # CGPM 1901, exact by definition

_UNITS = {
    "count": ("V", math.nan), "V": ("V", 1.0), "mV": ("V", 1e-3),
    "percent": ("%", 0.01), "share": ("%", 1.0),
    "deg": ("deg", 1.0), "rad": ("deg", math.degrees(1.0)),
    "deg/s": ("deg/s", 1.0), "rad/s": ("deg/s", math.degrees(1.0)),
    "g": ("g", 1.0), "mg": ("g", 1e-3), "m/s2": ("g", 1.0 / STANDARD_GRAVITY_M_S2),
    "degC": ("degC", 1.0), "degF": ("degC", 5.0 / 9.0),
    "raw": ("raw", 1.0), "level": ("level", 1.0), "pulses": ("pulses", 1.0),
}  # fmt: skip
"""Each unit's base unit, and how much of that 1 of it is; of a share, how much of the whole."""


def base_unit(channel: Channel) -> str:
    """The unit in which a channel is analysed: V, %, deg, g, deg/s, degC, level, pulses or raw."""
    if channel.unit == "count" and channel.counts_per_g is not None:
        return "g"
    base, _ = _UNITS[channel.unit]
    return "V" if base == "%" and channel.reference_V is not None else base


def require_volts(name: str, channel: Channel) -> None:
    """Refuse a channel that carries no voltage.

    Args:
        name: Of the channel.
        channel: What its column carries.

    Raises:
        UsageError: So it is.
    """
    if base_unit(channel) != "V":
        raise UsageError.of("not-volts", name=neutral(name, 40), unit=channel.unit)


def to_base(channel: Channel, received: NDArray[np.float64]) -> NDArray[np.float64]:
    """A channel's readings in its base unit; volts are at the wire.

    Counts become volts at the middle of the code of a converter that rounds down:
    (count + 0.5) * reference / full scale * divider; a share of full scale has no such half; then
    gain and offset, or the curve, where the channel was trued. An accelerometer's sign comes last.

    Args:
        channel: What the column carries.
        received: Numbers as received, any shape.

    Returns:
        Same shape, in ``base_unit(channel)``.

    Source: converter transfer as in the data sheet of a common 8-bit microcontroller
    (code = floor(V * codes / reference)); rad, mV, degF by definition; g by CGPM 1901.
    """
    slope, intercept = _affine(channel)
    untrued = received * slope + intercept
    if channel.scale is None or base_unit(channel) != "V":
        return untrued
    return trued(channel.scale, untrued)


def trued(scale: Scale, untrued_V: NDArray[np.float64]) -> NDArray[np.float64]:
    """True volts of volts at the wire as read, any shape; beyond the curve its last piece goes on.

    Args:
        scale: As trued.
        untrued_V: Volts at the wire before truing.
    """
    if scale.curve is None:
        return untrued_V * scale.gain + scale.offset_V
    import numpy as np

    raw, true = (np.array([row[place] for row in scale.curve]) for place in (0, 1))
    straight = np.interp(untrued_V, raw, true)
    slopes = np.diff(true) / np.diff(raw)
    below, above = np.minimum(untrued_V - raw[0], 0.0), np.maximum(untrued_V - raw[-1], 0.0)
    onward: NDArray[np.float64] = straight + slopes[0] * below + slopes[-1] * above
    return onward


def step(channel: Channel) -> float | None:
    """The width of one code in the base unit, the mean one; None where numbers are not counts."""
    return _trued_width(channel, 1.0) if channel.unit == "count" else None


def step_in(channel: Channel, received: NDArray[np.float64]) -> float:
    """The step in which a channel's readings come, in the base unit; 0 where none is seen.

    Of counts it is the width of one code as the rig file says, times the factor that all codes
    have in common (12 bits shifted into 16 have 16); of other numbers the step seen in them.

    Args:
        channel: What the column carries.
        received: Numbers as received, shape (n,).
    """
    from calib.measure.step import seen_code_step, seen_step

    if (code := step(channel)) is not None:
        return code * seen_code_step(received)
    return _trued_width(channel, seen_step(received))


def _trued_width(channel: Channel, numbers: float) -> float:
    """So much of the numbers as received, in the base unit and after truing."""
    width = abs(_affine(channel)[0]) * numbers
    return width * channel.scale.gain if channel.scale and base_unit(channel) == "V" else width


def rails(channel: Channel) -> tuple[float, float] | None:
    """Lowest and highest value that the converter can give, in volts; None if unknown."""
    if channel.unit != "count" or channel.full_scale is None or channel.counts_per_g is not None:
        return None
    import numpy as np

    low, high = to_base(channel, np.array([0.0, channel.full_scale - 1.0]))
    return float(low), float(high)


def _affine(channel: Channel) -> tuple[float, float]:
    """Slope and intercept that take a number as received to the base unit, before any truing."""
    unit, divider = channel.unit, channel.divider
    base, factor = _UNITS[unit]
    if unit == "count" and channel.counts_per_g is not None:
        slope = channel.sign / channel.counts_per_g
        return slope, -(channel.zero_count or 0.0) * slope
    if unit == "count":
        slope = (channel.reference_V or math.nan) / (channel.full_scale or math.nan) * divider
        return slope, 0.5 * slope
    if base == "%" and channel.reference_V is not None:
        return factor * channel.reference_V * divider, 0.0
    if base == "%":
        return 100.0 * factor, 0.0
    if base == "V":
        return factor * divider, 0.0
    if unit == "degF":
        return factor, -32.0 * 5.0 / 9.0
    return channel.sign * factor, 0.0
