"""Scripts of what the hands do when nobody asks them: one round each, planned onto a stage."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from calib.mule.stage import Stage

PRESSES: Final = 6
QUARTER_FACES: Final = (
    (0.0, 0.0, 1.0),
    (0.0, 0.0, -1.0),
    (1.0, 0.0, 0.0),
    (-1.0, 0.0, 0.0),
    (0.0, 1.0, 0.0),
    (0.0, -1.0, 0.0),
    (0.7, 0.1, 0.7),
    (-0.6, 0.6, 0.5),
    (0.1, -0.7, -0.7),
    (0.5, 0.5, -0.7),
    (-0.7, -0.1, 0.7),
    (0.6, -0.7, 0.4),
)


def still(stage: Stage) -> None:
    """Keep the hands off for a while."""
    stage.wait(20.0)


def presses(stage: Stage, name: str, count: int = PRESSES) -> None:
    """Work one control several times: slow thumbs and snaps, let go both ways."""
    stage.wait(2.5)
    for number in range(count):
        snap = number % 2 == 1
        stage.press(name, push_s=0.12 if snap else 0.9, hold_s=1.3, ease_s=0.0 if snap else 0.25)
        stage.wait(1.8)


def bench_check(stage: Stage, *, quick: bool = False) -> None:
    """Rest, each control worked, the switch worked, the harness flexed, rest again."""
    stage.wait(6.0)
    for name in stage.controls:
        if stage.bench.control(name).follows:
            continue  # nobody works a second track by itself
        if not quick:
            stage.press(name, push_s=2.2, hold_s=1.2, ease_s=0.25)
            stage.wait(1.8)
            stage.press(name, push_s=0.3, hold_s=1.2)
            stage.wait(1.8)
        stage.press(name, push_s=0.15, hold_s=1.2)
        stage.wait(4.5)
    for _ in range(1 if quick else 2):
        stage.pull_brake(1.0)
        stage.wait(1.2)
    if not quick:
        stage.wait(1.0)
        stage.wiggle(8.0)
    stage.wait(3.0)


def tilt_poses(stage: Stage) -> None:
    """Level, front raised, rear raised, leaned to each side, level again."""
    stage.wait(6.0)
    for front_mm, rear_mm in ((70.0, 0.0), (0.0, 0.0), (0.0, 70.0), (0.0, 0.0)):
        stage.raise_axle(front_mm, rear_mm)
        stage.wait(5.0)
    for left_deg in (10.0, 0.0, -10.0, 0.0):
        stage.lean(left_deg)
        stage.wait(5.0)


def loose_poses(stage: Stage) -> None:
    """Rest the loose sensor on the faces of a box and askew against a wall."""
    for up in QUARTER_FACES:
        stage.lay(up)
        stage.wait(4.0)


def surge(stage: Stage) -> None:
    """Stand, push and pull fore and aft, stand."""
    stage.wait(5.0)
    stage.shake()
    stage.wait(5.0)


def wheel(stage: Stage) -> None:
    """Turn the raised wheel ten times past the mark, and let it stand."""
    stage.wait(3.0)
    stage.turn_wheel(10.0)
    stage.wait(8.0)


def everything(stage: Stage) -> None:
    """One round of all that is done with a mounted logger."""
    for name in stage.controls:
        presses(stage, name)
    bench_check(stage)
    tilt_poses(stage)
    surge(stage)
    still(stage)


SCRIPTS: Final[dict[str, Callable[[Stage], None]]] = {
    "everything": everything,
    "still": still,
    "throttle": lambda stage: presses(stage, "throttle"),
    "regen": lambda stage: presses(stage, "regen"),
    "check": bench_check,
    "tilt": tilt_poses,
    "surge": surge,
    "poses": loose_poses,
    "wheel": wheel,
}
