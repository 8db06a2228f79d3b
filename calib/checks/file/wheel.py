"""What is on file of the wheel: the newest turning, and the newest rolling along a tape."""

from __future__ import annotations

from calib.checks.file.standing import Evidence, Standing
from calib.store.documents.wheel import WheelDocument


def turned_on_file(evidence: Evidence) -> Standing[WheelDocument]:
    """How the newest turning by hand stands."""
    return evidence.standing(WheelDocument, about=lambda wheel: wheel.turned is not None)


def rolled_on_file(evidence: Evidence) -> Standing[WheelDocument]:
    """How the newest rolling along a tape stands."""
    return evidence.standing(WheelDocument, about=lambda wheel: wheel.rolled is not None)


def has_wheel(evidence: Evidence) -> bool:
    """Whether the rig file names a wheel sensor, or somebody rolled one all the same."""
    return bool(evidence.rig.with_role("wheel")) or any(
        isinstance(record.document, WheelDocument) for record in evidence.records
    )
