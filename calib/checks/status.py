"""How far the work is: a function for each part of the evening, in the order of work."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Final

from calib.checks.file.standing import (
    Evidence,
    Standing,
    State,
    has_wheel,
    rolled_on_file,
    turned_on_file,
)
from calib.checks.travel.doubts import untrued
from calib.store.conversion import base_unit
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Document, Severity, worst
from calib.store.documents.level import LevelDocument
from calib.store.documents.sheet import VerifyDocument
from calib.store.documents.signs import SignsDocument
from calib.store.documents.status import StatusDocument, StatusStep, StepState
from calib.store.documents.still import StillDocument
from calib.store.documents.surge import SurgeDocument
from calib.store.documents.travel import TravelDocument
from calib.store.documents.trust import TrustDocument

Part = Callable[[Evidence], Iterable[StatusStep]]

SETTLED: Final = ("done", "left out")

_STATES: Final[dict[State, StepState]] = {
    State.GOOD: "done",
    State.MISSING: "to do",
    State.STALE: "stale",
    State.UNKNOWN: "unknown",
    State.ODD: "unknown",
    State.FAILED: "failed",
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
        verdict=worst(_severity(step) for step in steps),
        rig=evidence.rig.rig.name,
        steps=steps,
        next=open_steps[0].command if open_steps else None,
        left_over=tuple(left_over),
    )


def _severity(step: StatusStep) -> Severity:
    if step.state in SETTLED:
        return Severity.PASS
    return Severity.FAIL if step.state == "failed" else Severity.UNKNOWN


def _step(name: str, standing: Standing[Document], command: str) -> StatusStep:
    """The step called ``name``, which ``command`` does, from how its evidence stands."""
    text, document, record = standing.why, standing.believed, standing.record
    if document is not None and record is not None:
        with_cautions = ", with cautions" if document.verdict is Severity.CAUTION else ""
        text = f"{record.when:%Y-%m-%d %H:%M}{with_cautions}."
    return StatusStep(name=name, state=_STATES[standing.state], text=text, command=command)


def _trued(evidence: Evidence) -> Iterator[StatusStep]:
    """Each control's scale, held against a multimeter and written into the rig file."""
    for name, channel in evidence.rig.with_role("control").items():
        if base_unit(channel) != "V":
            continue
        scale, doubt = channel.scale, untrued(name, channel)
        yield StatusStep(
            name=f"scale of {name}",
            state="to do" if scale is None else "done",
            text=f"{'' if doubt is None else doubt.text} 'calib meter' finds out."
            if scale is None
            else f"Trued on {scale.date[:10]}.",
            command=f"calib meter {name}",
        )


def _checked(evidence: Evidence) -> Iterator[StatusStep]:
    """The bench check of every input; wires pulled on purpose are no check of the others."""
    if evidence.rig.channels:
        standing = evidence.standing(CheckDocument, about=lambda check: check.is_bench_check)
        yield _step("bench check", standing, "calib check")


def _measured(evidence: Evidence) -> Iterator[StatusStep]:
    """Each control's travel."""
    for channel in evidence.rig.worked_controls():
        standing = evidence.standing(TravelDocument, channel=channel)
        yield _step(f"travel of {channel}", standing, f"calib travel {channel}")


def _pulled(evidence: Evidence) -> Iterator[StatusStep]:
    """Each control's wires, pulled on purpose: only that proves the broken-wire values."""
    for name in evidence.rig.with_role("control"):
        standing = evidence.standing(
            CheckDocument, channel=name, about=lambda check: not check.is_bench_check
        )
        yield _step(f"wires of {name} pulled", standing, f"calib check --unplug {name}")


def _verified(evidence: Evidence) -> Iterator[StatusStep]:
    """Each control's values, typed in and held against the controller's display."""
    for channel in evidence.rig.worked_controls():
        standing = evidence.standing(VerifyDocument, channel=channel)
        travel = evidence.standing(TravelDocument, channel=channel)
        newest = None if travel.record is None else travel.record.id
        if standing.document is not None and standing.document.travel != newest:
            why = "The travel was measured again since it was verified."
            standing = standing.doubted(why, State.STALE)
        command = f"calib sheet --verify --channel {channel}"
        yield _step(f"{channel} typed in and verified", standing, command)


def _tilted(evidence: Evidence) -> Iterator[StatusStep]:
    """Level zero, sign, surge, noise and the gate, in the order in which they are made."""
    if not evidence.rig.has_tilt:
        return
    for name, kind, command in (
        ("level zero of the tilt sensor", LevelDocument, "calib level --turned"),
        ("sign and axis of the tilt sensor", SignsDocument, "calib signs"),
        ("push read as tilt", SurgeDocument, "calib surge"),
        ("noise and drift of the tilt sensor", StillDocument, "calib still"),
        ("trust in the tilt-based aid", TrustDocument, "calib trust"),
    ):
        yield _step(name, evidence.standing(kind), command)


def _wheeled(evidence: Evidence) -> Iterator[StatusStep]:
    """The wheel turned and rolled; neither is part of the gate."""
    if evidence.rig.with_role("wheel"):
        yield _step("pulses a turn", turned_on_file(evidence), "calib wheel --turns 10")
    if has_wheel(evidence):
        command = "calib wheel --over-turns 10"
        yield _step("circumference of the wheel", rolled_on_file(evidence), command)


PARTS: Final[tuple[Part, ...]] = (
    _trued,
    _checked,
    _measured,
    _pulled,
    _verified,
    _tilted,
    _wheeled,
)
"""In the order of work; a new part of the evening is added here."""
