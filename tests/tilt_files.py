"""Rig files, captures and series of tilt sensors for tests, from the world in `tilt_world`."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.spatial.transform import Rotation

from calib.store.asked import asked_of
from calib.store.capture import Capture
from calib.store.capture_writer import READING_TABLES
from calib.store.files import metadata_path
from calib.store.rig import Rig, load_rig
from tests.tilt_world import RATE_HZ, UP, Sensor

Array = npt.NDArray[np.float64]

STARTED: datetime | None = None
"""When captures say that they were taken; just now when None."""

HEAD = """\
[time]
column = "t_ms"
unit = "ms"
"""
ACCEL = """
[channels.ax]
role = "accel-x"
column = "ax"
unit = "g"
range_g = 4.0

[channels.ay]
role = "accel-y"
column = "ay"
unit = "g"
range_g = 4.0

[channels.az]
role = "accel-z"
column = "az"
unit = "g"
range_g = 4.0
"""
PITCH = """
[channels.pitch]
role = "pitch"
column = "p"
unit = "deg"
"""
TILT = """
[tilt]
expects = "nose-up-positive"
wheelbase_mm = 1250
aid_starts_deg = 14.0
aid_ended_deg = 30.0
dive_deg = 2.0
launch_m_s2 = 2.0
cg_ahead_of_rear_axle_mm = 600
cg_height_mm = 650
on_signal_loss = "power off"
"""


def tilt_rig(folder: Path, text: str = ACCEL, tilt: str = TILT) -> Rig:
    """A rig file with a tilt sensor, written and read."""
    path = folder / "rig.toml"
    path.write_text(HEAD + text + tilt, encoding="utf-8")
    return load_rig(path)


@dataclass
class Motion:
    """Attitudes of the machine over time, each held for some seconds, moved to in 1.2 s."""

    steps: list[tuple[Rotation, float]]

    def attitudes(self) -> Rotation:
        """One attitude a reading."""
        share = np.linspace(0, 1, int(1.2 * RATE_HZ))
        eased = share * share * (3 - 2 * share)
        found: list[Rotation] = []
        last: Rotation | None = None
        for attitude, hold_s in self.steps:
            if last is not None:
                away = (last.inv() * attitude).as_rotvec()
                found.append(last * Rotation.from_rotvec(np.outer(eased, away)))
            held = np.zeros(int(hold_s * RATE_HZ), dtype=int)
            found.append(Rotation.concatenate([attitude])[held])
            last = attitude
        return Rotation.concatenate(found)


def force_columns(
    sensor: Sensor, motion: Motion, rng: np.random.Generator, push_g: Array | None = None
) -> dict[str, Array]:
    """What an accelerometer sends: columns ax, ay, az in g."""
    exact = sensor.force(motion.attitudes(), 0.0 if push_g is None else push_g)
    noisy = exact + rng.normal(0, sensor.noise_g or 1e-4, exact.shape)
    return dict(zip(("ax", "ay", "az"), noisy.T, strict=True))


def pitch_column(motion: Motion, rng: np.random.Generator, gain: float = 1.0) -> Array:
    """What a well-fused pitch sensor sends, degrees, nose up positive."""
    up = motion.attitudes().inv().apply(UP)[:, 0]
    angle: Array = gain * np.degrees(np.arcsin(up)) + rng.normal(0, 0.03, up.size)
    return angle


def tilt_capture(folder: Path, name: str, columns: dict[str, Array]) -> Capture:
    """A capture of ours on disk with these columns, read back."""
    return read_back(write_capture(folder, name, columns))


def write_capture(
    folder: Path, name: str, columns: dict[str, Array], started: datetime | None = None
) -> Path:
    """Write a capture of ours with these columns; it says that it was taken just now."""
    count = len(next(iter(columns.values())))
    time_s = np.arange(count) / RATE_HZ
    names = ["time_s", "arrival_s", *columns]
    rows = np.column_stack([time_s, time_s, *columns.values()])
    path = folder / f"{name}.csv"
    line = ",".join(["{:.6g}"] * len(names))
    lines = [",".join(names), *(line.format(*row) for row in rows.tolist())]
    path.write_text("\r\n".join(lines) + "\r\n", encoding="utf-8")
    rig_path = folder / "rig.toml"
    asked = asked_of(load_rig(rig_path)) if rig_path.exists() else ()
    noted = {
        "dc:created": (started or STARTED or datetime.now(UTC)).isoformat(),
        "calib:rests_on": [
            {"key": each.key, "value": each.value}
            for each in asked
            if each.key.startswith(READING_TABLES)
        ],
    }
    metadata_path(path).write_text(json.dumps(noted), encoding="utf-8")
    return path


def read_back(path: Path) -> Capture:
    """A capture on disk."""
    from calib.store.capture import read_capture

    return read_capture(path)
