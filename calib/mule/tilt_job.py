"""The tilt part of the evening: what the simulated hands do at each prompt and verb."""

from __future__ import annotations

from typing import Final

from calib.guide.protocols import Live
from calib.mule.hands import QUARTER_FACES
from calib.mule.stage import Stage
from calib.mule.task import Task

BLOCK_MM: Final = 90.0
POSES: Final = ((BLOCK_MM, 0.0), (BLOCK_MM, 0.0), (0.0, BLOCK_MM), -10.0, 11.0)
"""Front raised twice and rear once, mm under front and rear; then leaned to both sides, degrees."""

LONG_REST_S: Final = 270.0


def tilt_tasks(ends: frozenset[int]) -> list[Task]:
    """True the accelerometer, zero, prove the sign, shake, rest, and ask the gate."""
    return [
        Task(("poses",), reactions={"lay down": lay_next}, ends=ends),
        Task(
            ("level", "--turned", "--seated"),
            before=Stage.mount,
            ready={
                "nobody on it": Stage.stand_again,
                "end for end": _get_off_and_turn,
                "turn it back": _turn,
                "sit on it": Stage.sit,
            },
            ends=ends,
        ),
        Task(("signs", "--block-mm", f"{BLOCK_MM:.0f}"), reactions={"pose": pose_next}, ends=ends),
        Task(("surge",), reactions={"shake": shake}, ends=ends),
        Task(("still", "--for", f"{LONG_REST_S:.0f}"), speed=90.0, ends=ends),
        Task(("trust", "--on-signal-loss", "power off"), ends=ends),
    ]


def lay_next(stage: Stage, live: Live) -> None:
    """Lay the sensor on the next face of a box, and let it lie."""
    stage.lay(QUARTER_FACES[live.step.done % len(QUARTER_FACES)])
    stage.wait(3.2)


def pose_next(stage: Stage, live: Live) -> None:
    """Take the next pose, hold it, and stand upright again."""
    pose = POSES[min(live.step.done, len(POSES) - 1)]
    if isinstance(pose, tuple):
        stage.raise_axle(*pose)
        stage.wait(3.5)
        stage.raise_axle(0.0)
    else:
        stage.lean(pose)
        stage.wait(3.5)
        stage.lean(0.0)
    stage.wait(3.5)


def shake(stage: Stage, live: Live) -> None:
    """Push and pull the machine fore and aft, then let it stand."""
    del live
    stage.shake(duration_s=7.0)
    stage.wait(4.0)


def _turn(stage: Stage) -> None:
    stage.stand_again(turned=True)


def _get_off_and_turn(stage: Stage) -> None:
    stage.sit(seated=False)
    stage.stand_again(turned=True)
