"""Captures that no record rests on: a flow that was broken off and can be taken up again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec

from calib.store.capture import metadata_path
from calib.store.records import Record

JUDGED = ("travel", "level", "signs", "surge", "still", "poses", "check", "meter")
"""Commands that judge what they capture; a plain recording is no flow that can break off."""


class _Noted(msgspec.Struct, rename={"command": "calib:command"}):
    command: str = ""


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A capture without a record: where it lies, and the command that made it."""

    path: Path
    command: str


def left_over(folder: Path, records: Sequence[Record]) -> list[LeftOver]:
    """Captures below ``folder`` that no record names, oldest first.

    Args:
        folder: Where ``captures/`` lies.
        records: All records, superseded ones too.
    """
    used = {
        Path(record.document.capture.path).name
        for record in records
        if record.document.capture is not None
    }
    found = []
    for path in sorted((folder / "captures").glob("*.csv")):
        command = _command(path)
        if path.name not in used and command in JUDGED:
            found.append(LeftOver(path, command))
    return found


def _command(path: Path) -> str:
    try:
        return msgspec.json.decode(metadata_path(path).read_bytes(), type=_Noted).command
    except (OSError, msgspec.MsgspecError):
        return ""
