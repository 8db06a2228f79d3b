"""The logger and the wires: trued against a meter, and checked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from calib.checks.on_file import is_whole_check
from calib.checks.standing import Evidence
from calib.checks.status.step import step_from
from calib.store.conversion import base_unit
from calib.store.documents.check import CheckDocument
from calib.store.documents.status import StatusStep


def trued(evidence: Evidence) -> Iterator[StatusStep]:
    """Each control's scale, held against a multimeter and written into the rig file."""
    for name, channel in evidence.rig.with_role("control").items():
        if base_unit(channel) != "V":
            continue
        scale = channel.scale
        yield StatusStep(
            name=f"scale of {name}",
            state="to do" if scale is None else "done",
            text="The logger's volts were never held against a meter: they may be off by 2 to 7 %."
            if scale is None
            else f"Trued on {scale.date[:10]}.",
            command=f"calib meter {name}",
        )


def checked(evidence: Evidence) -> Iterator[StatusStep]:
    """The bench check of every input; wires pulled on purpose are no check of the others."""
    whole = replace(
        evidence,
        records=[
            record
            for record in evidence.records
            if is_whole_check(record) or not isinstance(record.document, CheckDocument)
        ],
    )
    if evidence.rig.channels:
        yield step_from("bench check", whole.standing(CheckDocument), "calib check")
