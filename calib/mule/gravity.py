"""What gravity and pushing do to a tilt sensor on two wheels. Axes: x forward, y left, z up."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Matrix = tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]

G_M_S2 = 9.81  # the garage's; no analysis reads it
SQUARE: Matrix = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Floor:
    """A plane floor: how much it rises along two directions painted on it."""

    rise_x_deg: float = 0.0
    rise_y_deg: float = 0.0

    def up(self) -> tuple[float, float, float]:
        """The true vertical, as a unit vector in the floor's own axes."""
        x = np.tan(np.radians(self.rise_x_deg))
        y = np.tan(np.radians(self.rise_y_deg))
        length = np.sqrt(x * x + y * y + 1.0)
        return float(x / length), float(y / length), float(1.0 / length)


@dataclass(frozen=True, slots=True)
class Pose:
    """Where the machine stands on the floor; arrays of one value per sample, or numbers."""

    heading_deg: Array  # 0: nose along the floor's x
    nose_up_deg: Array  # over the floor
    lean_left_deg: Array  # over the floor
    push_m_s2: Array  # acceleration forward


def rotation(yaw_deg: float = 0.0, pitch_deg: float = 0.0, roll_deg: float = 0.0) -> Matrix:
    """Matrix that takes a vector from the machine's axes into those of a sensor turned in it.

    The sensor is turned about z by the yaw (to the left), then about its own y by the pitch (nose
    down), then about its own x by the roll (left side up): right-handed turns, all three.
    """
    a, b, c = np.radians((yaw_deg, pitch_deg, roll_deg))
    about_z = np.array([[np.cos(a), np.sin(a), 0], [-np.sin(a), np.cos(a), 0], [0, 0, 1]])
    about_y = np.array([[np.cos(b), 0, -np.sin(b)], [0, 1, 0], [np.sin(b), 0, np.cos(b)]])
    about_x = np.array([[1, 0, 0], [0, np.cos(c), np.sin(c)], [0, -np.sin(c), np.cos(c)]])
    rows = (about_x @ about_y @ about_z).tolist()
    return (tuple(rows[0]), tuple(rows[1]), tuple(rows[2]))


def specific_force_g(floor: Floor, pose: Pose) -> Array:
    """Specific force in g along the machine's x, y, z; shape (samples, 3)."""
    up_x, up_y, up_z = floor.up()
    heading = np.radians(pose.heading_deg)
    x = up_x * np.cos(heading) + up_y * np.sin(heading) + pose.push_m_s2 / G_M_S2
    y = -up_x * np.sin(heading) + up_y * np.cos(heading)
    nose = np.radians(pose.nose_up_deg)
    x, z = x * np.cos(nose) + up_z * np.sin(nose), -x * np.sin(nose) + up_z * np.cos(nose)
    lean = np.radians(pose.lean_left_deg)
    y, z = y * np.cos(lean) - z * np.sin(lean), y * np.sin(lean) + z * np.cos(lean)
    return np.stack(np.broadcast_arrays(x, y, z), axis=-1).astype(np.float64)


@dataclass(frozen=True, slots=True)
class Accelerometer:
    """A three-axis accelerometer that sends offset-binary counts."""

    counts_per_g: float = 8192.0
    zero_count: int = 32768
    codes: int = 65536
    range_g: float = 4.0
    mounting: Matrix = SQUARE  # machine axes into sensor axes
    bias_g: tuple[float, float, float] = (0.0, 0.0, 0.0)
    gain: tuple[float, float, float] = (1.0, 1.0, 1.0)
    drift_g_per_k: tuple[float, float, float] = (0.0, 0.0, 0.0)
    noise_g: float = 0.002

    def reading_g(self, force_g: Array, warmer_k: Array, noise: Array) -> Array:
        """What the sensor makes of a specific force, in its own axes, g; shape (samples, 3)."""
        own = force_g @ np.array(self.mounting).T
        own = own * np.array(self.gain) + np.array(self.bias_g) + self.noise_g * noise
        own = own + warmer_k[..., None] * np.array(self.drift_g_per_k)
        return np.asarray(np.clip(own, -self.range_g, self.range_g), dtype=np.float64)

    def counts(self, reading_g: Array) -> NDArray[np.int64]:
        """The counts that the sensor sends for a reading in g."""
        code = np.rint(reading_g * self.counts_per_g) + self.zero_count
        return np.asarray(np.clip(code, 0, self.codes - 1), dtype=np.int64)


@dataclass(frozen=True, slots=True)
class Inclinometer:
    """A pitch angle sensor with a voltage output."""

    v_per_deg: float = 0.035
    zero_v: float = 2.5
    offset_deg: float = 0.0
    gain: float = 1.0  # negative: mounted the other way round
    axis_yaw_deg: float = 0.0  # 90: it measures lean
    range_deg: float = 60.0
    lag_s: float = 0.08
    fused: bool = True  # a gyro inside keeps pushes out of the angle
    leak_through: float = 0.03  # share of a push that a fused angle still shows
    drift_deg_per_h: float = 0.0
    noise_deg: float = 0.03

    def slope_deg(self, still_g: Array, moved_g: Array) -> Array:
        """The angle in degrees of the sensor's axis over the horizontal as it sees it.

        Args:
            still_g: Specific force without the push, shape (samples, 3), g.
            moved_g: Specific force with the push, shape (samples, 3), g.
        """
        yaw = np.radians(self.axis_yaw_deg)
        axis = np.array([np.cos(yaw), np.sin(yaw), 0.0])

        def over_horizontal(force_g: Array) -> Array:
            length = np.maximum(np.linalg.norm(force_g, axis=-1), 1e-9)
            sine = np.clip(force_g @ axis / length, -1.0, 1.0)
            return np.asarray(np.degrees(np.arcsin(sine)), dtype=np.float64)

        pushed = over_horizontal(moved_g)
        if not self.fused:
            return np.asarray(pushed, dtype=np.float64)
        still = over_horizontal(still_g)
        return np.asarray(still + self.leak_through * (pushed - still), dtype=np.float64)

    def volts(self, slope_deg: Array, hours: Array, noise: Array) -> Array:
        """Volts at the sensor's output for an angle it sees."""
        angle = self.gain * slope_deg + self.offset_deg + self.drift_deg_per_h * hours
        angle = np.clip(angle, -self.range_deg, self.range_deg) + self.noise_deg * noise
        return np.asarray(self.zero_v + self.v_per_deg * angle, dtype=np.float64)


class Lag:
    """A first-order lag of one time constant that continues from block to block."""

    def __init__(self, tau_s: float, rate_hz: float) -> None:
        """Start at whatever comes first."""
        self.tau_s = tau_s
        self._keep = float(np.exp(-1.0 / (tau_s * rate_hz))) if tau_s > 0 else 0.0
        self._last: float | None = None

    def block(self, values: Array) -> Array:
        """Return the lagged values, same shape."""
        before = float(values[0]) if self._last is None else self._last
        driven = ((1.0 - self._keep) * values).tolist()
        out = list(accumulate(driven, lambda y, x: self._keep * y + x, initial=before))[1:]
        self._last = out[-1]
        return np.array(out)
