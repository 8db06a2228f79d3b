"""Level zero of a tilt sensor, in degrees: single standing, turned end for end, or known slope.

What its uncertainty is made of stands below, source by source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import msgspec
import numpy as np

from calib.measure.distributions import student_quantile
from calib.store.documents.finding import BudgetLine
from calib.store.documents.tilt import AxisZeroFigures, Method
from calib.tilt.attitude import left_up_deg, nose_up_deg
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
class TypedSlope:
    """A floor slope that the person measured otherwise, degrees, front higher positive."""

    angle_deg: float
    u_deg: float


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


Headings = tuple[Sequence[TiltReading], Sequence[TiltReading]]
"""Readings of the standings on the first heading, and of those turned round; the latter may be
empty."""


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
    pitch: AxisZeroFigures
    roll: AxisZeroFigures | None
    standings: int
    repeat_deg: float | None
    repeat_limit_deg: float


def find_zero(
    firsts: Sequence[TiltReading],
    turned: Sequence[TiltReading],
    circumstances: Circumstances,
    *,
    typed_slope: TypedSlope | None = None,
) -> LevelZero:
    """Level zero, degrees, from one or more standings on the same marks.

    Args:
        firsts: Readings of the standings on the first heading, in order of time, at least one.
        turned: Of those turned end for end; empty when it was not turned.
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
    if not firsts:
        message = "no first standing to make a zero of; at least one is needed"
        raise ValueError(message)
    headings, first = (firsts, turned), _middle(firsts)
    centre = _middle([first, _middle(turned)]) if turned else first
    return LevelZero(
        method=method_of(typed_slope, turned=bool(turned)),
        pitch=_pitch_zero(headings, first, centre, circumstances, typed_slope),
        roll=_roll_zero(headings, first, centre, circumstances),
        standings=len(firsts) + len(turned),
        repeat_deg=_repeat_deg(headings),
        repeat_limit_deg=repeat_limit_deg(circumstances),
    )


def method_of(typed_slope: TypedSlope | None, *, turned: bool) -> Method:
    """How the floor is told from the sensor: best by turning the machine."""
    if turned:
        return "turned"
    return "single" if typed_slope is None else "typed-slope"


def _axis_zero(
    reading_deg: float, zero_deg: float, budget: Sequence[BudgetLine]
) -> AxisZeroFigures:
    """The zero of one axis, its floor not told from the sensor.

    Source: combined uncertainty, JCGM 100:2008, 5.1.2; effective degrees of freedom by Welch and
    Satterthwaite, G.4.1; Student's t at them, G.3.2.
    """
    shares = sorted((line for line in budget if line.u > 0), key=lambda line: -line.u)
    u_deg = math.hypot(*(line.u for line in shares))
    spent = sum(line.u**4 / line.dof for line in shares if line.dof is not None)
    dof = u_deg**4 / spent if spent > 0 else math.inf
    return AxisZeroFigures(
        reading=reading_deg,
        zero=zero_deg,
        u=u_deg,
        u95=student_quantile(0.975, min(dof, 1e6)) * u_deg,
        budget=tuple(shares),
    )


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
    headings: Headings,
    first: TiltReading,
    centre: TiltReading,
    circumstances: Circumstances,
    typed_slope: TypedSlope | None,
) -> AxisZeroFigures:
    """The zero of pitch and the floor's slope along the machine."""
    firsts, turned = headings
    sign, zero_deg = circumstances.pitch_sign, centre.pitch_deg
    slope_deg, slope_u_deg, floor_u_deg = None, None, FLOOR_DEG / math.sqrt(3)
    if turned:
        slope_deg, floor_u_deg = sign * (first.pitch_deg - centre.pitch_deg), 0.0
    elif typed_slope is not None:
        slope_deg = typed_slope.angle_deg
        slope_u_deg = floor_u_deg = typed_slope.u_deg
        zero_deg -= sign * slope_deg
    cross_slope_deg = max(FLOOR_DEG, abs(slope_deg or 0.0))
    budget = _pitch_budget(headings, circumstances, floor_u_deg, cross_slope_deg)
    zero = _axis_zero(firsts[0].pitch_deg, zero_deg, budget)
    if turned and slope_deg is not None:
        # half a sum and half a difference of the same readings are equally uncertain; a yawed
        # sensor adds what it sees of the floor's fall to the side, which turning does not take out
        yawed_deg = _yawed_slope_u_deg(first, centre, slope_deg, circumstances)
        slope_u_deg = math.hypot(zero.u, yawed_deg)
    return msgspec.structs.replace(zero, floor_slope=slope_deg, floor_slope_u=slope_u_deg)


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
    headings: Headings, first: TiltReading, centre: TiltReading, circumstances: Circumstances
) -> AxisZeroFigures | None:
    """The zero of roll: separated from the floor only on a stand that is fixed to it."""
    firsts, turned = headings
    reading = firsts[0].roll_deg
    if reading is None or first.roll_deg is None or centre.roll_deg is None:
        return None
    zero = _axis_zero(reading, centre.roll_deg, _roll_budget(headings, circumstances))
    if not (circumstances.stand and turned):
        return zero
    slope_deg = first.roll_deg - centre.roll_deg
    return msgspec.structs.replace(zero, floor_slope=slope_deg, floor_slope_u=zero.u)


def error_of_mean(first: Sequence[float], turned: Sequence[float]) -> float:
    """Error of the mean of one heading, or of the middle of two, in the unit of the errors.

    Args:
        first: Independent errors of the standings on the first heading.
        turned: Of those turned round; empty when it was not turned.
    """
    if not turned:
        return math.hypot(*first) / len(first)
    return 0.5 * math.hypot(math.hypot(*first) / len(first), math.hypot(*turned) / len(turned))


def settling_u_deg(circumstances: Circumstances) -> float:
    """Standard uncertainty, degrees, of one standing from where the suspension settles.

    Source: rectangular within the stiction, JCGM 100:2008, 4.3.7.
    """
    limit = slope_of_step_deg(circumstances.stiction_mm, circumstances.wheelbase_mm)
    return limit / math.sqrt(3)


def _repeat_deg(headings: Headings) -> float | None:
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


def _line(
    source: str, u_deg: float, kind: Literal["A", "B"] = "B", dof: float | None = None
) -> BudgetLine:
    """One source of uncertainty, degrees."""
    return BudgetLine(source=source, u=u_deg, type=kind, dof=dof)


def _pitch_budget(
    headings: Headings, circumstances: Circumstances, floor_u_deg: float, cross_slope_deg: float
) -> list[BudgetLine]:
    """Shares of the pitch zero's standard uncertainty, degrees.

    Args:
        headings: The readings.
        circumstances: What is assumed.
        floor_u_deg: Standard uncertainty that the floor leaves; 0 when turned.
        cross_slope_deg: Slope across the marks that a wrong heading lets in.

    Source: JCGM 100:2008, sections 4 and 5; the product of two small unknowns (lean and yaw)
    has the product of their standard deviations.
    """
    heading_u = math.sqrt(2 / 3) * circumstances.mark_mm / circumstances.wheelbase_mm
    lean_u = circumstances.yaw_u_rad * _hold_u(circumstances)
    tyres_u = _alike(heading_u * cross_slope_deg, headings) if headings[1] else 0.0
    noises = [[r.u_pitch_deg for r in heading] for heading in headings]
    return [
        _line("the floor's slope", floor_u_deg),
        _settling(headings, circumstances),
        _line("lean, through a sensor that is not square", lean_u),
        _line("tyres beside their marks", tyres_u),
        *_of_the_sensor(noises, circumstances),
    ]


def _alike(error: float, headings: Sequence[Sequence[object]]) -> float:
    """Error of the mean when every standing has an independent error of this size."""
    return error_of_mean(*([error] * len(heading) for heading in headings))


def _settling(headings: Headings, circumstances: Circumstances) -> BudgetLine:
    """The suspension's share: as assumed, or as seen where the standings differ by more."""
    seen = _repeat_deg(headings)
    if seen is None or seen <= repeat_limit_deg(circumstances):
        settling_deg = _alike(settling_u_deg(circumstances), headings)
        return _line("where the suspension settles", settling_deg)
    repeated = [[r.pitch_deg for r in heading] for heading in headings if len(heading) > 1]
    dof = sum(len(pitches) - 1 for pitches in repeated)
    spread = sum(float(np.var(pitches, ddof=1)) * (len(pitches) - 1) for pitches in repeated)
    scatter_deg = _alike(math.sqrt(spread / dof), headings)
    return _line("standings that differ", scatter_deg, "A", float(dof))


def _of_the_sensor(
    noises: Sequence[Sequence[float]], circumstances: Circumstances
) -> tuple[BudgetLine, ...]:
    """What any axis of the sensor has: noise, temperature, the step of what shows it.

    Args:
        noises: Standard uncertainty of each reading from noise, degrees, on both headings.
        circumstances: What is assumed.
    """
    step_u = circumstances.step_deg / math.sqrt(12)
    return (
        _line("noise of the readings", error_of_mean(*noises), "A", 7.0),
        _line("temperature", _temperature_u(circumstances)),
        _line("step of the display", _alike(step_u, noises)),
    )


def _temperature_u(circumstances: Circumstances) -> float:
    """Wander of the zero about its middle, degrees, over the change of temperature."""
    change = UNKNOWN_CHANGE_K if circumstances.change_k is None else circumstances.change_k
    return DRIFT_DEG_K * abs(change) / (2 * math.sqrt(3))


def _roll_budget(headings: Headings, circumstances: Circumstances) -> list[BudgetLine]:
    """Shares of the roll zero's standard uncertainty, degrees.

    Roll is set by whoever holds the machine; only a stand fixed to the floor lets turning
    separate it.

    Source: as `_pitch_budget`.
    """
    noises = [[r.u_roll_deg or 0.0 for r in heading] for heading in headings]
    floor_u = FLOOR_DEG / math.sqrt(3) if circumstances.stand and not headings[1] else 0.0
    return [
        _line("the hand that holds it upright", _hold_u(circumstances)),
        _line("the floor's slope", floor_u),
        *_of_the_sensor(noises, circumstances),
    ]
