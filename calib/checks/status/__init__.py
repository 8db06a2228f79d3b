"""How far the work is: one module for each part of the evening, in the order of work."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from calib.checks.file.standing import Evidence
from calib.checks.status import controls, tilt, wheel, wires
from calib.store.documents.finding import Severity, worst
from calib.store.documents.status import StatusDocument, StatusStep

Part = Callable[[Evidence], Iterable[StatusStep]]

PARTS: Final[tuple[Part, ...]] = (
    wires.trued,
    wires.checked,
    controls.travels,
    wires.pulled,
    controls.verified,
    tilt.tilted,
    wheel.wheeled,
)
"""In the order of work; a new part of the evening is added here."""

SETTLED: Final = ("done", "left out")

_SEVERITY: Final = {
    "done": Severity.PASS,
    "left out": Severity.PASS,
    "failed": Severity.FAIL,
    "unknown": Severity.UNKNOWN,
    "stale": Severity.UNKNOWN,
    "to do": Severity.UNKNOWN,
}


def status_of(evidence: Evidence, left_over: Iterable[str] = ()) -> StatusDocument:
    """What is done, missing or stale for a rig, and the next command.

    Args:
        evidence: What is on file.
        left_over: Captures that no record rests on, with the command that judges each.
    """
    steps = tuple(step for part in PARTS for step in part(evidence))
    open_steps = [step for step in steps if step.state not in SETTLED]
    return StatusDocument(
        verdict=worst(_SEVERITY[step.state] for step in steps),
        rig=evidence.rig.rig.name,
        steps=steps,
        next=open_steps[0].command if open_steps else None,
        left_over=tuple(left_over),
    )
