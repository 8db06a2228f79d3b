"""How far the work is: a function for each part of the evening, in the order of work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from calib.checks.file.validity import (
    Filed,
    State,
    Validity,
    has_wheel,
    rolled_on_file,
    turned_on_file,
)
from calib.checks.travel.doubts import untrued
from calib.store.conversion import base_unit
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Document, Severity, worst
from calib.store.documents.printed import StatusDocument, StatusStep, StepState
from calib.store.documents.sheet import VerifyDocument
from calib.store.documents.tilt import (
    LevelDocument,
    SignsDocument,
    StillDocument,
    SurgeDocument,
    TrustDocument,
)
from calib.store.documents.travel import TravelDocument

SETTLED: Final = ("done", "left out")

_STATES: Final[dict[State, StepState]] = {
    State.GOOD: "done",
    State.MISSING: "to do",
    State.STALE: "stale",
    State.FAILED: "failed",
}


def status_of(filed: Filed, left_over: Iterable[str] = ()) -> StatusDocument:
    """What is done, missing or stale for a rig, and the next command.

    Args:
        filed: What is on file.
        left_over: Captures that no record rests on, with the command that judges each.
    """
    steps = tuple(step for part in PARTS for step in part(filed))
    open_steps = [step for step in steps if step.state not in SETTLED]
    return StatusDocument(
        verdict=worst(_severity(step) for step in steps),
        rig=filed.rig.rig.name,
        steps=steps,
        next=open_steps[0].command if open_steps else None,
        left_over=tuple(left_over),
    )


def _severity(step: StatusStep) -> Severity:
    if step.state in SETTLED:
        return Severity.PASS
    return Severity.FAIL if step.state == "failed" else Severity.UNKNOWN


def _step(name: str, validity: Validity[Document], command: str) -> StatusStep:
    """The step called ``name``, which ``command`` does, from how its evidence stands."""
    text, document, record = validity.why, validity.believed, validity.record
    if document is not None and record is not None:
        with_cautions = ", with cautions" if document.verdict is Severity.CAUTION else ""
        text = f"{record.when:%Y-%m-%d %H:%M}{with_cautions}."
    state: StepState = _STATES.get(validity.state, "unknown")
    return StatusStep(name=name, state=state, text=text, command=command)


def _trued(filed: Filed) -> Iterator[StatusStep]:
    """Each control's scale, held against a multimeter and written into the rig file."""
    for name, channel in filed.rig.with_role("control").items():
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


def _checked(filed: Filed) -> Iterator[StatusStep]:
    """The bench check of every input; wires pulled on purpose are no check of the others."""
    if filed.rig.channels:
        validity = filed.validity(CheckDocument, about=lambda check: check.is_bench_check)
        yield _step("bench check", validity, "calib check")


def _measured(filed: Filed) -> Iterator[StatusStep]:
    """Each control's travel."""
    for channel in filed.rig.worked_controls():
        validity = filed.validity(TravelDocument, channel=channel)
        yield _step(f"travel of {channel}", validity, f"calib travel {channel}")


def _pulled(filed: Filed) -> Iterator[StatusStep]:
    """Each control's wires, pulled on purpose: only that proves the broken-wire values."""
    for name in filed.rig.with_role("control"):
        validity = filed.validity(
            CheckDocument, channel=name, about=lambda check: not check.is_bench_check
        )
        yield _step(f"wires of {name} pulled", validity, f"calib check --unplug {name}")


def _verified(filed: Filed) -> Iterator[StatusStep]:
    """Each control's values, typed in and held against the controller's display."""
    for channel in filed.rig.worked_controls():
        validity = filed.validity(VerifyDocument, channel=channel)
        travel = filed.validity(TravelDocument, channel=channel)
        newest = None if travel.record is None else travel.record.id
        if validity.document is not None and validity.document.travel != newest:
            why = "The travel was measured again since it was verified."
            validity = validity.doubted(why, State.STALE)
        command = f"calib sheet --verify --channel {channel}"
        yield _step(f"{channel} typed in and verified", validity, command)


def _tilted(filed: Filed) -> Iterator[StatusStep]:
    """Level zero, sign, surge, noise and the gate, in the order in which they are made."""
    if not filed.rig.has_tilt:
        return
    for name, kind, command in (
        ("level zero of the tilt sensor", LevelDocument, "calib level --turned"),
        ("sign and axis of the tilt sensor", SignsDocument, "calib signs"),
        ("push read as tilt", SurgeDocument, "calib surge"),
        ("noise and drift of the tilt sensor", StillDocument, "calib still"),
        ("trust in the tilt-based aid", TrustDocument, "calib trust"),
    ):
        yield _step(name, filed.validity(kind), command)


def _wheeled(filed: Filed) -> Iterator[StatusStep]:
    """The wheel turned and rolled; neither is part of the gate."""
    if filed.rig.with_role("wheel"):
        yield _step("pulses a turn", turned_on_file(filed), "calib wheel --turns 10")
    if has_wheel(filed):
        command = "calib wheel --over-turns 10"
        yield _step("circumference of the wheel", rolled_on_file(filed), command)


PARTS: Final = (_trued, _checked, _measured, _pulled, _verified, _tilted, _wheeled)
"""In the order of work; a new part of the evening is added here."""
