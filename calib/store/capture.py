"""Captures read back from disk to be analysed."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO, TypeVar

import msgspec
import numpy as np
from numpy.typing import NDArray

from calib.errors import NoDataError
from calib.store.asked import RigKey
from calib.store.documents.finding import CaptureRef
from calib.store.files import open_regular, read_whole
from calib.store.number_csv import Digest, NumberColumns, end_of_last_line
from calib.store.samples import Event, EventKind

TIME_COLUMNS = ("time_s", "arrival_s")
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


@dataclass(frozen=True, slots=True)
class Capture:
    """A capture read back.

    Attributes:
        path: The CSV.
        digest: Gives the SHA-256 of the CSV as analysed.
        columns: Names of the columns of ``values``.
        time_s: Device clock, seconds; shape (n,).
        arrival: Gives the host clock, seconds since the start; shape (n,).
        values: Numbers as received by column name, each of shape (n,).
        rejected_lines: Count of lines that were not decoded.
        events: Gaps, resets and the like that were seen while it was recorded.
        started: When it was started, ISO 8601 with offset; None if it does not say.
        closed: Whether it was closed cleanly.
        noted_sha256: The SHA-256 with which it was closed; None if it does not say.
        rests_on: The rig keys by which its lines were read, with their values.
        taken_after: What was on file then; None if it does not say.
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
    closed: bool = True
    noted_sha256: str | None = None
    rests_on: tuple[RigKey, ...] = ()
    taken_after: TakenAfter | None = None

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
        """Median sample rate in hertz; None for fewer than two samples or no passing time."""
        if len(self) < 2:
            return None
        step_s = float(np.median(np.diff(self.time_s)))
        return 1.0 / step_s if step_s > 0 else None

    @property
    def gap_count(self) -> int:
        """Count of gaps in time."""
        return sum(event.kind in (EventKind.GAP, EventKind.REPLUG) for event in self.events)

    @property
    def gap_indices(self) -> list[int]:
        """Indices of the samples before which nothing may be joined: a gap, a replug, a reset."""
        times_s = [
            event.time_s
            for event in self.events
            if event.kind in (EventKind.GAP, EventKind.REPLUG, EventKind.RESET)
        ]
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


def metadata_path(path: Path) -> Path:
    """Where the metadata of the capture at ``path`` lies (W3C CSV on the Web, section 5.2)."""
    return path.with_name(path.name + "-metadata.json")


def is_capture(path: Path) -> bool:
    """Whether ``path`` is a capture of ours: its first two columns say so."""
    try:
        with open_regular(path) as file:
            return file.readline(200).startswith(",".join(TIME_COLUMNS).encode() + b",")
    except OSError:
        return False


def read_capture(path: Path, only: Sequence[str | int] | None = None) -> Capture:
    """Read a capture back, up to its last whole line.

    Args:
        path: The CSV.
        only: The rig's columns, by name or 0-based number, that will be asked for; any other is
            read when it is. All at once when None.

    Raises:
        NoDataError: It is missing, unreadable, holds no sample or is not a capture of ours.
    """
    try:
        with open_regular(path) as file:
            columns, stop = _columns_of(path, file)
            size = file.seek(0, io.SEEK_END)
        numbers = _numbers_of(path, columns, stop, only)
        # After the parser, which has both cores; beside the analysis, which has one.
        digest = Digest(path, size)
    except OSError as error:
        raise NoDataError(
            f"Capture {path} cannot be read: {error.strerror}.", "Name another with --from FILE."
        ) from error
    time_s = numbers.at(0)
    metadata = _read_metadata(path)
    closed = metadata.get("calib:closed") is True
    return Capture(
        path=path,
        digest=digest.hex,
        columns=columns[2:],
        time_s=time_s,
        arrival=partial(numbers.at, 1),
        values=numbers,
        rejected_lines=_noted(metadata, "calib:rejected_lines", int, 0),
        events=_noted(metadata, "calib:events", tuple[Event, ...], ())
        if closed
        else gaps_in(time_s),
        started=_noted(metadata, "dc:created", str | None, None),
        closed=closed,
        noted_sha256=_noted(metadata, "calib:sha256", str | None, None) if closed else None,
        rests_on=_noted(metadata, "calib:rests_on", tuple[RigKey, ...], ()),
        taken_after=_noted(metadata, "calib:taken_after", TakenAfter | None, None),
    )


def _columns_of(path: Path, file: BinaryIO) -> tuple[tuple[str, ...], int]:
    """Names of a capture's columns, and the place after its last whole line."""
    header = file.readline(HEADER_BYTES)
    if not header.startswith(",".join(TIME_COLUMNS).encode() + b","):
        raise NoDataError(
            f"{path} is not a capture of calib: its first columns are not time_s, arrival_s.",
            "Give a capture, or a text log in the layout of the rig file.",
        )
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
        asked = {
            column + len(TIME_COLUMNS) if isinstance(column, int) else places.get(column, 0)
            for column in only
        }
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


def gaps_in(time_s: NDArray[np.float64]) -> tuple[Event, ...]:
    """Gaps in time: steps above twice the median step.

    Args:
        time_s: Device clock in seconds, shape (n,).

    Source: own choice, because a lost line doubles the step and jitter seldom does.
    """
    if time_s.shape[0] < 3:
        return ()
    steps_s = np.diff(time_s)
    median_s = float(np.median(steps_s))
    return tuple(
        Event(
            kind=EventKind.GAP,
            time_s=float(time_s[index]),
            text=f"{steps_s[index]:.3f} s without a sample",
            duration_s=float(steps_s[index]),
        )
        for index in np.flatnonzero(steps_s > 2.0 * median_s * (1 + 1e-9))
    )
