"""Captures that no record rests on: a flow that was broken off and can be taken up again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import msgspec

from calib.store.files import metadata_path, read_whole
from calib.store.records import Record

JUDGED = ("travel", "level", "signs", "surge", "still", "poses", "check", "meter", "wheel")
"""Commands that judge what they capture; a plain recording is no flow that can break off."""


class _Noted(msgspec.Struct, rename={"command": "calib:command", "started": "dc:created"}):
    command: str = ""
    started: str | None = None


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A capture without a record: where it lies, and the command that made it."""

    path: Path
    command: str


def left_over(folder: Path, records: Sequence[Record]) -> list[LeftOver]:
    """Captures below ``folder`` after which their command left no record, oldest first.

    A flow of several captures names only the first of them in its record, so a capture counts as
    judged once its command made any record after it.

    Args:
        folder: Where ``captures/`` lies.
        records: All records, superseded ones too.
    """
    found = []
    for path in sorted((folder / "captures").glob("*.csv")):
        noted = _noted(path)
        if noted.command in JUDGED and not _was_judged(path, noted, records):
            found.append(LeftOver(path, noted.command))
    return found


def _was_judged(path: Path, noted: _Noted, records: Sequence[Record]) -> bool:
    refs = (record.document.capture for record in records)
    named = any(ref is not None and ref.name == path.name for ref in refs)
    own = (record for record in records if record.command == noted.command)
    return named or any(_began_before(noted.started, record) for record in own)


def _began_before(started: str | None, record: Record) -> bool:
    try:
        return datetime.fromisoformat(started or "") <= record.judged
    except (ValueError, TypeError):  # no time, or one without its offset
        return False


def _noted(path: Path) -> _Noted:
    try:
        return msgspec.json.decode(read_whole(metadata_path(path)), type=_Noted)
    except (OSError, msgspec.MsgspecError):
        return _Noted()
