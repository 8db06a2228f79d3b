"""The whole job of an evening, as commands and what the simulated hands do while each runs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from calib.mule.faults import Planted
from calib.mule.person import Reaction, press_shown
from calib.mule.task import ANY_VERDICT, GOOD, Task
from calib.mule.tilt_job import tilt_tasks

CHECK_HANDS: Final[Mapping[str, Reaction]] = {
    "press": press_shown,
    "work": lambda stage, _: stage.pull_brake(1.0),
    "flex": lambda stage, _: stage.wiggle(8.0),
}
"""What the hands do at each verb of a check."""


def _after_a_rewire(fault: Planted) -> Task:
    """Rewire the bench with a fault in it, and check it against the sound bench's record."""
    return Task(
        ("check", "--rewired"),
        reactions=CHECK_HANDS,
        before=lambda stage: stage.rewire(fault.on(stage.bench)),
        ends=ANY_VERDICT,
    )


def tasks(fault: Planted | None = None) -> list[Task]:
    """The job in its order; with a fault, the rewire that brings it follows the first check."""
    ends = GOOD if fault is None else ANY_VERDICT
    return [
        Task(("check",), reactions=CHECK_HANDS),
        *([] if fault is None else [_after_a_rewire(fault)]),
        Task(("record", "--for", "5"), ends=ends),
        *(
            Task(("travel", name), reactions={"press": press_shown}, ends=ends)
            for name in ("throttle", "regen")
        ),
        *tilt_tasks(ends),
        Task(("sheet",), ends=ANY_VERDICT),
        Task(("sheet", "--markdown"), ends=ANY_VERDICT, page="sheet.md"),
        Task(("report",), ends=ANY_VERDICT),
    ]
