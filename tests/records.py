"""Records in memory, for tests and campaigns that need no disk."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

import msgspec

from calib.store.asked import asked_of
from calib.store.documents.kinds import AnyDocument
from calib.store.records import OnFile, Record
from calib.store.rig import Rig

MARCH = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


def record_of(
    document: AnyDocument,
    made: datetime = MARCH,
    *,
    command: str = "check",
    rig: Rig | None = None,
    tilt: bool = False,
) -> Record:
    """A record that was measured and judged at ``made``; it rests on every key of ``rig``."""
    return Record(
        id=f"{made:%Y%m%dT%H%M%SZ}-{command}",
        folder="f",
        sequence=1,
        command=command,
        judged_at=made.isoformat(),
        measured_at=made.isoformat(),
        tool="calib",
        rig_sha256="",
        rests_on=() if rig is None else asked_of(rig),
        document=document,
        tilt=tilt,
    )


def on_file(records: Iterable[Record]) -> OnFile:
    """Records in the order in which they were judged, each measured when it was judged."""
    return OnFile(
        tuple(
            msgspec.structs.replace(record, sequence=place, measured_after=place - 1)
            for place, record in enumerate(records, 1)
        ),
        folder="f",
    )
