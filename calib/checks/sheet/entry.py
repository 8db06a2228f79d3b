"""Entries of the sheet from how their evidence stands."""

from __future__ import annotations

from calib.checks.file.validity import State, Validity
from calib.store.documents.finding import Document
from calib.store.documents.sheet import EntryState, SheetEntry

_STATES: dict[State, EntryState] = {
    State.MISSING: "not measured",
    State.STALE: "stale",
    State.FAILED: "failed",
}


def without_value(
    name: str, channel: str, unit: str, validity: Validity[Document], command: str
) -> SheetEntry:
    """An entry that prints no number yet: why, and the command that gets one.

    Where the evidence is good, whoever knows the value fills it in: state, origin and figures.

    Args:
        name: What would be typed in.
        channel: The channel it belongs to.
        unit: Its unit.
        validity: How the evidence stands.
        command: What measures it.
    """
    record = validity.record
    return SheetEntry(
        name=name,
        channel=channel,
        unit=unit,
        state=_STATES.get(validity.state, "unknown"),
        origin=f"{validity.why} Run '{command}'.".strip(),
        measured_at=None if record is None else record.measured_at,
        record=None if record is None else record.id,
    )
