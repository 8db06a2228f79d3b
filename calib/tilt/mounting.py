"""How a sensor is turned against the machine, in words, and the angle left over, in degrees."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np

from calib.tilt.attitude import Array, angle_between_deg

Axes = tuple[tuple[int, int], ...]

_AXES: Final = np.eye(3)


def _turn(axis: int, degrees: float) -> Array:
    """A turn of the sensor about a vehicle axis, right-handed, as a hand would make it."""
    across = np.cross(_AXES[axis], _AXES).T  # Rodrigues' formula, its figures 0, 1 and -1
    sine, cosine = math.sin(math.radians(degrees)), math.cos(math.radians(degrees))
    turn: Array = (_AXES + sine * across + (1.0 - cosine) * across @ across).round()
    return turn


_TURNS: Final = (
    (_turn(2, 90), "a quarter turn to the left about the upright axis"),
    (_turn(2, -90), "a quarter turn to the right about the upright axis"),
    (_turn(2, 180), "a half turn about the upright axis, so that it looks backwards"),
    (_turn(0, 90), "tipped a quarter turn onto its right side"),
    (_turn(0, -90), "tipped a quarter turn onto its left side"),
    (_turn(0, 180), "rolled upside down about the long axis"),
    (_turn(1, 90), "tipped a quarter turn forward onto its front edge"),
    (_turn(1, -90), "tipped a quarter turn backward onto its rear edge"),
    (_turn(1, 180), "tipped upside down end over end"),
)


@dataclass(frozen=True)
class Mounting:
    """How a sensor is turned against the machine.

    Attributes:
        sensor_to_vehicle: Rotation that takes a sensor reading to vehicle axes, shape (3, 3);
            None when the axes do not form a right-handed set, so that no turning explains them.
        rest_deg: Angle left after the nearest quarter turns, degrees.
        text: The mounting in words.
        remedy: What would make it right, in words.
        axes: For vehicle x, y and z the sensor's axis that lies along it (0, 1 or 2) and whether
            it counts that way (1) or the other (-1); None where nothing is to be renamed.
    """

    sensor_to_vehicle: Array | None
    rest_deg: float
    text: str
    remedy: str = ""
    axes: Axes | None = None

    @property
    def right(self) -> bool:
        """Whether no quarter turn and no exchange of axes is left."""
        return self.axes is None


@cache
def _compositions() -> tuple[tuple[Array, str], ...]:
    """The 24 right-angled mountings, each by the fewest turns from the right one."""
    found: list[tuple[Array, str]] = [(np.eye(3), "")]
    doubles = (
        (second @ first, f"{words}, and then {then}")
        for (first, words), (second, then) in itertools.product(_TURNS, repeat=2)
    )
    for matrix, text in (*_TURNS, *doubles):
        if not any(np.array_equal(matrix, known) for known, _ in found):
            found.append((matrix, text))
    return tuple(found)


def describe_mounting(forward: Array, left: Array, up: Array) -> Mounting:
    """The mounting of a sensor from the vehicle's directions as the sensor sees them.

    Args:
        forward: Vehicle x in sensor axes, shape (3,), any length.
        left: Vehicle y in sensor axes, shape (3,).
        up: Vehicle z in sensor axes, shape (3,).

    Returns:
        The mounting. With directions of opposite handedness it names the axes to exchange or to
        reverse, because no turning can do it.

    Source: orthogonal Procrustes problem (Kabsch 1976) by singular value decomposition; the
    wording is our own.
    """
    seen = np.stack([v / np.linalg.norm(v) for v in (forward, left, up)])
    if np.linalg.det(seen) < 0:
        return _mirrored(seen)
    left_singular, _, right_singular = np.linalg.svd(seen)
    sensor_to_vehicle = left_singular @ right_singular
    # a sensor turned by Q has its own axes at Q e in the vehicle, so a reading goes there by Q
    turn, text = min(_compositions(), key=lambda c: _distance_deg(c[0], sensor_to_vehicle))
    rest_deg = _distance_deg(turn, sensor_to_vehicle)
    if not text:
        text = f"the sensor sits as the rig file says, within {rest_deg:.0f} degrees"
        return Mounting(sensor_to_vehicle, rest_deg, text)
    axes = _named(turn)
    remedy = (
        "Turn it back, or let 'calib signs --write' state its axes as they lie now: "
        f"{_words(axes)}."
    )
    return Mounting(sensor_to_vehicle, rest_deg, f"the sensor is turned: {text}", remedy, axes)


def _distance_deg(first: Array, second: Array) -> float:
    """Angle, degrees, of the rotation between two rotations."""
    # Frobenius: the matrices of turns by an angle differ by sqrt(8) times the sine of its half.
    half = float(np.linalg.norm(first - second)) / math.sqrt(8.0)
    return math.degrees(2.0 * math.asin(min(half, 1.0)))


def _named(sensor_to_vehicle: Array) -> Axes:
    """For each vehicle axis the sensor's axis along it, and its sign."""
    columns = np.argmax(np.abs(sensor_to_vehicle), axis=1)
    signs = np.sign(sensor_to_vehicle[range(3), columns])
    return tuple((int(c), int(s)) for c, s in zip(columns, signs, strict=True))


def _words(axes: Axes) -> str:
    """Which sensor axis looks which way."""
    ways = (("forward", "backward"), ("left", "right"), ("up", "down"))
    looks = {
        column: way[0 if sign > 0 else 1] for way, (column, sign) in zip(ways, axes, strict=True)
    }
    parts = (f"the column now named accel-{name} looks {looks[n]}" for n, name in enumerate("xyz"))
    return ", ".join(parts)


def _mirrored(seen: Array) -> Mounting:
    """The mounting of a sensor whose axes are exchanged or reversed."""
    frames = (
        np.diag(signs) @ _AXES[list(order)]
        for order in itertools.permutations(range(3))
        for signs in itertools.product((1.0, -1.0), repeat=3)
    )
    mirrored = (frame for frame in frames if np.linalg.det(frame) < 0)
    best = min(mirrored, key=lambda frame: float(np.linalg.norm(frame - seen)))
    axes = _named(best)
    remedy = (
        "Two columns are exchanged or one has its sign reversed in the rig file: "
        f"{_words(axes)}. 'calib signs --write' states them so."
    )
    rest_deg = max(angle_between_deg(a, b) for a, b in zip(best, seen, strict=True))
    text = "the axes form a left hand, which no turning of a sensor can do"
    return Mounting(None, rest_deg, text, remedy, axes)
