"""The hand controls: measured, typed in, verified."""

from __future__ import annotations

from collections.abc import Iterator

from calib.checks.file.standing import Evidence, Standing, State
from calib.checks.status.step import step_from
from calib.store.documents.sheet import VerifyDocument
from calib.store.documents.status import StatusStep
from calib.store.documents.travel import TravelDocument


def travels(evidence: Evidence) -> Iterator[StatusStep]:
    """Each control's travel."""
    for channel in evidence.rig.worked_controls():
        standing = evidence.standing(TravelDocument, channel=channel)
        yield step_from(f"travel of {channel}", standing, f"calib travel {channel}")


def verified(evidence: Evidence) -> Iterator[StatusStep]:
    """Each control's values, typed in and held against the controller's display."""
    for channel in evidence.rig.worked_controls():
        standing = evidence.standing(VerifyDocument, channel=channel)
        travel = evidence.standing(TravelDocument, channel=channel)
        newest = None if travel.record is None else travel.record.id
        if standing.document is not None and standing.document.travel != newest:
            standing = Standing(
                State.STALE,
                "The travel was measured again since it was verified.",
                standing.record,
                standing.document,
            )
        yield step_from(
            f"{channel} typed in and verified",
            standing,
            f"calib sheet --verify --channel {channel}",
        )
