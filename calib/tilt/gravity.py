"""Normal gravity, in m/s²: what |g| must be at the user's latitude."""

from __future__ import annotations

import math
from typing import Final

_EQUATOR_M_S2: Final = 9.7803253359
_POLE_M_S2: Final = 9.8321849379
_AXIS_M: Final = 6378137.0
_FLATTENING: Final = 1 / 298.257223563
_ROTATION_RAD_S: Final = 7.292115e-5
_GM_M3_S2: Final = 3.986004418e14


def normal_gravity_m_s2(latitude_deg: float, height_m: float = 0.0) -> float:
    """Normal gravity, m/s², on or near the WGS 84 ellipsoid.

    Args:
        latitude_deg: Geodetic latitude, degrees, -90 to 90.
        height_m: Height above the ellipsoid, m; a second-order formula, good to some kilometres.

    Returns:
        Gravity, m/s².

    Raises:
        ValueError: The latitude is outside -90 to 90.

    Source: WGS 84 (NIMA TR8350.2, section 4): Somigliana's closed form and the upward
    continuation of equation 4-3; checked against the library boule.
    """
    if not -90.0 <= latitude_deg <= 90.0:
        message = f"latitude {latitude_deg:g} degrees; it lies between -90 and 90"
        raise ValueError(message)
    sin2 = math.sin(math.radians(latitude_deg)) ** 2
    polar_m = _AXIS_M * (1 - _FLATTENING)
    k = polar_m * _POLE_M_S2 / (_AXIS_M * _EQUATOR_M_S2) - 1
    e2 = _FLATTENING * (2 - _FLATTENING)
    surface = _EQUATOR_M_S2 * (1 + k * sin2) / math.sqrt(1 - e2 * sin2)
    m = _ROTATION_RAD_S**2 * _AXIS_M**2 * polar_m / _GM_M3_S2
    linear = 2 * (1 + _FLATTENING + m - 2 * _FLATTENING * sin2) * height_m / _AXIS_M
    return surface * (1 - linear + 3 * (height_m / _AXIS_M) ** 2)
