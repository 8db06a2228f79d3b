"""Angles of two wheels, in degrees, from blocks, wheelbase and balance; normal gravity."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from calib.store.conversion import STANDARD_GRAVITY_M_S2

BLOCK_U_MM: Final = 2.0
"""Standard uncertainty of a plank's height, mm. Own choice, because a plank gives and the tyre
stands on it with another flat than on concrete."""

WHEELBASE_U_MM: Final = 5.0
"""Standard uncertainty of a wheelbase, mm. Own choice, because it is taped between axles."""

_EQUATOR_M_S2: Final = 9.7803253359
_POLE_M_S2: Final = 9.8321849379
_FLATTENING: Final = 1 / 298.257223563


@dataclass(frozen=True)
class RaisedAngle:
    """The pitch that a block under one wheel makes, degrees, with its standard uncertainty."""

    angle_deg: float
    u_deg: float


def raised_angle(block_mm: float, wheelbase_mm: float) -> RaisedAngle:
    """Pitch, degrees, of a machine with one of two equal wheels raised.

    Args:
        block_mm: Height under the wheel, mm, above 0.
        wheelbase_mm: Distance of the axles, mm, above the height.

    Returns:
        Angle and standard uncertainty, degrees.

    Raises:
        ValueError: The block is not above 0 or not below the wheelbase.

    Source: the axles stay a wheelbase apart, so asin(height / wheelbase); uncertainty by the law
    of propagation, JCGM 100:2008, 5.1.2.
    """
    if not 0 < block_mm < wheelbase_mm:
        raise ValueError(
            f"block of {block_mm:g} mm on a wheelbase of {wheelbase_mm:g} mm; "
            "the block is higher than 0 and lower than the wheelbase"
        )
    ratio = block_mm / wheelbase_mm
    run_mm = wheelbase_mm * math.sqrt(1 - ratio**2)
    u_rad = math.hypot(BLOCK_U_MM, ratio * WHEELBASE_U_MM) / run_mm
    return RaisedAngle(math.degrees(math.asin(ratio)), math.degrees(u_rad))


def balance_angle_deg(ahead_mm: float, height_mm: float) -> float:
    """Pitch, degrees, at which the machine balances on the rear wheel, with the power off.

    Args:
        ahead_mm: Centre of gravity ahead of the rear contact, mm, rider in the rearmost posture.
        height_mm: Centre of gravity above the ground, mm.

    Returns:
        Angle, degrees.

    Raises:
        ValueError: A length is not above 0.

    Source: moment balance about the rear contact, atan(b / h) (Cossalter, Motorcycle Dynamics,
    from memory).
    """
    if ahead_mm <= 0 or height_mm <= 0:
        raise ValueError(
            f"centre of gravity {ahead_mm:g} mm ahead, {height_mm:g} mm high; both above 0"
        )
    return math.degrees(math.atan2(ahead_mm, height_mm))


def false_pitch_deg(acceleration_m_s2: float) -> float:
    """Pitch, degrees, that an accelerometer alone shows while it is pushed forward, level.

    Args:
        acceleration_m_s2: Forward acceleration, m/s², negative for braking.

    Returns:
        Nose-up positive pitch, degrees: forward acceleration looks like a raised nose.

    Source: atan(a / g), from the direction of the specific force.
    """
    return math.degrees(math.atan2(acceleration_m_s2, STANDARD_GRAVITY_M_S2))


def slope_of_step_deg(step_mm: float, wheelbase_mm: float) -> float:
    """Pitch, degrees, of a height difference between the wheels; sign follows the step.

    Source: asin(step / wheelbase), as `raised_angle`.
    """
    return math.degrees(math.asin(step_mm / wheelbase_mm))


def normal_gravity_m_s2(latitude_deg: float) -> float:
    """Normal gravity, m/s², on the WGS 84 ellipsoid.

    Args:
        latitude_deg: Geodetic latitude, degrees, -90 to 90.

    Returns:
        Gravity, m/s².

    Raises:
        ValueError: The latitude is outside -90 to 90.

    Source: WGS 84 (NIMA TR8350.2, section 4): Somigliana's closed form; checked against the
    library boule. A kilometre of height takes off a third of a thousandth.
    """
    if not -90.0 <= latitude_deg <= 90.0:
        raise ValueError(f"latitude {latitude_deg:g} degrees; it lies between -90 and 90")
    sin2 = math.sin(math.radians(latitude_deg)) ** 2
    k = (1 - _FLATTENING) * _POLE_M_S2 / _EQUATOR_M_S2 - 1
    e2 = _FLATTENING * (2 - _FLATTENING)
    return _EQUATOR_M_S2 * (1 + k * sin2) / math.sqrt(1 - e2 * sin2)
