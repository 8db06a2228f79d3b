"""Which columns are the tilt sensor: what changed when the front was raised, and what measures g.

Readings are as received: no scale is known yet.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np

from calib.store.conversion import STANDARD_GRAVITY_M_S2
from calib.tilt.attitude import Array, Flags, angle_between_deg

LEAST_SDS = 4.0
"""Standard deviations of the single reading by which the mean of a column must move: own choice;
means of some seconds wander by a fraction of one."""

NORM_TOLERANCE = 0.06
"""Share by which the length of an accelerometer's vector may miss 1 g: own choice, because an
untrued sensor's bias and scale are seldom worse."""

NORM_CHANGE = 0.015
"""Share of 1 g by which that length may change from one standing to the next: own choice; it is the
sharper half of the test, for a bias changes it little."""

LEAST_TURN_DEG, MOST_TURN_DEG = 0.8, 20.0
"""Angle by which raising the front turns the vector: own choice; 50 mm on 1250 mm is 2.3 degrees, a
steep plank 15."""

UPRIGHT = 0.7
"""Share of 1 g from which an axis is the upright one: own choice, the cosine of 45 degrees."""

ZEROS = (0.0, 32768.0, 8192.0, 2048.0, 512.0)
"""Counts at 0 g: nought where counts are signed, half the codes where they are offset binary."""

COUNTS_PER_G = tuple(2.0**power for power in range(6, 15))
"""Counts for 1 g of common digital accelerometers: powers of two; common practice, no source."""

AxisUnit = Literal["g", "mg", "m/s2", "count"]
Sign = Literal[1, -1]
_UNITS: dict[AxisUnit, float] = {"g": 1.0, "mg": 1000.0, "m/s2": STANDARD_GRAVITY_M_S2}


@dataclass(frozen=True, slots=True)
class Stand:
    """The columns while the machine stood.

    Attributes:
        mean: Of each column, as received; shape (columns,).
        sd: Of the single reading, at least what one step of whole numbers leaves; shape (columns,).
        whole: Whether a column holds whole numbers; shape (columns,).
    """

    mean: Array
    sd: Array
    whole: Flags


def stand_of(values: Array) -> Stand:
    """The columns of ``values``, shape (n, columns), while the machine stood."""
    whole = np.all(values == np.round(values), axis=0)
    least = np.where(whole, math.sqrt(1.0 / 12.0), 1e-9)
    return Stand(values.mean(axis=0), np.maximum(values.std(axis=0), least), whole)


@dataclass(frozen=True, slots=True)
class Triple:
    """Three columns that measure specific force.

    Attributes:
        x: Column of the axis that changed most when the front was raised.
        y: Column of the axis across.
        z: Column of the upright axis.
        unit: Of the numbers.
        signs: Of x, y and z: -1 for a column that counts the other way along the vehicle's axis.
        counts_per_g: Where they are counts.
        zero_count: Where they are counts.
    """

    x: int
    y: int
    z: int
    unit: AxisUnit
    signs: tuple[Sign, Sign, Sign]
    counts_per_g: float | None = None
    zero_count: float | None = None


@dataclass(frozen=True, slots=True)
class TiltColumns:
    """What the two standings showed.

    Attributes:
        triple: The accelerometer; None where no three columns measure g.
        angles: Further columns that moved with the front, the plainest first.
    """

    triple: Triple | None
    angles: tuple[int, ...]


def find_tilt(level: Stand, raised: Stand, skip: Collection[int]) -> TiltColumns:
    """Which columns are the tilt sensor.

    Args:
        level: Both wheels on the floor.
        raised: Front raised.
        skip: Columns that are none of it: clock, controls.
    """
    change = (raised.mean - level.mean) / np.maximum(level.sd, raised.sd)
    triple = next(_triples(level, raised, skip), None)
    own = set() if triple is None else {triple.x, triple.y, triple.z}
    moved = [
        int(index)
        for index in np.argsort(-np.abs(change))
        if abs(change[index]) >= LEAST_SDS and index not in skip and index not in own
    ]
    return TiltColumns(triple, tuple(moved))


def _triples(level: Stand, raised: Stand, skip: Collection[int]) -> Iterator[Triple]:
    """Neighbouring columns whose vector is 1 g in both standings and turned in between."""
    for first in range(len(level.mean) - 2):
        place = slice(first, first + 3)
        if any(index in skip for index in range(first, first + 3)):
            continue
        for unit, zero, per_g in _scales(bool(level.whole[place].all())):
            one = (level.mean[place] - zero) / per_g
            other = (raised.mean[place] - zero) / per_g
            if _is_gravity(one, other):
                yield _named(first, one, other, unit, zero, per_g)


def _scales(whole: bool) -> Iterator[tuple[AxisUnit, float, float]]:
    """Units, zeros and numbers for 1 g that are tried."""
    for unit, per_g in _UNITS.items():
        yield unit, 0.0, per_g
    if whole:
        for zero, per_g in product(ZEROS, COUNTS_PER_G):
            yield "count", zero, per_g


def _is_gravity(one: Array, other: Array) -> bool:
    """Whether two vectors in g are the earth's pull, turned as a machine is turned."""
    lengths = float(np.linalg.norm(one)), float(np.linalg.norm(other))
    if max(abs(length - 1.0) for length in lengths) > NORM_TOLERANCE:
        return False
    if abs(lengths[0] - lengths[1]) > NORM_CHANGE or float(np.abs(one).max()) < UPRIGHT:
        return False
    return LEAST_TURN_DEG <= angle_between_deg(one, other) <= MOST_TURN_DEG


def _named(
    first: int, one: Array, other: Array, unit: AxisUnit, zero: float, per_g: float
) -> Triple:
    """The axes by what they do: upright, changed most, and the other."""
    z = int(np.argmax(np.abs(one)))
    x, y = sorted({0, 1, 2} - {z}, key=lambda axis: -abs(other - one)[axis])
    counted = unit == "count"
    return Triple(
        x=first + x,
        y=first + y,
        z=first + z,
        unit=unit,
        signs=_signs((x, y, z), one, other - one),
        counts_per_g=per_g if counted else None,
        zero_count=zero if counted else None,
    )


def _signs(axes: tuple[int, int, int], level: Array, change: Array) -> tuple[Sign, Sign, Sign]:
    """Signs of x, y and z.

    Level, the upright axis reads +1 g; a raised nose reads +x. Across, it follows from the other
    two, because sensors are right-handed.

    Source: ISO 8855 for the vehicle's axes; common practice for the right-handed sensor.
    """
    x, y, z = axes
    along = _sign(float(change[x]))
    up = _sign(float(level[z]))
    turn = _sign(float(np.linalg.det(np.eye(3)[[x, y, z]])))
    return along, _sign(float(along * up * turn)), up


def _sign(number: float) -> Sign:
    return -1 if number < 0 else 1
