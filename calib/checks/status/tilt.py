"""The tilt sensor, for a rig that has one: zero, sign, surge, and the gate."""

from __future__ import annotations

from collections.abc import Iterator

from calib.checks.file.standing import Evidence
from calib.checks.status.step import step_from
from calib.store.documents.level import LevelDocument
from calib.store.documents.signs import SignsDocument
from calib.store.documents.status import StatusStep
from calib.store.documents.still import StillDocument
from calib.store.documents.surge import SurgeDocument
from calib.store.documents.trust import TrustDocument


def tilted(evidence: Evidence) -> Iterator[StatusStep]:
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
        yield step_from(name, evidence.standing(kind), command)
