"""The whole job of an evening, as commands and what the simulated hands do while each runs."""

from __future__ import annotations

from calib.mule.faults import Planted
from calib.mule.person import press_shown
from calib.mule.task import ANY_VERDICT, GOOD, Task
from calib.mule.tilt_job import tilt_tasks


def tasks(fault: Planted | None = None) -> list[Task]:
    """The job in its order; with a fault, the rewire that brings it comes first."""
    ends = GOOD if fault is None else ANY_VERDICT
    return [
        Task(
            ("record", "--for", "5"),
            before=None if fault is None else lambda stage: stage.rewire(fault.on(stage.bench)),
            ends=ends,
        ),
        *(
            Task(("travel", name), reactions={"press": press_shown}, ends=ends)
            for name in ("throttle", "regen")
        ),
        *tilt_tasks(ends),
        Task(("sheet",), ends=ANY_VERDICT),
        Task(("sheet", "--markdown"), ends=ANY_VERDICT, page="sheet.md"),
        Task(("report",), ends=ANY_VERDICT),
    ]
