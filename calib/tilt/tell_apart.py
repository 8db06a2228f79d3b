"""Which still stretch is which pose of the machine, from the direction of the force alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from calib.tilt.attitude import Array, angle_between_deg
from calib.tilt.geometry import RaisedAngle
from calib.tilt.series import TiltReading
from calib.tilt.signs import LEAST_LEAN_DEG, Pose

_LEVEL_SHARE: Final = 0.4
"""Share of the block's angle within which a stretch counts as back on level. Own choice, because
the suspension settles within a tenth of it and a raised wheel moves it by all of it."""

_PITCH_BAND: Final = (0.6, 1.5)
"""Turn over the block's angle of a raised wheel. Own choice, because springs move it by a tenth
and a lean by hand is to be well beyond it."""

HELD_SHARE: Final = 0.6
"""Share of the block's angle within which a stretch may still be the machine held upright. Own
choice, because a hand leans it by a degree or two, and a raised wheel turns it by more."""

_SAME_AXIS: Final = math.cos(math.radians(45.0))


@dataclass(frozen=True)
class ToldApart:
    """The poses that were recognised.

    Attributes:
        poses: Mean reading of each recognised pose, the first of each kind; of level the one in
            the middle of all that stand as the first does.
        fronts: How often the front was raised.
        rears: How often the rear was.
        leans: To how many sides the machine was leaned.
        question: What stays open, a sentence for the person; empty when all is told apart.
        raised: Of each stretch with a raised wheel its number, and the way it turned: 1 as the
            first of them, -1 the other way.
        leaned: Of each leaned stretch its number and side, likewise.
        handed: 1 where raised 1 being the front goes with leaned 1 being to the right, else -1;
            0 while either is missing.
    """

    poses: dict[Pose, TiltReading]
    fronts: int = 0
    rears: int = 0
    leans: int = 0
    question: str = ""
    raised: tuple[tuple[int, int], ...] = ()
    leaned: tuple[tuple[int, int], ...] = ()
    handed: int = 0


def tell_apart(stretches: Sequence[TiltReading], expected: RaisedAngle) -> ToldApart:
    """Poses of the machine in any order; the first stretch is level.

    Front and rear raised are mirror images, and so are the leans: no sensor whose mounting is
    unknown can tell them apart by force alone. The person therefore raises the front twice and
    the rear once; the way that is seen more often is the front. Left and right then follow,
    because up, forward and left make a right hand.

    A hand that holds the machine upright leans it by a little, so that any one standing may be off;
    where it stood upright more than once, the one in their middle is level.

    Args:
        stretches: Mean readings with a force, in order of time; the first is level.
        expected: Angle that the block makes, degrees.

    Returns:
        The poses, and the question that is still open.

    Source: own method.
    """
    if not stretches or stretches[0].force_g is None:
        return ToldApart({}, question="There is no still stretch on level ground to start from.")
    level = _level_of(stretches, expected)
    up = _force(level)
    found = [_Found(n, r, up) for n, r in enumerate(stretches) if r.force_g is not None]
    away = [f for f in found if f.turn_deg > _LEVEL_SHARE * expected.angle_deg]
    raised, leaned = _two_axes(away, expected)
    forward, fronts, rears = _front_side(raised)
    question = ""
    if not raised:
        question = "No stretch turned by the angle of the block: raise the front onto it."
    elif forward is None:
        question = "The front was not raised more often than the rear: raise the front once more."
    poses = {Pose.LEVEL: level}
    if forward is not None:
        left = np.cross(up, forward)
        for item in (*raised, *leaned):
            poses.setdefault(_named(item, forward, left), item.reading)
    return ToldApart(
        poses,
        fronts=fronts,
        rears=rears,
        leans=_count_sides(leaned),
        question=question,
        raised=_ways(raised),
        leaned=_ways(leaned),
        handed=_handed(raised, leaned, up),
    )


def _level_of(stretches: Sequence[TiltReading], expected: RaisedAngle) -> TiltReading:
    """The standing in the middle of all that stand as the first one does."""
    first, most_deg = _force(stretches[0]), HELD_SHARE * expected.angle_deg
    forces = [(each, _force(each)) for each in stretches if each.force_g is not None]
    upright = [(each, up) for each, up in forces if angle_between_deg(first, up) < most_deg]
    middle = _unit(np.median([up for _, up in upright], axis=0))
    return min(upright, key=lambda each: angle_between_deg(each[1], middle))[0]


def _force(reading: TiltReading) -> Array:
    """The way of the force, at unit length."""
    return np.zeros(3) if reading.force_g is None else _unit(reading.force_g)


class _Found:
    """One stretch away from level: how far it turned, and which way the force went."""

    def __init__(self, number: int, reading: TiltReading, up: Array) -> None:
        self.number = number
        force = _force(reading)
        self.reading = reading
        self.turn_deg = angle_between_deg(up, force)
        flat = force - (force @ up) * up
        self.way = _unit(flat) if np.linalg.norm(flat) > 0 else flat


def _ways(turned: Sequence[_Found]) -> tuple[tuple[int, int], ...]:
    """Number and way of each stretch of an axis, by the first of them."""
    return tuple((f.number, 1 if float(f.way @ turned[0].way) > 0 else -1) for f in turned)


def _handed(raised: Sequence[_Found], leaned: Sequence[_Found], up: Array) -> int:
    """The hand that the first of both make, as `ToldApart` has it."""
    if not raised or not leaned:
        return 0
    left = np.cross(up, raised[0].way)  # the force goes to the left when the left side is up
    return 1 if float(leaned[0].way @ left) > 0 else -1


def _unit(vector: Array) -> Array:
    """A vector at unit length."""
    return vector / np.linalg.norm(vector)


def _two_axes(away: Sequence[_Found], expected: RaisedAngle) -> tuple[list[_Found], list[_Found]]:
    """The stretches along the axis that turned by the block's angle, and the others."""
    low, high = (share * expected.angle_deg for share in _PITCH_BAND)
    seeds = [f for f in away if low <= f.turn_deg <= high]
    best: list[_Found] = []
    for seed in seeds:
        along = [f for f in away if abs(float(f.way @ seed.way)) > _SAME_AXIS]
        if all(low <= f.turn_deg <= high for f in along) and len(along) > len(best):
            best = along
    return best, [f for f in away if f not in best and f.turn_deg >= LEAST_LEAN_DEG]


def _front_side(raised: Sequence[_Found]) -> tuple[Array | None, int, int]:
    """The way that was seen more often, and both counts."""
    plus = [f for f in raised if float(f.way @ raised[0].way) > 0]
    minus = [f for f in raised if f not in plus]
    more, fewer = (plus, minus) if len(plus) > len(minus) else (minus, plus)
    if len(more) == len(fewer) or len(more) < 2:
        return None, len(more), len(fewer)
    return _unit(np.sum([f.way for f in more], axis=0)), len(more), len(fewer)


def _count_sides(leaned: Sequence[_Found]) -> int:
    """To how many sides the machine was leaned."""
    if not leaned:
        return 0
    ways = [float(found.way @ leaned[0].way) for found in leaned]
    return 2 if min(ways) < -_SAME_AXIS else 1


def _named(item: _Found, forward: Array, left: Array) -> Pose:
    """The pose of one stretch."""
    along, across = float(item.way @ forward), float(item.way @ left)
    if abs(along) > abs(across):
        return Pose.FRONT_RAISED if along > 0 else Pose.REAR_RAISED
    # the force goes to the left in the sensor when the left side is up
    return Pose.LEANED_RIGHT if across > 0 else Pose.LEANED_LEFT
