"""Captures read back from disk to be analysed."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property, partial
from pathlib import Path
from typing import Any, BinaryIO, TypeVar

import msgspec
import numpy as np
from numpy.typing import NDArray

from calib.errors import NoDataError, UsageError
from calib.measure.pace import Pace, find_pace
from calib.store.asked import RigKey
from calib.store.documents.finding import CaptureRef
from calib.store.files import metadata_path, open_regular, read_whole, refused_as
from calib.store.number_csv import Columns, Digest, NumberColumns, end_of_last_line
from calib.store.samples import BREAKS, Event, EventKind, gap_count
from calib.store.text import neutral

TIME_COLUMNS = ("time_s", "arrival_s")
_HEADER_START = ",".join(TIME_COLUMNS).encode() + b","
HEADER_BYTES = 65_536  # own choice: no header of ours is longer

T = TypeVar("T")


class TakenAfter(msgspec.Struct, frozen=True, kw_only=True):
    """What was on file when a capture was taken.

    Attributes:
        folder: The mark of the folder's records; empty where there was none.
        sequence: Of the last record; 0 where there was none.
    """

    folder: str
    sequence: int


@dataclass(frozen=True)
class Capture:
    """A capture read back.

    Attributes:
        path: The CSV.
        digest: Gives the SHA-256 of the CSV as analysed.
        columns: Names of the columns of ``values``.
        time_s: Device clock, seconds, even where its stamps were ragged; shape (n,).
        arrival: Gives the host clock, seconds since the start; shape (n,).
        values: Numbers as received by column name, each of shape (n,); NaN where missing.
        rejected_lines: Count of lines that were not decoded.
        events: Gaps, resets and the like that were seen while it was recorded.
        started: When it was started, ISO 8601 with offset; None if it does not say.
        noted_sha256: The SHA-256 with which it was closed; None if it was not, or does not say.
        rests_on: The rig keys by which its lines were read, with their values.
        taken_after: What was on file then; None if it does not say.
        found_pace: How samples came, where that was found already.
    """

    path: Path
    digest: Callable[[], str]
    columns: tuple[str, ...]
    time_s: NDArray[np.float64]
    arrival: Callable[[], NDArray[np.float64]]
    values: Mapping[str, NDArray[np.float64]]
    rejected_lines: int = 0
    events: tuple[Event, ...] = ()
    started: str | None = None
    noted_sha256: str | None = None
    rests_on: tuple[RigKey, ...] = ()
    taken_after: TakenAfter | None = None
    found_pace: Pace | None = field(default=None, repr=False)

    def __len__(self) -> int:
        """Count of samples."""
        return int(self.time_s.shape[0])

    @property
    def sha256(self) -> str:
        """Of the CSV as analysed."""
        return self.digest()

    @property
    def was_changed(self) -> bool:
        """Whether it is no longer what was closed."""
        return self.noted_sha256 is not None and self.noted_sha256 != self.sha256

    @property
    def started_at(self) -> datetime | None:
        """When it was started, by its own word; a file's date is no word of it."""
        try:
            started = datetime.fromisoformat(self.started or "")
        except ValueError:
            return None
        return started if started.tzinfo is not None else None

    @property
    def arrival_s(self) -> NDArray[np.float64]:
        """Host clock, seconds since the start; shape (n,)."""
        return self.arrival()

    @property
    def rate_hz(self) -> float | None:
        """Samples a second, by count and time, gaps left out; None where no time is known."""
        return self.pace.rate_hz if self.has_clock else None

    @cached_property
    def pace(self) -> Pace:
        """How samples came."""
        return self.found_pace or find_pace(self.time_s)

    @property
    def has_clock(self) -> bool:
        """Whether times are times, and not only numbers of samples."""
        return not _counts_only(self.events)

    def require_clock(self, what: str) -> None:
        """Refuse to go on where no time is known.

        Args:
            what: What needs it, for the words.

        Raises:
            UsageError: Times only number the samples.
        """
        if not self.has_clock:
            raise UsageError.of("no-clock", path=self.path, what=what)

    @property
    def gap_count(self) -> int:
        """Count of gaps in time."""
        return gap_count(self.events)

    def where_present(self, wanted: Iterable[str | int]) -> Capture:
        """Only the samples in which none of some columns is missing; itself where all are there.

        Args:
            wanted: Columns by name or 0-based number; those that it has not are left out.

        Raises:
            NoDataError: No sample has all of them.
        """
        named = [self.columns[c] if isinstance(c, int) else c for c in wanted]
        there = [name for name in dict.fromkeys(named) if name in self.values]
        missing = np.any([np.isnan(self.values[name]) for name in there], axis=0)
        if not missing.any():
            return self
        if missing.all():
            shown = ", ".join(neutral(name, 40) for name in named)
            raise NoDataError.of("no-numbers", path=self.path, named=shown)
        kept = np.flatnonzero(~missing)
        values = Columns(self.values, lambda name: self.values[name][kept])
        fewer = replace(
            self, time_s=self.time_s[kept], arrival=lambda: self.arrival()[kept], values=values
        )
        return _paced(fewer)

    @property
    def gap_indices(self) -> list[int]:
        """Indices of the samples before which nothing may be joined: a gap, a replug, a reset."""
        times_s = [event.time_s for event in self.events if event.kind in BREAKS]
        indices = np.searchsorted(self.time_s, times_s, side="right")
        return sorted({int(index) for index in indices if 0 < index < len(self)})

    def ref(self) -> CaptureRef:
        """What a document says of this capture."""
        return CaptureRef(
            path=str(self.path),
            sha256=self.sha256,
            samples=len(self),
            rejected_lines=self.rejected_lines,
            gaps=self.gap_count,
            rate_hz=self.rate_hz,
        )


def is_capture(path: Path) -> bool:
    """Whether ``path`` is a capture of ours: its first two columns say so."""
    try:
        with open_regular(path) as file:
            return file.readline(200).startswith(_HEADER_START)
    except OSError:
        return False


def was_without_clock(path: Path) -> bool:
    """Whether a capture was taken without a clock, by its metadata alone: no number is read."""
    return _counts_only(_noted_events(_read_metadata(path)))


def _counts_only(events: Iterable[Event]) -> bool:
    """Whether times only number the samples."""
    return any(event.kind is EventKind.NO_CLOCK for event in events)


def read_capture(path: Path, only: Sequence[str | int] | None = None) -> Capture:
    """Read a capture back, up to its last whole line.

    Args:
        path: The CSV.
        only: The rig's columns, by name or 0-based number, that will be asked for; any other is
            read when it is. All at once when None.

    Raises:
        NoDataError: It is missing, unreadable, holds no sample or is not a capture of ours.
    """
    hint = "Name another with --from FILE."
    with refused_as(NoDataError, f"Capture {path} cannot be read", hint):
        with open_regular(path) as file:
            columns, stop = _columns_of(path, file)
            size = file.seek(0, io.SEEK_END)
        numbers = _numbers_of(path, columns, stop, only)
        # After the parser, which has both cores; beside the analysis, which has one.
        digest = Digest(path, size)
    metadata = _read_metadata(path)
    closed = metadata.get("calib:closed") is True
    read = Capture(
        path=path,
        digest=digest.hex,
        columns=columns[2:],
        time_s=numbers.at(0),
        arrival=partial(numbers.at, 1),
        values=numbers,
        rejected_lines=_noted(metadata, "calib:rejected_lines", int, 0),
        events=_noted_events(metadata),
        started=_noted(metadata, "dc:created", str | None, None),
        noted_sha256=_noted(metadata, "calib:sha256", str | None, None) if closed else None,
        rests_on=_noted(metadata, "calib:rests_on", tuple[RigKey, ...], ()),
        taken_after=_noted(metadata, "calib:taken_after", TakenAfter | None, None),
    )
    return _paced(read)


def _columns_of(path: Path, file: BinaryIO) -> tuple[tuple[str, ...], int]:
    """Names of a capture's columns, and the place after its last whole line."""
    header = file.readline(HEADER_BYTES)
    if not header.startswith(_HEADER_START):
        raise NoDataError.of("not-a-capture", path=path)
    stop = end_of_last_line(file)
    if stop <= len(header):
        raise NoDataError(f"Capture {path} holds no sample.", "Capture again.")
    return tuple(next(csv.reader([header.decode("utf-8", "replace").rstrip("\r\n")]))), stop


def _numbers_of(
    path: Path, columns: tuple[str, ...], stop: int, only: Sequence[str | int] | None
) -> NumberColumns:
    """The columns of a clean CSV, all of them numbers."""
    places = {name: place for place, name in enumerate(columns) if place >= len(TIME_COLUMNS)}
    if only is None:
        wanted = list(range(len(columns)))
    else:
        ahead = len(TIME_COLUMNS)
        asked = {c + ahead if isinstance(c, int) else places.get(c, 0) for c in only}
        wanted = sorted({0, *(place for place in asked if place < len(columns))})
    return NumberColumns(path, len(columns), stop, places, wanted)


def _read_metadata(path: Path) -> dict[str, Any]:
    """The metadata beside a capture; empty where there is none that can be read."""
    try:
        return msgspec.json.decode(read_whole(metadata_path(path)), type=dict[str, Any])
    except (OSError, msgspec.MsgspecError):
        return {}


def _noted(metadata: dict[str, Any], key: str, kind: Any, otherwise: T) -> T:
    """What the metadata says under a key; ``otherwise`` where it says nothing of that kind."""
    try:
        found: T = msgspec.convert(metadata.get(key, otherwise), kind)
    except msgspec.ValidationError:
        return otherwise
    return found


def _noted_events(metadata: dict[str, Any]) -> tuple[Event, ...]:
    return _noted(metadata, "calib:events", tuple[Event, ...], ())


def _paced(read: Capture) -> Capture:
    """A capture with its times as stamped, laid evenly where they were ragged.

    What happened keeps its sample; gaps are told anew, by what is missing among all stamps.
    """
    pace = find_pace(read.time_s) if read.has_clock else Pace(read.time_s, None)
    kept = [event for event in read.events if event.kind is not EventKind.GAP]
    places = np.searchsorted(read.time_s, [event.time_s for event in kept], side="right").tolist()
    if pace.laid:
        times_s = pace.time_s[np.maximum(np.array(places, dtype=np.intp) - 1, 0)].tolist()
        kept = [replace(event, time_s=at) for event, at in zip(kept, times_s, strict=True)]
    broken = (EventKind.REPLUG, EventKind.RESET)
    told = {place for event, place in zip(kept, places, strict=True) if event.kind in broken}
    for gap in pace.missing:
        if gap.index not in told:
            before_s = float(pace.time_s[gap.index - 1])
            text = f"{gap.duration_s:.3f} s without a sample"
            kept.append(Event(EventKind.GAP, before_s, text, gap.duration_s))
    events = tuple(sorted(kept, key=lambda event: event.time_s))
    return replace(read, time_s=pace.time_s, events=events, found_pace=pace)
