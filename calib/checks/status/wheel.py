"""The wheel, for a rig that has a sensor at it or was rolled all the same."""

from __future__ import annotations

from collections.abc import Iterator

from calib.checks.file.standing import Evidence
from calib.checks.file.wheel import has_wheel, rolled_on_file, turned_on_file
from calib.checks.status.step import step_from
from calib.store.documents.status import StatusStep


def wheeled(evidence: Evidence) -> Iterator[StatusStep]:
    """Turned and rolled; neither is part of the gate."""
    if evidence.rig.with_role("wheel"):
        yield step_from("pulses a turn", turned_on_file(evidence), "calib wheel --turns 10")
    if has_wheel(evidence):
        command = "calib wheel --over-turns 10"
        yield step_from("circumference of the wheel", rolled_on_file(evidence), command)
