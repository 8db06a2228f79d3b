"""Attitude of a machine at rest, in degrees, from the specific force of a three-axis sensor."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


def nose_up_deg(force: Array) -> Array:
    """Pitch, degrees, nose-up positive, of each force.

    Args:
        force: Specific force in vehicle axes, any unit, shape (..., 3); NaN passes through.

    Returns:
        Pitch, degrees, shape (...); independent of the length of the force.

    Source: two-argument arctangent form of the tilt application notes of accelerometer makers
    (Pedley 2013, NXP AN3461, and Fisher 2010, ADI AN-1057, through the library ahrs), with ISO
    8855 axes, in which nose up gives a positive x.
    """
    x, y, z = force[..., 0], force[..., 1], force[..., 2]
    return np.degrees(np.arctan2(x, np.hypot(y, z)))


def left_up_deg(force: Array) -> Array:
    """Roll, degrees, left side up positive, of each force.

    Args:
        force: Specific force in vehicle axes, any unit, shape (..., 3); NaN passes through.

    Returns:
        Roll, degrees, shape (...).

    Source: as `nose_up_deg`.
    """
    return np.degrees(np.arctan2(force[..., 1], force[..., 2]))


def angle_between_deg(first: Array, second: Array) -> float:
    """Angle, degrees, 0 to 180, between two vectors of shape (3,).

    Source: atan2(|a × b|, a · b), which keeps its digits near 0 where an arccosine loses them.
    """
    cross = float(np.linalg.norm(np.cross(first, second)))
    return math.degrees(math.atan2(cross, float(first @ second)))
