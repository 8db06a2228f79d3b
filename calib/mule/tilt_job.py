"""The tilt part of the evening: true the sensor, zero it, prove its sign, shake, rest, ask."""

from __future__ import annotations

from typing import Final

from calib.mule.person import PLANK_MM
from calib.mule.stage import Stage
from calib.mule.task import Task

LONG_REST_S: Final = 270.0


def tilt_tasks(ends: frozenset[int]) -> list[Task]:
    """True the accelerometer, zero, prove the sign, shake, rest, and ask the gate."""
    return [
        Task(("poses",), ends=ends),
        Task(("level", "--turned", "--seated"), before=Stage.mount, ends=ends),
        Task(("signs", "--block-mm", f"{PLANK_MM:.0f}"), ends=ends),
        Task(("surge",), ends=ends),
        Task(("still", "--for", f"{LONG_REST_S:.0f}"), speed=90.0, ends=ends),
        Task(("trust", "--on-signal-loss", "power off"), ends=ends),
    ]
