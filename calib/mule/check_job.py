"""The bench check's part of the evening: what the simulated hands do at each prompt and verb."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from calib.mule.bench import CONTROLS
from calib.mule.faults import Planted
from calib.mule.stage import WIRES, Stage
from calib.mule.task import ANY_VERDICT, GOOD, Task


def check_task() -> Task:
    """The first check of a bench, which later ones are compared with."""
    return Task(("check",), ends=GOOD)


def rewired_task(fault: Planted) -> Task:
    """A rewire that brings a fault, and the check after it."""
    return Task(
        ("check", "--rewired"),
        before=lambda stage: stage.rewire(fault.on(stage.bench)),
        ends=ANY_VERDICT,
    )


def unplug_tasks() -> list[Task]:
    """Each control's wires pulled on purpose, one by one."""
    return [
        Task(
            ("check", "--unplug", name),
            ready={
                **{f"pull the {wire} wire": _pulled(name, wire) for wire in WIRES},
                "put every wire": partial(Stage.plug_in, name=name),
            },
            answers={"display": "0.00"},
            speed=10.0,
        )
        for name in CONTROLS
    ]


def _pulled(name: str, wire: str) -> Callable[[Stage], None]:
    return partial(Stage.pull_wire, name=name, wire=wire)
