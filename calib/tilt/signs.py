"""Sign, axis and scale of a tilt sensor, from poses of the machine whose angles are known."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final, Literal

import numpy as np

from calib.tilt.attitude import Array, angle_between_deg
from calib.tilt.geometry import RaisedAngle
from calib.tilt.mounting import Mounting, describe_mounting
from calib.tilt.series import TiltReading
from calib.tilt.zero import STICTION_MM

Sign = Literal[-1, 1]
Against = Literal["block", "accelerometer"]

LEAST_SHARE: Final = 0.3
"""Share of the expected angle that a reading has to move before its sign is called proven. Own
choice, because a pitch that moves less is not the pitch, or the nose was not raised."""

ASSUMED_LEAN_DEG: Final = 10.0
"""Lean, degrees, where nothing measures it: what the person is asked for."""

LEAST_LEAN_DEG: Final = 4.0
"""Lean, degrees, below which a machine counts as held upright. Own choice, because a hand holds it
upright within about two."""


class Pose(StrEnum):
    """A pose of the machine."""

    LEVEL = "level"
    FRONT_RAISED = "front raised"
    REAR_RAISED = "rear raised"
    LEANED_LEFT = "leaned left"
    LEANED_RIGHT = "leaned right"


LEANS: Final = (Pose.LEANED_LEFT, Pose.LEANED_RIGHT)
"""The poses to the sides."""


@dataclass(frozen=True)
class Change:
    """How far a pose moved the readings from level, degrees, in their own signs.

    Attributes:
        pitch_deg: Change of pitch.
        roll_deg: Change of roll; None where nothing shows it.
        turn_deg: Angle by which the accelerometer saw the machine turn; None without one.
        u_deg: Standard uncertainty of the change of pitch from noise.
    """

    pitch_deg: float
    roll_deg: float | None
    turn_deg: float | None
    u_deg: float

    @property
    def lean_deg(self) -> float | None:
        """How far it was leaned, degrees, by the accelerometer, else the roll; None without."""
        lean = self.roll_deg if self.turn_deg is None else self.turn_deg
        return None if lean is None else abs(lean)


@dataclass(frozen=True)
class Signs:
    """What the poses say of a tilt sensor; of an expected angle alone, nothing.

    Attributes:
        expected: The angle that the block makes, degrees.
        changes: Change of the readings in each pose but level.
        pitch_sign: +1 if raising the nose raises the reading, -1 if it lowers it; None where the
            poses do not say.
        contradiction: Whether raised front and raised rear moved the pitch the same way.
        scale_ratio: Change of pitch over the true change; None where unknown.
        scale_u: Standard uncertainty of that ratio.
        against: What the true change was taken from: "block" or "accelerometer".
        turned_deg: How far the accelerometer says that a raised wheel turned the machine, mean over
            the raised poses; None without one beside a pitch channel.
        turned_u: Its standard uncertainty against the block's angle, degrees: springs settle.
        cross_share: Largest change of pitch over the lean that made it; None without a lean.
        follows_roll: Whether pitch and roll are exchanged, by what raised and leaned moved in both.
        mounting: How the accelerometer is turned; None where the poses do not say.
        yaw_deg: The sensor's yaw against the machine, degrees, left positive; None likewise.
    """

    expected: RaisedAngle
    changes: Mapping[Pose, Change] = field(default_factory=dict)
    pitch_sign: Sign | None = None
    contradiction: bool = False
    scale_ratio: float | None = None
    scale_u: float | None = None
    against: Against = "block"
    turned_deg: float | None = None
    turned_u: float | None = None
    cross_share: float | None = None
    follows_roll: bool = False
    mounting: Mounting | None = None
    yaw_deg: float | None = None


Raised = Sequence[tuple[int, Change]]
"""The raised poses, each with the direction in which its nose went."""


def find_signs(
    poses: Mapping[Pose, TiltReading], expected: RaisedAngle, wheelbase_mm: float
) -> Signs:
    """Sign, axis and scale from poses.

    Args:
        poses: Mean reading of each pose; level is there.
        expected: Pitch that the block makes under one wheel, degrees.
        wheelbase_mm: Distance of the axles, mm, for the suspension's share of the uncertainty.

    Returns:
        What the poses say; None wherever they do not.

    Raises:
        KeyError: Level is missing.

    Source: small-block trigonometry (`raised_angle`); uncertainty after JCGM 100:2008, 5.1.2;
    limits are own choice, stated at each.
    """
    level = poses[Pose.LEVEL]
    changes: dict[Pose, Change] = {
        pose: _change(reading, level) for pose, reading in poses.items() if pose is not Pose.LEVEL
    }
    ways = ((1, Pose.FRONT_RAISED), (-1, Pose.REAR_RAISED))
    raised = [(way, changes[pose]) for way, pose in ways if pose in changes]
    sign, contradiction = _pitch_sign(raised, expected)
    turned_deg = _turned_deg(raised, level)
    settling_deg = _settling_deg(wheelbase_mm, max(len(raised), 1))
    ratio, u, against = _scale(raised, expected, settling_deg, turned_deg)
    mounting = _mounting(poses)
    return Signs(
        expected=expected,
        changes=changes,
        pitch_sign=sign,
        contradiction=contradiction,
        scale_ratio=ratio,
        scale_u=u,
        against=against,
        turned_deg=turned_deg,
        turned_u=None if turned_deg is None else math.hypot(settling_deg, expected.u_deg),
        cross_share=_cross_share(changes),
        follows_roll=_follows_roll(changes, expected),
        mounting=mounting,
        yaw_deg=_yaw_deg(mounting),
    )


def _change(reading: TiltReading, level: TiltReading) -> Change:
    """Change of a pose from level."""
    turn = None
    if reading.force_g is not None and level.force_g is not None:
        turn = angle_between_deg(level.force_g, reading.force_g)
    both = reading.roll_deg is not None and level.roll_deg is not None
    return Change(
        pitch_deg=_wrapped(reading.pitch_deg - level.pitch_deg),
        roll_deg=_wrapped((reading.roll_deg or 0.0) - (level.roll_deg or 0.0)) if both else None,
        turn_deg=turn,
        u_deg=math.hypot(reading.u_pitch_deg, level.u_pitch_deg),
    )


def _wrapped(angle_deg: float) -> float:
    """An angle, degrees, between -180 and 180."""
    return (angle_deg + 180.0) % 360.0 - 180.0


def _sign_of(change: Change, expected: RaisedAngle) -> Sign | None:
    """Sign of a change of pitch that is large enough to prove one."""
    least = max(LEAST_SHARE * expected.angle_deg, 3 * change.u_deg)
    return None if abs(change.pitch_deg) < least else (1 if change.pitch_deg > 0 else -1)


def _pitch_sign(raised: Raised, expected: RaisedAngle) -> tuple[Sign | None, bool]:
    """The sign of pitch, and whether the poses contradict each other about it.

    The nose has to be raised for a sign: a raised rear alone proves none.
    """
    seen = {way: _sign_of(change, expected) for way, change in raised}
    signs = {way * sign for way, sign in seen.items() if sign is not None}
    return (None, True) if len(signs) > 1 else (seen.get(1), False)


def _scale(
    raised: Raised, expected: RaisedAngle, settling_deg: float, turned_deg: float | None
) -> tuple[float | None, float | None, Against]:
    """Measured over true change of pitch, its standard uncertainty, and what is called true."""
    if not raised:
        return None, None, "block"
    moved = abs(sum(way * change.pitch_deg for way, change in raised)) / len(raised)
    noise = math.hypot(*(change.u_deg for _, change in raised)) / len(raised)
    if turned_deg is not None and turned_deg > LEAST_SHARE * expected.angle_deg:
        return moved / turned_deg, noise / turned_deg, "accelerometer"
    u_deg = math.hypot(noise, settling_deg, expected.u_deg * moved / expected.angle_deg)
    return moved / expected.angle_deg, u_deg / expected.angle_deg, "block"


def _turned_deg(raised: Raised, level: TiltReading) -> float | None:
    """How far an accelerometer beside a pitch channel turned in the raised poses, degrees."""
    turns = [change.turn_deg for _, change in raised if change.turn_deg is not None]
    if not raised or len(turns) != len(raised) or level.pitch_from_force:
        return None
    return float(np.mean(turns))


def _settling_deg(wheelbase_mm: float, poses: int) -> float:
    """Standard uncertainty of a change between poses from springs that stick, degrees."""
    return math.degrees(STICTION_MM / wheelbase_mm) / math.sqrt(3) * math.sqrt(2 / poses)


def _cross_share(changes: Mapping[Pose, Change]) -> float | None:
    """Largest share of a lean that shows as pitch."""
    shares = []
    for change in (changes[pose] for pose in LEANS if pose in changes):
        moved_deg, seen_deg = abs(change.pitch_deg), change.lean_deg
        lean_deg = ASSUMED_LEAN_DEG if seen_deg is None else seen_deg
        if seen_deg is None or seen_deg >= LEAST_LEAN_DEG or moved_deg > seen_deg:
            shares.append(moved_deg / max(lean_deg, 1e-9))
    return max(shares) if shares else None


def _follows_roll(changes: Mapping[Pose, Change], expected: RaisedAngle) -> bool:
    """Whether pitch and roll are exchanged, by the answers of both.

    The raised nose moves the roll; and either it leaves the pitch alone, or a lean moves the pitch
    more than the roll. A roll alone says nothing: a hand that holds the machine leans it too.
    """
    front = changes.get(Pose.FRONT_RAISED)
    if front is None or front.roll_deg is None:
        return False
    least = LEAST_SHARE * expected.angle_deg
    if abs(front.roll_deg) <= max(least, abs(front.pitch_deg)):
        return False
    leans = [changes[pose] for pose in LEANS if pose in changes]
    told = [abs(c.pitch_deg) > abs(c.roll_deg) for c in leans if c.roll_deg is not None]
    return all(told) if told else abs(front.pitch_deg) < least


def _mounting(poses: Mapping[Pose, TiltReading]) -> Mounting | None:
    """How the accelerometer is turned; it takes a raised nose, and a lean tells left hand."""
    forces = {pose: r.force_g for pose, r in poses.items() if r.force_g is not None}
    if Pose.LEVEL not in forces or Pose.FRONT_RAISED not in forces:
        return None
    up = forces[Pose.LEVEL] / np.linalg.norm(forces[Pose.LEVEL])
    forward = _towards(forces, up, Pose.FRONT_RAISED, Pose.REAR_RAISED)
    if forward is None:
        return None
    left = _towards(forces, up, Pose.LEANED_RIGHT, Pose.LEANED_LEFT)
    if left is None or float(np.cross(forward, left) @ up) > 0:
        # the same hand: the raised nose is exact, the lean by hand is not
        left = np.cross(up, forward)
    return describe_mounting(forward, left, up)


def _towards(forces: Mapping[Pose, Array], up: Array, plus: Pose, minus: Pose) -> Array | None:
    """Direction, in sensor axes, in which the force moves; shape (3,), None without movement."""
    total = np.zeros(3)
    for way, pose in ((1.0, plus), (-1.0, minus)):
        if pose in forces:
            total += way * (forces[pose] / np.linalg.norm(forces[pose]) - up)
    level = total - (total @ up) * up
    length = float(np.linalg.norm(level))
    return None if length < math.radians(0.5) else level / length


def _yaw_deg(mounting: Mounting | None) -> float | None:
    """Yaw, degrees, of a sensor that is otherwise mounted as the rig file says."""
    if mounting is None or mounting.sensor_to_vehicle is None or not mounting.right:
        return None
    x = mounting.sensor_to_vehicle[:, 0]
    return math.degrees(math.atan2(x[1], x[0]))
