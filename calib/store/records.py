"""Records: documents kept beside the rig file, superseded with a reason, never deleted."""

from __future__ import annotations

import hashlib
import re
import secrets
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, overload

import msgspec

from calib import __version__
from calib.errors import NoDataError, UsageError
from calib.store.asked import RigKey, asked_of, keys_of
from calib.store.documents.kinds import AnyDocument
from calib.store.files import free_path, read_whole, refused_as, write_whole
from calib.store.rig import Rig
from calib.store.text import neutral

if TYPE_CHECKING:
    from calib.store.capture import Capture

_OURS: Final = re.compile(r"\d{8}T\d{6}Z-([a-z]+)(?:-(.+?))?(?:-\d+)?")
"""A record's id: when it was judged, its command, its channel, a number where two are alike."""


SAID_OF_TILT: Final = ("tilt.mounting", "tilt.sensor")
"""No figure is made of them, but whoever writes another mounting has mounted the sensor anew."""


MOST_KEPT: Final = 4096
"""Records that are kept decoded, by every byte of their files; own choice: 30 MB of memory. What is
judged is saved and leads on to the next step, and each of the three looks at all of them."""


class Superseded(msgspec.Struct, frozen=True, kw_only=True):
    """Why a record no longer counts, and since when (ISO 8601)."""

    reason: str
    at: str


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """One document and where it came from.

    Attributes:
        id: File name without its ending.
        folder: Drawn with the folder's first record; all that were made in it share it.
        sequence: Place in the order of judging, from 1.
        after: Ids of the records that were the last before it; one, unless two runs overlapped.
        measured_after: Sequence of the last record on file when it was measured: what was noted
            later, it knows nothing of.
        command: The command that made it.
        judged_at: When it was judged, ISO 8601 with offset.
        measured_at: When it was measured, likewise; None where nothing in it says so.
        tool: Name and version of the tool.
        rig_sha256: Of the rig file at the time.
        rests_on: The rig keys that the judgement asked for, with their values.
        tilt: Whether it is about the tilt sensor.
        channel: The channel it is about; None where it is about more than one.
        condition: What the person said of the conditions (cold, lights on ...).
        superseded: Set when it no longer counts.
        document: What was found.
        sha256: Of all the rest, to tell a record that was edited.
    """

    id: str
    folder: str
    sequence: int
    command: str
    judged_at: str
    measured_at: str | None
    tool: str
    rig_sha256: str
    rests_on: tuple[RigKey, ...]
    document: AnyDocument
    after: tuple[str, ...] = ()
    measured_after: int = 0
    tilt: bool = False
    channel: str | None = None
    condition: str | None = None
    superseded: Superseded | None = None
    sha256: str = ""

    @property
    def judged(self) -> datetime:
        """When it was judged."""
        return datetime.fromisoformat(self.judged_at)

    @property
    def measured(self) -> datetime | None:
        """When it was measured; None where nobody knows."""
        return None if self.measured_at is None else datetime.fromisoformat(self.measured_at)

    @property
    def when(self) -> datetime:
        """When it was measured, or judged where that is all that is known."""
        return datetime.fromisoformat(self.when_at)

    @property
    def when_at(self) -> str:
        """The same, ISO 8601 with offset."""
        return self.measured_at or self.judged_at

    @property
    def place(self) -> tuple[int, int]:
        """Where it stands among others: by what it was measured after, then by judging.

        A capture that is judged again takes the place of its earlier judgement, and never hides
        what was measured since.
        """
        return self.measured_after, self.sequence


@dataclass(frozen=True, slots=True)
class Lost:
    """A record whose file cannot be believed, known by its name alone.

    Attributes:
        id: File name without its ending.
        command: The command that made it.
        channel: The channel it is about, as in a file name; None where its name has none.
        before: Sequence of the first record that was made after it; None where none was.
        why: What is wrong with it, one line.
    """

    id: str
    command: str
    channel: str | None
    before: int | None
    why: str

    def is_about(self, command: str, channel: str | None) -> bool:
        """Whether it may be of a command and channel; a file name tells no more."""
        if self.command != command:
            return False
        bare = None if self.channel is None else re.sub(r"-?\d+$", "", self.channel)
        return channel is None or not bare or _in_a_name(channel) in (self.channel, bare)

    def may_follow(self, sequence: int) -> bool:
        """Whether it may have been judged after the record of that sequence."""
        return self.before is None or self.before > sequence


@dataclass(frozen=True, slots=True)
class OnFile(Sequence[Record]):
    """Everything below one folder; as a sequence, its records in the order of judging.

    Attributes:
        records: Those that can be believed.
        lost: Those of ours that cannot, or are gone.
        strange: What else lies there, one line each.
        folder: What marks the folder's own records; empty where there is none yet.
    """

    records: tuple[Record, ...] = ()
    lost: tuple[Lost, ...] = ()
    strange: tuple[str, ...] = ()
    folder: str = ""

    @overload
    def __getitem__(self, index: int) -> Record: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[Record, ...]: ...
    def __getitem__(self, index: int | slice) -> Record | tuple[Record, ...]:
        """A record, or a run of them."""
        return self.records[index]

    def __len__(self) -> int:
        """Count of the records."""
        return len(self.records)

    @property
    def last_sequence(self) -> int:
        """Sequence of the last record; 0 where there is none."""
        return max((record.sequence for record in self.records), default=0)

    @property
    def odd(self) -> tuple[str, ...]:
        """One line for each file that costs itself."""
        return (*(each.why for each in self.lost), *self.strange)


@dataclass(frozen=True, slots=True)
class Subject:
    """What a record is about.

    Attributes:
        command: The command that found it.
        channel: The channel; None where it is about more than one.
        condition: What the person said of the conditions.
        tilt: Whether it is about the tilt sensor.
    """

    command: str
    channel: str | None = None
    condition: str | None = None
    tilt: bool = False


def save_record(
    folder: Path,
    rig: Rig,
    document: AnyDocument,
    subject: Subject,
    *,
    now: datetime,
    captures: Sequence[Capture] = (),
    file: OnFile | None = None,
) -> Record:
    """Write a new record below ``folder`` and return it.

    Args:
        folder: Where the rig file lies, or ``--out``.
        rig: The rig file; what was asked of it is what the record rests on.
        document: What was found.
        subject: What it is about.
        now: The time, with its UTC offset.
        captures: What it was judged from. It is as old as the oldest of them says; without any it
            is of now.
        file: What is on file, where it was just looked at; looked at now when None.

    Raises:
        NoDataError: The folder or file cannot be written, or the document could not be read back.
    """
    file = load_records(folder) if file is None else file
    named = {each for record in file for each in record.after}
    heads = [*(record.id for record in file), *(lost.id for lost in file.lost)]
    about = (subject.command, None if subject.channel is None else _in_a_name(subject.channel))
    path = free_path(folder / "records", now, "-".join(filter(None, about)), ".json")
    on_file_then = (_taken_after(file, each) for each in captures)
    record = Record(
        id=path.stem,
        folder=file.folder or secrets.token_hex(8),
        sequence=file.last_sequence + 1,
        after=tuple(sorted(each for each in heads if each not in named)),
        measured_after=min(on_file_then, default=file.last_sequence),
        command=subject.command,
        judged_at=now.isoformat(timespec="milliseconds"),
        measured_at=_measured_at(captures, now),
        tool=f"calib {__version__}",
        rig_sha256=rig.sha256,
        rests_on=_rests_on(rig, captures, subject),
        document=document,
        tilt=subject.tilt,
        channel=subject.channel,
        condition=subject.condition,
    )
    return _write(folder / "records", record)


def _in_a_name(channel: str) -> str:
    """A channel as it stands in a file name."""
    return "".join(char if char.isalnum() else "_" for char in channel)


def _measured_at(captures: Sequence[Capture], now: datetime) -> str | None:
    """When the oldest of the captures says that it was taken; None where one does not say."""
    times = [capture.started_at for capture in captures] or [now]
    known = [each for each in times if each is not None]
    return min(known).isoformat(timespec="milliseconds") if len(known) == len(times) else None


def _taken_after(file: OnFile, capture: Capture) -> int:
    """Sequence of the last record that was on file when a capture was taken."""
    noted = capture.taken_after
    if noted is not None and (noted.folder == file.folder or noted.sequence == 0):
        return min(noted.sequence, file.last_sequence)
    if (started := capture.started_at) is None:
        return file.last_sequence
    # A capture from elsewhere: all that can be said is what was judged before it was taken.
    return max((each.sequence for each in file if each.judged < started), default=0)


def _rests_on(rig: Rig, captures: Sequence[Capture], subject: Subject) -> tuple[RigKey, ...]:
    """What was asked of the rig file, and what was asked of it when the captures were taken."""
    keys = {each.key: each for each in asked_of(rig)}
    if subject.tilt:
        there = keys_of(rig)
        keys.update({key: RigKey(key=key, value=there[key]) for key in SAID_OF_TILT})
    keys |= {each.key: each for capture in captures for each in capture.rests_on}
    return tuple(keys[name] for name in sorted(keys))


def load_records(folder: Path) -> OnFile:
    """All records below ``folder``, in the order in which they were judged.

    A file that cannot be believed costs itself and a line that names it.
    """
    home = folder / "records"
    read: list[Record] = []
    broken: dict[str, str] = {}
    strange: list[str] = []
    for path in sorted(home.glob("?*.json")):
        try:
            record = _record_in(read_whole(path))
            if record.id == path.stem:
                read.append(record)
            else:
                strange.append(f"{neutral(str(path), 160)} does not count: it is a copy.")
        except (OSError, msgspec.MsgspecError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            text = f"{neutral(str(path), 160)} does not count: {neutral(reason, 120)}."
            if _OURS.fullmatch(path.stem):
                broken[path.stem] = text
            else:
                strange.append(text)
    own = _own_folder(read)
    records = [record for record in read if record.folder == own]
    records.sort(key=lambda record: (record.sequence, record.judged, record.id))
    others = (neutral(str(home / record.id), 160) for record in read if record.folder != own)
    strange += [f"{path}.json does not count: it was made in another folder." for path in others]
    return OnFile(tuple(records), tuple(_lost(home, records, broken)), tuple(strange), own)


@lru_cache(maxsize=MOST_KEPT)
def _record_in(raw: bytes) -> Record:
    """A record that is whole, and as it was written.

    Raises:
        msgspec.MsgspecError: It is no record.
        ValueError: It was edited, or a time in it has no offset from UTC.
    """
    record = msgspec.json.decode(raw, type=Record)
    if _sha256(msgspec.json.decode(raw)) != record.sha256:
        raise ValueError("it was changed after it was written")
    if None in (record.judged.tzinfo, record.when.tzinfo):
        raise ValueError("a time in it has no offset from UTC")
    return record


def _own_folder(records: Sequence[Record]) -> str:
    """What marks the records of this folder: most of them have it, or else the first."""
    counts = Counter(record.folder for record in sorted(records, key=lambda each: each.sequence))
    return counts.most_common(1)[0][0] if counts else ""


def _lost(home: Path, records: Sequence[Record], broken: dict[str, str]) -> Iterator[Lost]:
    """Records that cannot be read, and those that a later one names and that are gone."""
    before = {each: record.sequence for record in reversed(records) for each in record.after}
    lost = dict(broken)
    for each in sorted(before.keys() - {record.id for record in records} - broken.keys()):
        path = f"{neutral(str(home / each), 160)}.json"
        lost[each] = f"{path} is gone; a bad record is superseded with a reason, never deleted."
    for each, why in lost.items():
        if parts := _OURS.fullmatch(each):
            yield Lost(each, parts[1], parts[2], before.get(each), why)


def find_record(folder: Path, record_id: str) -> Record:
    """One record by id, or by the start of its id where only one has it.

    Raises:
        UsageError: There is none, or more than one.
    """
    found = [record for record in load_records(folder) if record.id.startswith(record_id)]
    exact = [record for record in found if record.id == record_id]
    if len(exact or found) != 1:
        place, start = folder / "records", neutral(record_id)
        raise UsageError.of("no-single-record", count=len(found), place=place, start=start)
    return (exact or found)[0]


def supersede(folder: Path, record_id: str, reason: str, *, now: datetime) -> Record:
    """Mark a record as no longer counting, with the reason; it stays on file.

    Raises:
        UsageError: There is no such record.
    """
    record = find_record(folder, record_id)
    mark = Superseded(reason=reason, at=now.isoformat(timespec="seconds"))
    return _write(folder / "records", msgspec.structs.replace(record, superseded=mark))


def _write(home: Path, record: Record) -> Record:
    """Write a record as it will be read back."""
    built: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(record))
    built["sha256"] = _sha256(built)
    encoded = msgspec.json.encode(built)
    path = home / f"{record.id}.json"
    try:
        whole = msgspec.json.decode(encoded, type=Record)
    except msgspec.ValidationError as error:
        raise NoDataError.of("record-unreadable", error=neutral(str(error), 120)) from error
    hint = "Free some space or name another folder with --out DIR."
    with refused_as(NoDataError, f"Record {path} cannot be written", hint):
        home.mkdir(parents=True, exist_ok=True)
        write_whole(path, msgspec.json.format(encoded, indent=2) + b"\n")
    return whole


def _sha256(built: dict[str, Any]) -> str:
    """Of everything in a record but this."""
    rest = {key: value for key, value in built.items() if key != "sha256"}
    return hashlib.sha256(msgspec.json.encode(rest, order="sorted")).hexdigest()
