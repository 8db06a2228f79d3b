"""One step of the work from how its evidence stands."""

from __future__ import annotations

from calib.checks.file.standing import Standing, State
from calib.store.documents.finding import Document, Severity
from calib.store.documents.status import StatusStep, StepState

_STATES: dict[State, StepState] = {
    State.GOOD: "done",
    State.MISSING: "to do",
    State.STALE: "stale",
    State.UNKNOWN: "unknown",
    State.ODD: "unknown",
    State.FAILED: "failed",
}


def step_from(name: str, standing: Standing[Document], command: str) -> StatusStep:
    """The step called ``name``, which ``command`` does.

    Args:
        name: What it is.
        standing: How its evidence stands.
        command: What to run for it.
    """
    text = standing.why
    document, record = standing.document, standing.record
    if standing.is_good and document is not None and record is not None:
        with_cautions = ", with cautions" if document.verdict is Severity.CAUTION else ""
        text = f"{record.when:%Y-%m-%d %H:%M}{with_cautions}."
    return StatusStep(name=name, state=_STATES[standing.state], text=text, command=command)
