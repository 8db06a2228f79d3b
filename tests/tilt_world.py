"""A machine with a tilt sensor on a plane floor, from rigid rotations alone.

Nothing here comes from the analysis: the world is turned with scipy's Rotation (ISO 8855: x
forward, y left, z up; right-handed, so a pitch is positive nose down there).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial.transform import Rotation

from calib.measure.sliding import Run
from calib.tilt.series import TiltReading, TiltSeries, reading_of

Array = npt.NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])
FORWARD = np.array([1.0, 0.0, 0.0])
RATE_HZ = 100.0
SQUARE = Rotation.identity()


def turned(nose_up: float = 0.0, left_up: float = 0.0, left: float = 0.0) -> Rotation:
    """A rotation, degrees: first to the left, then the nose up, then the left side up."""
    return Rotation.from_euler("ZYX", [left, -nose_up, left_up], degrees=True)


@dataclass(frozen=True)
class Floor:
    """A plane floor: how far it rises, degrees, and toward which heading it rises most."""

    slope_deg: float = 0.0
    toward_deg: float = 0.0

    def stand(self, heading_deg: float, nose_up: float = 0.0, left_up: float = 0.0) -> Rotation:
        """The attitude in the world of a machine that stands on it."""
        toward = np.radians(self.toward_deg)
        normal = Rotation.from_rotvec(
            np.radians(self.slope_deg) * np.array([np.sin(toward), -np.cos(toward), 0.0])
        )
        heading = Rotation.from_euler("Z", heading_deg, degrees=True)
        return normal * heading * turned(nose_up, left_up)


@dataclass(frozen=True)
class Sensor:
    """A three-axis accelerometer fixed to the machine.

    Attributes:
        mounting: How it is turned against the machine.
        bias_g: Bias of its axes, g.
        gain: Scale of its axes.
        noise_g: Standard deviation of one reading, g.
    """

    mounting: Rotation = SQUARE
    bias_g: tuple[float, float, float] = (0.0, 0.0, 0.0)
    gain: tuple[float, float, float] = (1.0, 1.0, 1.0)
    noise_g: float = 0.0

    def force(self, attitude: Rotation, push_g: Array | float = 0.0) -> Array:
        """What it reads, g, in an attitude of the machine or each of several, pushed forward."""
        of_machine = attitude.inv().apply(UP) + np.multiply.outer(push_g, FORWARD)
        read = self.mounting.inv().apply(of_machine) * np.array(self.gain) + np.array(self.bias_g)
        return np.asarray(read, dtype=np.float64)

    def series(
        self, attitudes: list[tuple[Rotation, float]], rng: np.random.Generator
    ) -> TiltSeries:
        """Readings over attitudes, each held for some seconds, with a quick movement between."""
        parts: list[Array] = []
        for attitude, hold_s in attitudes:
            force = self.force(attitude)
            if parts:
                share = np.linspace(0, 1, int(0.8 * RATE_HZ))[:, None]
                shaken = rng.normal(0, 0.05, (share.size, 3))
                parts.append(parts[-1][-1] * (1 - share) + force * share + shaken)
            parts.append(np.tile(force, (int(hold_s * RATE_HZ), 1)))
        exact = np.vstack(parts)
        return TiltSeries(RATE_HZ, force_g=exact + rng.normal(0, self.noise_g or 1e-6, exact.shape))

    def reading(
        self, attitude: Rotation, rng: np.random.Generator, count: int = 300
    ) -> TiltReading:
        """Mean reading of a rest in an attitude."""
        exact = np.tile(self.force(attitude), (count, 1))
        noisy = exact + rng.normal(0, self.noise_g or 1e-9, exact.shape)
        return reading_of(TiltSeries(RATE_HZ, force_g=noisy), Run(0, count))


def angle_reading(pitch_deg: float, roll_deg: float | None = None) -> TiltReading:
    """A reading of an angle sensor, or of a display."""
    return TiltReading(pitch_deg, 0.001, roll_deg, None if roll_deg is None else 0.001)
