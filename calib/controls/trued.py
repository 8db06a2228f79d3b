"""How well a trued logger's volts are known, inside what was trued and beyond it."""

from __future__ import annotations

import math

import numpy as np

from calib.measure.uncertainty import rectangular_u
from calib.store.rig import Scale

OUTSIDE_SHARE = 0.3
"""How far volts beyond the trued range may be off, as a share of how far they lie beyond it.

Source: published counts against millivolts of a common 12-bit converter, average of 219 modules:
a line over counts 256 to 2816 is 216 mV off at 3840, which it puts 830 mV beyond its end. That
is 0.26; rounded up."""


def outside_V(level_V: float, scale: Scale) -> float:
    """How far a true voltage lies beyond what was trued, V; 0 inside, or where no range is noted.

    Args:
        level_V: True volts.
        scale: As trued.
    """
    if scale.from_V is None or scale.to_V is None:
        return 0.0
    return max(scale.from_V - level_V, level_V - scale.to_V, 0.0)


def doubt_outside_V(level_V: float, scale: Scale) -> float:
    """Half-width of what a voltage beyond the trued range may be off, V.

    Source: see `OUTSIDE_SHARE`.
    """
    return OUTSIDE_SHARE * outside_V(level_V, scale)


def trued_u(level_V: float, scale: Scale) -> float:
    """Standard uncertainty of a trued level inside the trued range, V.

    Source: JCGM 100, H.3.4, eq. (H.15) for a line; for a curve, straight between its rows, the
    most that any correlation of two rows allows.
    """
    if scale.curve is not None:
        _, true, u_V = np.array(scale.curve).T
        return float(np.interp(level_V, true, u_V))
    raw_V = (level_V - scale.offset_V) / scale.gain
    variance = (raw_V * scale.u_gain) ** 2 + scale.u_offset_V**2 + 2.0 * raw_V * scale.cov
    return math.sqrt(max(0.0, variance))


def u_at(level_V: float, scale: Scale) -> float:
    """Standard uncertainty of a trued level anywhere, V."""
    return math.hypot(trued_u(level_V, scale), rectangular_u(doubt_outside_V(level_V, scale)))
