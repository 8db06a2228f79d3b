"""How far the wheel rolls in a turn, from a tape on the floor, and how well that is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from calib.measure.uncertainty import Budget, Component, budget, rectangular_u
from calib.wheel.turns import MARK_TURNS

TAPE_FIXED_MM, TAPE_MM_PER_M = 0.3, 0.2
"""Tape of class II: within ±(0.3 + 0.2 L) mm, L in whole metres rounded up. Source: OIML R 35 and
directive 2014/32/EU, annex X, from memory."""

ASTRAY_PCT: Final = 0.1
"""How much longer the way is than the tape, at most, per cent. Own choice: a wheel that is pushed
wanders 0.2 m to either side of a straight line of 10 m at most; 2 (0.2 / 10)² is 0.08 %."""

MARK_MM: Final = 5.0
"""How far a mark on the floor may be off, mm, at either end. Own choice: chalk and an eye above."""

VALVE_DEG: Final = 3.0
"""How far the valve may be from the bottom, degrees, at either end. Own choice: 3° on a wheel that
rolls 2 m is 17 mm at the floor, which a plumb line by the spokes shows."""

RIDER_SAG_MM: Final = 10.0
"""How much more a rider's weight lets the tyre sag, at most, mm. Own choice: from none to a
centimetre, for knobbly tyres at 1 bar."""

PRESSURE_SAG_MM: Final = 1.5
"""How much the sag changes with the pressure from evening to evening, at most, mm. Own choice: a
tenth of the pressure, and so of a sag of 15 mm."""

WEAR_MM: Final = 0.5
"""How much the tread's wear or a warm tyre changes the radius until it is measured again, at most,
mm. Own choice."""

SAG_SHARE: Final = 1.0 / 3.0
"""Share of a tyre's sag by which its rolling radius is smaller than the free one: R - sag/3.
Source: the usual rule for the effective rolling radius of a tyre in vehicle dynamics, from
memory."""

FOOT_M: Final = 0.3048
"""Metres of a foot, exact. Source: international yard and pound agreement of 1959."""


@dataclass(frozen=True, slots=True)
class Rolled:
    """Circumference from one way or several along a tape.

    Attributes:
        mm: Way of one turn, mm; with a rider on, as far as that is known.
        budget: What makes it uncertain, mm.
        apart_mm: Largest less smallest of the single ways' circumferences, mm.
        allowed_apart_mm: How far apart marks and valve explain at most.
        rider_mm: What was taken off for a rider who was not on, mm.
    """

    mm: float
    budget: Budget
    apart_mm: float
    allowed_apart_mm: float
    rider_mm: float


def circumference(ways_m: Sequence[float], turns: float, *, seated: bool) -> Rolled:
    """Circumference of a wheel that was pushed along a tape.

    A rider who was not on is allowed for: half of what a rider's weight does is taken off, and the
    other half stays in doubt (JCGM 100, 3.2.4).

    Args:
        ways_m: Length of each way, m; one or more.
        turns: Turns from the valve at the bottom to the valve at the bottom.
        seated: Whether the rider's weight was on.

    Source: JCGM 100, 4.3.7 and 5.1.2; each half-width as stated above.
    """
    each_mm = 1000.0 * np.asarray(ways_m) / turns
    raw_mm = float(each_mm.mean())
    whole_m = float(np.mean(ways_m))
    tape_mm = (TAPE_FIXED_MM + TAPE_MM_PER_M * math.ceil(whole_m)) / turns
    # each way is off the same tape, but has marks and stops of its own
    ends = math.sqrt(2.0 / len(each_mm))
    valve_mm = raw_mm * VALVE_DEG / 360.0
    astray_mm = raw_mm * ASTRAY_PCT / 100.0
    rider_mm = 0.0 if seated else _turn_mm(RIDER_SAG_MM * SAG_SHARE)
    parts = [
        ("tape", rectangular_u(tape_mm), ""),
        ("way longer than the tape", rectangular_u(astray_mm / 2.0), ""),
        ("marks on the floor", rectangular_u(MARK_MM) / turns * ends, "more turns"),
        ("valve not at the bottom", rectangular_u(valve_mm) / turns * ends, "more turns"),
        ("tyre pressure", rectangular_u(_turn_mm(PRESSURE_SAG_MM * SAG_SHARE)), ""),
        ("wear until it is measured again", rectangular_u(_turn_mm(WEAR_MM)), ""),
    ]
    if not seated:
        remedy = "push it with the rider on: --seated"
        parts.append(("rider's weight not on", rectangular_u(rider_mm / 2.0), remedy))
    return Rolled(
        # half of the longest detour is the best guess of it, as with the rider
        mm=raw_mm + astray_mm / 2.0 - rider_mm / 2.0,
        budget=budget(Component(source, u, "B", remedy=way) for source, u, way in parts),
        apart_mm=float(np.ptp(each_mm)),
        allowed_apart_mm=2.0 * 2.0 * (MARK_MM + valve_mm) / turns,
        rider_mm=rider_mm / 2.0,
    )


def way_mm(way_m: float) -> tuple[float, float]:
    """A single way between two marks, mm, and its standard uncertainty.

    Args:
        way_m: As read off the tape, m.

    Source: as `circumference`, without what a wheel's turns bring in.
    """
    astray_mm = 1000.0 * way_m * ASTRAY_PCT / 100.0
    parts = [
        rectangular_u(TAPE_FIXED_MM + TAPE_MM_PER_M * math.ceil(way_m)),
        rectangular_u(astray_mm / 2.0),
        rectangular_u(MARK_MM) * math.sqrt(2.0),
    ]
    return 1000.0 * way_m + astray_mm / 2.0, math.hypot(*parts)


def turns_mm(turns: int, mm: float, u_mm: float) -> tuple[float, float]:
    """The way that a wheel of known circumference would have rolled, mm, and its u.

    Args:
        turns: Turns by hand from mark to mark.
        mm: Circumference, mm.
        u_mm: Its standard uncertainty.

    Source: JCGM 100, 5.1.2; each end is off the mark by `MARK_TURNS` at most.
    """
    ends_mm = math.sqrt(2.0) * rectangular_u(MARK_TURNS * mm)
    return turns * mm, math.hypot(turns * u_mm, ends_mm)


def _turn_mm(radius_mm: float) -> float:
    """What a change of the radius makes of the circumference, mm."""
    return 2.0 * math.pi * radius_mm
