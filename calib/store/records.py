"""Records: documents kept beside the rig file, superseded with a reason, never deleted."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import msgspec

from calib import __version__
from calib.errors import NoDataError, UsageError
from calib.store.documents.finding import Document
from calib.store.documents.kinds import AnyDocument
from calib.store.rig import Rig
from calib.store.text import neutral

D = TypeVar("D", bound=Document)


class Superseded(msgspec.Struct, frozen=True, kw_only=True):
    """Why a record no longer counts, and since when (ISO 8601)."""

    reason: str
    at: str


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """One document and where it came from.

    Attributes:
        id: File name without its ending.
        command: The command that made it.
        made_at: When, ISO 8601 with offset.
        tool: Name and version of the tool.
        rig_name: The machine's name.
        rig_sha256: Of the rig file at the time.
        inputs_sha256: Of the definitions of the channels that the document rests on.
        inputs: Those channels.
        tilt: Whether it rests on the tilt sensor's mounting and truing too.
        channel: The channel it is about; None where it is about more than one.
        condition: What the person said of the conditions (cold, lights on ...).
        superseded: Set when it no longer counts.
        document: What was found.
    """

    id: str
    command: str
    made_at: str
    tool: str
    rig_name: str
    rig_sha256: str
    inputs_sha256: str
    document: AnyDocument
    inputs: tuple[str, ...] = ()
    tilt: bool = False
    channel: str | None = None
    condition: str | None = None
    superseded: Superseded | None = None

    @property
    def made(self) -> datetime:
        """When it was made."""
        return datetime.fromisoformat(self.made_at)


def inputs_hash(rig: Rig, names: Sequence[str], *, tilt: bool = False) -> str:
    """SHA-256 of what decides how the named channels read: column, unit, scale, mounting, truing.

    Args:
        rig: The rig file.
        names: Channels, in any order.
        tilt: Whether the mounting and truing of the tilt sensor belong to it.
    """
    parts: dict[str, object] = {
        name: msgspec.to_builtins(msgspec.structs.replace(rig.channels[name], limits={}))
        for name in sorted(names)
    }
    if tilt:
        parts["[tilt]"] = {
            "truing": msgspec.to_builtins(rig.tilt.truing),
            "mounting": rig.tilt.mounting,
            "sensor": rig.tilt.sensor,
        }
    return hashlib.sha256(msgspec.json.encode(parts, order="sorted")).hexdigest()


def save_record(
    folder: Path,
    rig: Rig,
    document: AnyDocument,
    *,
    command: str,
    inputs: Sequence[str],
    now: datetime,
    channel: str | None = None,
    condition: str | None = None,
    tilt: bool = False,
) -> Record:
    """Write a new record below ``folder`` and return it.

    Args:
        folder: Where the rig file lies, or ``--out``.
        rig: The rig file.
        document: What was found.
        command: The command that found it.
        inputs: The channels that it rests on.
        now: The time, with its UTC offset.
        channel: The channel it is about.
        condition: What the person said of the conditions.
        tilt: Whether it rests on the tilt sensor's mounting and truing.

    Raises:
        NoDataError: The folder or file cannot be written.
    """
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    about = "".join(char if char.isalnum() else "_" for char in channel) if channel else None
    stem = "-".join(part for part in (stamp, command, about) if part)
    home = folder / "records"
    record_id, count = stem, 1
    while (home / f"{record_id}.json").exists():
        count += 1
        record_id = f"{stem}-{count}"
    record = Record(
        id=record_id,
        command=command,
        made_at=now.isoformat(timespec="milliseconds"),
        tool=f"calib {__version__}",
        rig_name=rig.rig.name,
        rig_sha256=rig.sha256,
        inputs_sha256=inputs_hash(rig, inputs, tilt=tilt),
        document=document,
        inputs=tuple(inputs),
        tilt=tilt,
        channel=channel,
        condition=condition,
    )
    _write(home / f"{record_id}.json", record)
    return record


def load_records(folder: Path) -> list[Record]:
    """All records below ``folder`` that can be read, oldest first.

    Raises:
        NoDataError: A record is damaged; the text names it.
    """
    return sorted(_read_all(folder / "records"), key=lambda record: (record.made, record.id))


def find_record(folder: Path, record_id: str) -> Record:
    """One record by id, or by the start of its id where only one has it.

    Raises:
        UsageError: There is none, or more than one.
    """
    found = [record for record in load_records(folder) if record.id.startswith(record_id)]
    exact = [record for record in found if record.id == record_id]
    if len(exact or found) != 1:
        raise UsageError(
            f"{len(found)} records in {folder / 'records'} have an id that starts with "
            f"{neutral(record_id)!r}.",
            "See them with 'calib history'.",
        )
    return (exact or found)[0]


def latest(
    records: Sequence[Record], kind: type[D], *, channel: str | None = None
) -> Record | None:
    """The newest record that still counts and holds a document of ``kind``."""
    for record in reversed(records):
        if (
            isinstance(record.document, kind)
            and record.superseded is None
            and (channel is None or record.channel == channel)
        ):
            return record
    return None


def last_good(records: Sequence[Record], kind: type[D], *, channel: str | None = None) -> D | None:
    """The newest document of ``kind`` that still counts and whose verdict is pass or caution."""
    good = [record for record in records if record.document.verdict.is_good]
    found = latest(good, kind, channel=channel)
    return found.document if found is not None and isinstance(found.document, kind) else None


def supersede(folder: Path, record_id: str, reason: str, *, now: datetime) -> Record:
    """Mark a record as no longer counting, with the reason; it stays on file.

    Raises:
        UsageError: There is no such record.
    """
    record = find_record(folder, record_id)
    marked = msgspec.structs.replace(
        record, superseded=Superseded(reason=reason, at=now.isoformat(timespec="seconds"))
    )
    _write(folder / "records" / f"{record.id}.json", marked)
    return marked


def _write(path: Path, record: Record) -> None:
    fresh = path.with_suffix(".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh.write_bytes(msgspec.json.format(msgspec.json.encode(record), indent=2) + b"\n")
        fresh.replace(path)
    except OSError as error:
        raise NoDataError(
            f"Record {path} cannot be written: {error.strerror}.",
            "Free some space or name another folder with --out DIR.",
        ) from error


def _read_all(home: Path) -> Iterator[Record]:
    for path in sorted(home.glob("*.json")):
        try:
            yield msgspec.json.decode(path.read_bytes(), type=Record)
        except (OSError, msgspec.MsgspecError) as error:
            raise NoDataError(
                f"Record {path} cannot be read: {neutral(str(error), 160)}.",
                "Move it out of the folder; the other records are still good.",
            ) from error
