"""The whole job of an evening, as commands and what the simulated hands do while each runs."""

from __future__ import annotations

from typing import Final

from calib.mule.bench import CONTROLS
from calib.mule.check_job import check_task, rewired_task, unplug_tasks
from calib.mule.faults import Planted, tilt
from calib.mule.meter_job import meter_task
from calib.mule.task import ANY_VERDICT, GOOD, Task
from calib.mule.tilt_job import tilt_tasks
from calib.mule.wheel_job import wheel_tasks


def tasks(fault: Planted | None = None) -> list[Task]:
    """The job in its order; with a fault, the rewire that brings it and where it shows."""
    if fault is not None:
        return [_record(), check_task(), rewired_task(fault), *_shown_by(fault), *PAGES]
    return [
        _record(),
        *(meter_task(name, seed) for seed, name in enumerate(CONTROLS)),
        check_task(),
        *travel_tasks(GOOD),
        *unplug_tasks(),
        *wheel_tasks(),
        *tilt_tasks(GOOD),
        *PAGES,
    ]


def travel_tasks(ends: frozenset[int]) -> list[Task]:
    """The travel of both controls."""
    return [Task(("travel", name), ends=ends) for name in CONTROLS]


def _record() -> Task:
    return Task(("record", "--for", "5"))


def _shown_by(fault: Planted) -> list[Task]:
    """What else shows a fault: the tilt sensors' proofs, or the travel."""
    if fault.kind in tilt.FAULTS:
        return tilt_tasks(ANY_VERDICT)
    return travel_tasks(ANY_VERDICT)


PAGES: Final = (
    Task(("sheet",), ends=ANY_VERDICT),
    Task(("sheet", "--markdown"), ends=ANY_VERDICT, page="sheet.md"),
    Task(("report",), ends=ANY_VERDICT),
)
