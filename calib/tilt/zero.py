"""Level zero of a tilt sensor, in degrees: single standing, turned end for end, or known slope."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from calib.measure.distributions import student_quantile
from calib.tilt.attitude import left_up_deg, nose_up_deg
from calib.tilt.series import TiltReading
from calib.tilt.zero_budget import (
    FLOOR_DEG,
    Circumstances,
    Share,
    pitch_budget,
    repeat_deg,
    repeat_limit_deg,
    roll_budget,
)


class Method(StrEnum):
    """How the floor was told from the sensor."""

    SINGLE = "single"
    TURNED = "turned"
    TYPED_SLOPE = "typed-slope"


class Heading(StrEnum):
    """Which way the machine stood on its marks."""

    FIRST = "first"
    TURNED = "turned"


@dataclass(frozen=True)
class Standing:
    """One standing of the machine on its marks."""

    heading: Heading
    reading: TiltReading


@dataclass(frozen=True)
class TypedSlope:
    """A floor slope that the person measured otherwise, degrees, front higher positive."""

    angle_deg: float
    u_deg: float


@dataclass(frozen=True)
class AxisZero:
    """Zero of one axis, degrees.

    Attributes:
        reading_deg: What the sensor read in the first standing.
        zero_deg: What it reads when the machine is truly level, in its own sign.
        budget: Sources of the zero's uncertainty, largest first.
        floor_slope_deg: Slope of the floor along the axis; None when it was not separated.
        floor_slope_u_deg: Its standard uncertainty.
    """

    reading_deg: float
    zero_deg: float
    budget: tuple[Share, ...]
    floor_slope_deg: float | None = None
    floor_slope_u_deg: float | None = None

    @property
    def u_deg(self) -> float:
        """Combined standard uncertainty of the zero, degrees.

        Source: JCGM 100:2008, 5.1.2.
        """
        return math.hypot(*(share.u_deg for share in self.budget))

    @property
    def dof(self) -> float:
        """Effective degrees of freedom of that uncertainty.

        Source: Welch-Satterthwaite, JCGM 100:2008, G.4.1.
        """
        spent = sum(share.u_deg**4 / share.dof for share in self.budget)
        return self.u_deg**4 / spent if spent > 0 else math.inf

    @property
    def u95_deg(self) -> float:
        """Half-width, degrees, that holds the true zero with 95 per cent confidence.

        Source: Student's t at the effective degrees of freedom, JCGM 100:2008, G.3.2.
        """
        return student_quantile(0.975, min(self.dof, 1e6)) * self.u_deg


@dataclass(frozen=True)
class LevelZero:
    """Zero of a tilt sensor.

    Attributes:
        method: How the floor was told from the sensor.
        pitch: Zero of pitch.
        roll: Zero of roll; None where nothing shows it.
        standings: Standings used.
        repeat_deg: Largest difference of pitch between standings of one heading, degrees.
        repeat_limit_deg: What settling and holding alone explain, degrees.
    """

    method: Method
    pitch: AxisZero
    roll: AxisZero | None
    standings: int
    repeat_deg: float | None
    repeat_limit_deg: float


def find_zero(
    standings: Sequence[Standing],
    circumstances: Circumstances,
    *,
    typed_slope: TypedSlope | None = None,
) -> LevelZero:
    """Level zero, degrees, from one or more standings on the same marks.

    Args:
        standings: In order of time, at least one with heading `first`.
        circumstances: What the budget assumes.
        typed_slope: The floor's slope; not used where the machine was turned.

    Returns:
        The zero. With both headings the floor is separated: the zero is half the sum and the
        slope half the difference of the two headings; with an accelerometer alone the mean of
        the force vectors, so that a mounting error comes out in any direction.

    Raises:
        ValueError: No first standing.

    Source: reversal method (sensor-frame readings slope + offset and -slope + offset; the
    spirit level that is turned round); budget after JCGM 100:2008, section 5.
    """
    firsts = [s.reading for s in standings if s.heading is Heading.FIRST]
    turned = [s.reading for s in standings if s.heading is Heading.TURNED]
    if not firsts:
        message = "no first standing to make a zero of; at least one is needed"
        raise ValueError(message)
    first = _middle(firsts)
    centre = _middle([first, _middle(turned)]) if turned else first
    return LevelZero(
        method=method_of(typed_slope, turned=bool(turned)),
        pitch=_pitch_zero(firsts, turned, first, centre, circumstances, typed_slope),
        roll=_roll_zero(firsts, turned, first, centre, circumstances),
        standings=len(standings),
        repeat_deg=repeat_deg(firsts, turned),
        repeat_limit_deg=repeat_limit_deg(circumstances),
    )


def method_of(typed_slope: TypedSlope | None, *, turned: bool) -> Method:
    """How the floor is told from the sensor: best by turning the machine."""
    if turned:
        return Method.TURNED
    return Method.SINGLE if typed_slope is None else Method.TYPED_SLOPE


def _middle(readings: Sequence[TiltReading]) -> TiltReading:
    """Angles and force in the middle of readings; by the mean force where the angles are its."""
    like = readings[0]
    forces = [each.force_g for each in readings if each.force_g is not None]
    rolls = [each.roll_deg for each in readings if each.roll_deg is not None]
    pitch = float(np.mean([each.pitch_deg for each in readings]))
    roll = float(np.mean(rolls)) if len(rolls) == len(readings) else None
    force = None
    if len(forces) == len(readings):
        # of the forces as read: at unit length a bias would no longer be the same in all
        force = np.mean(forces, axis=0)
        pitch = float(nose_up_deg(force)) if like.pitch_from_force else pitch
        roll = float(left_up_deg(force)) if like.roll_from_force else roll
    return replace(like, pitch_deg=pitch, roll_deg=roll, force_g=force)


def _pitch_zero(
    firsts: Sequence[TiltReading],
    turned: Sequence[TiltReading],
    first: TiltReading,
    centre: TiltReading,
    circumstances: Circumstances,
    typed_slope: TypedSlope | None,
) -> AxisZero:
    """The zero of pitch and the floor's slope along the machine."""
    sign, zero_deg = circumstances.pitch_sign, centre.pitch_deg
    slope_deg, slope_u_deg, floor_u_deg = None, None, FLOOR_DEG / math.sqrt(3)
    if turned:
        slope_deg, floor_u_deg = sign * (first.pitch_deg - centre.pitch_deg), 0.0
    elif typed_slope is not None:
        slope_deg = typed_slope.angle_deg
        slope_u_deg = floor_u_deg = typed_slope.u_deg
        zero_deg -= sign * slope_deg
    budget = pitch_budget(
        firsts,
        turned,
        circumstances,
        floor_u_deg=floor_u_deg,
        cross_slope_deg=max(FLOOR_DEG, abs(slope_deg or 0.0)),
    )
    zero = AxisZero(firsts[0].pitch_deg, zero_deg, budget, slope_deg, slope_u_deg)
    if not turned or slope_deg is None:
        return zero
    # half a sum and half a difference of the same readings are equally uncertain; a yawed
    # sensor adds what it sees of the floor's fall to the side, which turning does not take out
    yawed_deg = _yawed_slope_u_deg(first, centre, slope_deg, circumstances)
    return replace(zero, floor_slope_u_deg=math.hypot(zero.u_deg, yawed_deg))


def _yawed_slope_u_deg(
    first: TiltReading, centre: TiltReading, slope_deg: float, circumstances: Circumstances
) -> float:
    """Standard uncertainty, degrees, of a turned floor slope from a yawed sensor.

    On a stand the fall to the side is half the difference of the rolls, where they are known; a
    hand holds the machine upright whatever the floor does.

    Source: pitch of a sensor yawed by a is slope · cos a + side · sin a, and the side that it
    shows is itself wrong by slope · sin a.
    """
    side_deg = circumstances.hold_u_deg
    if circumstances.stand:
        side_deg = FLOOR_DEG
        if first.roll_deg is not None and centre.roll_deg is not None:
            side_deg = abs(first.roll_deg - centre.roll_deg)
    yaw = circumstances.yaw_u_rad
    return yaw * math.hypot(side_deg, yaw * slope_deg)


def _roll_zero(
    firsts: Sequence[TiltReading],
    turned: Sequence[TiltReading],
    first: TiltReading,
    centre: TiltReading,
    circumstances: Circumstances,
) -> AxisZero | None:
    """The zero of roll: separated from the floor only on a stand that is fixed to it."""
    reading = firsts[0].roll_deg
    if reading is None or first.roll_deg is None or centre.roll_deg is None:
        return None
    budget = roll_budget(firsts, turned, circumstances)
    zero = AxisZero(reading, centre.roll_deg, budget)
    if not (circumstances.stand and turned):
        return zero
    slope_deg = first.roll_deg - centre.roll_deg
    return replace(zero, floor_slope_deg=slope_deg, floor_slope_u_deg=zero.u_deg)
