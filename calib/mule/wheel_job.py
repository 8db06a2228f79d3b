"""The wheel's part of the evening: turned past the mark, and pushed along a tape."""

from __future__ import annotations

from calib.mule.task import Task


def wheel_tasks() -> list[Task]:
    """Pulses a turn, then the way of a turn with somebody seated."""
    return [Task(("wheel",)), Task(("wheel", "--over-turns", "10", "--seated"))]
