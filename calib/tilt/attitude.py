"""Attitude of a machine at rest, in degrees, from the specific force of a three-axis sensor."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


class Convention(StrEnum):
    """Which way a pitch angle counts; both are in use, so the person says which is expected.

    Source: ISO 8855 has y to the left, so a right-handed pitch is positive nose down (stated so
    by ASAM OpenDRIVE 8.2); with y to the right and z down, as in SAE J670 and aeronautics, it is
    positive nose up.
    """

    NOSE_UP = "nose-up-positive"
    NOSE_DOWN = "nose-down-positive"

    @property
    def sign(self) -> int:
        """The sign of a pitch reading, +1 or -1, when the nose is up."""
        return 1 if self is Convention.NOSE_UP else -1


@dataclass(frozen=True)
class Attitude:
    """Pitch and roll of a machine, degrees.

    Attributes:
        nose_up_deg: Pitch, positive with the nose up.
        left_up_deg: Roll, positive with the left side up (ISO 8855), so leaned to the right.
    """

    nose_up_deg: float
    left_up_deg: float


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


def attitude_of(force: Array) -> Attitude:
    """Pitch and roll, degrees, of one force of shape (3,).

    Source: `nose_up_deg`, `left_up_deg`.
    """
    return Attitude(nose_up_deg=float(nose_up_deg(force)), left_up_deg=float(left_up_deg(force)))


def angle_between_deg(first: Array, second: Array) -> float:
    """Angle, degrees, 0 to 180, between two vectors of shape (3,).

    Source: atan2(|a × b|, a · b), which keeps its digits near 0 where an arccosine loses them.
    """
    cross = float(np.linalg.norm(np.cross(first, second)))
    return math.degrees(math.atan2(cross, float(first @ second)))
