"""What the uncertainty of a level zero is made of, in degrees, source by source."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from calib.tilt.geometry import slope_of_step_deg
from calib.tilt.series import TiltReading

HOLD_U_DEG: Final = 1.0
"""Standard uncertainty of a machine held upright by hand, degrees. Own choice, because a held
machine looks upright within about two degrees."""

YAW_U_RAD: Final = math.radians(10.0) / math.sqrt(3)
"""Standard uncertainty of a sensor's yaw, rad. Own choice: within 10 degrees by eye,
rectangular, until `calib signs` has measured it."""

STICTION_MM: Final = 5.0
"""Height by which a bounced suspension may come to rest off its middle, mm. Common practice, no
source: 5 to 10 mm without bouncing."""

MARK_MM: Final = 20.0
"""How far a tyre may stand off its mark, mm. Own choice, because a tyre's width hides the mark."""

FLOOR_DEG: Final = 1.2
"""How far a garage floor may fall, degrees. Common practice, no source: two per cent."""

DRIFT_DEG_K: Final = math.degrees(0.31e-3)
"""How a zero may wander with temperature, degrees per kelvin. Source: 0.31 mg/K at worst in the
data sheet of one accelerometer (0.5 degrees in 30 K)."""

UNKNOWN_CHANGE_K: Final = 3.0
"""Change of temperature between standings when no channel shows it, K. Own choice, because the
standings of one evening in one garage differ by less."""


@dataclass(frozen=True)
class Share:
    """One source of uncertainty: standard uncertainty, degrees, and whether type A or B."""

    source: str
    u_deg: float
    kind: Literal["A", "B"] = "B"
    dof: float = math.inf


@dataclass(frozen=True)
class Circumstances:
    """What the budget has to assume about the standings.

    Attributes:
        wheelbase_mm: Distance of the axles, mm.
        stand: Whether a rigid stand on the floor sets the roll, in place of a hand.
        hold_u_deg: Standard uncertainty of a hand's upright, degrees.
        yaw_u_rad: Standard uncertainty of the sensor's yaw, rad.
        stiction_mm: Half-width of where the suspension settles, mm.
        mark_mm: Half-width of a tyre's place on its mark, mm.
        change_k: Change of temperature between the standings, K; None when not measured.
        step_deg: Step of the reading, degrees (a display's, a converter's).
        pitch_sign: +1 when a raised nose raises the reading, -1 when it lowers it.
    """

    wheelbase_mm: float
    stand: bool = False
    hold_u_deg: float = HOLD_U_DEG
    yaw_u_rad: float = YAW_U_RAD
    stiction_mm: float = STICTION_MM
    mark_mm: float = MARK_MM
    change_k: float | None = None
    step_deg: float = 0.0
    pitch_sign: int = 1


@dataclass(frozen=True)
class Weights:
    """How errors of single standings enter the mean of one heading, or the middle of two.

    Attributes:
        first: Standings on the first heading.
        turned: Standings turned round.
    """

    first: int
    turned: int

    def of(self, first: Sequence[float], turned: Sequence[float]) -> float:
        """Error of the mean from independent errors of the standings, same unit."""
        if not turned:
            return math.hypot(*first) / self.first
        return 0.5 * math.hypot(math.hypot(*first) / self.first, math.hypot(*turned) / self.turned)

    def alike(self, error: float) -> float:
        """Error of the mean when every standing has an independent error of this size."""
        return self.of([error] * self.first, [error] * self.turned)


def settling_u_deg(circumstances: Circumstances) -> float:
    """Standard uncertainty, degrees, of one standing from where the suspension settles.

    Source: rectangular within the stiction, JCGM 100:2008, 4.3.7.
    """
    limit = slope_of_step_deg(circumstances.stiction_mm, circumstances.wheelbase_mm)
    return limit / math.sqrt(3)


def repeat_deg(*headings: Sequence[TiltReading]) -> float | None:
    """Largest difference of pitch, degrees, between standings of one heading; None if single."""
    spans = [np.ptp([r.pitch_deg for r in heading]) for heading in headings if len(heading) > 1]
    return float(max(spans)) if spans else None


def repeat_limit_deg(circumstances: Circumstances) -> float:
    """Difference, degrees, between two standings that settling, lean and marks can explain.

    Source: two and a half standard deviations of a difference (own choice, because it is passed
    by one honest repeat in eighty).
    """
    single = math.hypot(
        settling_u_deg(circumstances),
        circumstances.yaw_u_rad * _hold_u(circumstances) * math.sqrt(2),
        0.05,  # own choice: an ordinary sensor's own repeatability, degrees
    )
    return 2.5 * math.sqrt(2) * single


def _hold_u(circumstances: Circumstances) -> float:
    """Standard uncertainty of upright, degrees: none of it on a stand fixed to the floor."""
    return 0.0 if circumstances.stand else circumstances.hold_u_deg


def pitch_budget(
    first: Sequence[TiltReading],
    turned: Sequence[TiltReading],
    circumstances: Circumstances,
    *,
    floor_u_deg: float,
    cross_slope_deg: float,
) -> tuple[Share, ...]:
    """Shares of the pitch zero's standard uncertainty, degrees, largest first.

    Args:
        first: Readings of the first heading.
        turned: Readings of the other heading; empty when it was not turned.
        circumstances: What is assumed.
        floor_u_deg: Standard uncertainty that the floor leaves; 0 when turned.
        cross_slope_deg: Slope across the marks that a wrong heading lets in.

    Source: JCGM 100:2008, sections 4 and 5; the product of two small unknowns (lean and yaw)
    has the product of their standard deviations.
    """
    weights = Weights(len(first), len(turned))
    heading_u = math.sqrt(2 / 3) * circumstances.mark_mm / circumstances.wheelbase_mm
    lean_u = circumstances.yaw_u_rad * _hold_u(circumstances)
    tyres_u = weights.alike(heading_u * cross_slope_deg) if turned else 0.0
    noise_u = weights.of([r.u_pitch_deg for r in first], [r.u_pitch_deg for r in turned])
    return _largest_first(
        Share("the floor's slope", floor_u_deg),
        _settling(first, turned, circumstances, weights),
        Share("lean, through a sensor that is not square", lean_u),
        Share("tyres beside their marks", tyres_u),
        *_of_the_sensor(noise_u, circumstances, weights),
    )


def _settling(
    first: Sequence[TiltReading],
    turned: Sequence[TiltReading],
    circumstances: Circumstances,
    weights: Weights,
) -> Share:
    """The suspension's share: as assumed, or as seen where the standings differ by more."""
    seen = repeat_deg(first, turned)
    if seen is None or seen <= repeat_limit_deg(circumstances):
        return Share("where the suspension settles", weights.alike(settling_u_deg(circumstances)))
    repeated = [[r.pitch_deg for r in heading] for heading in (first, turned) if len(heading) > 1]
    dof = sum(len(pitches) - 1 for pitches in repeated)
    spread = sum(float(np.var(pitches, ddof=1)) * (len(pitches) - 1) for pitches in repeated)
    return Share("standings that differ", weights.alike(math.sqrt(spread / dof)), "A", float(dof))


def _of_the_sensor(
    noise_u: float, circumstances: Circumstances, weights: Weights
) -> tuple[Share, ...]:
    """What any axis of the sensor has: noise, temperature, the step of what shows it."""
    return (
        Share("noise of the readings", noise_u, "A", 7.0),
        Share("temperature", _temperature_u(circumstances)),
        Share("step of the display", weights.alike(circumstances.step_deg / math.sqrt(12))),
    )


def _largest_first(*shares: Share) -> tuple[Share, ...]:
    """The shares that there are."""
    return tuple(sorted((s for s in shares if s.u_deg > 0), key=lambda s: -s.u_deg))


def _temperature_u(circumstances: Circumstances) -> float:
    """Wander of the zero about its middle, degrees, over the change of temperature."""
    change = UNKNOWN_CHANGE_K if circumstances.change_k is None else circumstances.change_k
    return DRIFT_DEG_K * abs(change) / (2 * math.sqrt(3))


def roll_budget(
    first: Sequence[TiltReading],
    turned: Sequence[TiltReading],
    circumstances: Circumstances,
) -> tuple[Share, ...]:
    """Shares of the roll zero's standard uncertainty, degrees, largest first.

    Roll is set by whoever holds the machine; only a stand fixed to the floor lets turning
    separate it.

    Source: as `pitch_budget`.
    """
    weights = Weights(len(first), len(turned))
    floor_u = FLOOR_DEG / math.sqrt(3) if circumstances.stand and not turned else 0.0
    first_u, turned_u = ([r.u_roll_deg or 0.0 for r in each] for each in (first, turned))
    return _largest_first(
        Share("the hand that holds it upright", _hold_u(circumstances)),
        Share("the floor's slope", floor_u),
        *_of_the_sensor(weights.of(first_u, turned_u), circumstances, weights),
    )
