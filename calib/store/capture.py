"""Captures read back from disk to be analysed."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

import msgspec
import numpy as np
from numpy.typing import NDArray

from calib.errors import NoDataError
from calib.store.documents.finding import CaptureRef
from calib.store.number_csv import Digest, NumberColumns, end_of_last_line
from calib.store.samples import Event, EventKind

TIME_COLUMNS = ("time_s", "arrival_s")
HEADER_BYTES = 65_536  # own choice: no header of ours is longer


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
        started: When it was started, ISO 8601 with offset; None if unknown.
        closed: Whether it was closed cleanly.
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

    def __len__(self) -> int:
        """Count of samples."""
        return int(self.time_s.shape[0])

    @property
    def sha256(self) -> str:
        """Of the CSV as analysed."""
        return self.digest()

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
        with path.open("rb") as file:
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
        with path.open("rb") as file:
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
    return Capture(
        path=path,
        digest=digest.hex,
        columns=columns[2:],
        time_s=time_s,
        arrival=partial(numbers.at, 1),
        values=numbers,
        rejected_lines=int(metadata.get("calib:rejected_lines", 0)),
        events=_events(metadata, time_s),
        started=metadata.get("dc:created"),
        closed=bool(metadata.get("calib:closed", False)),
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
    """The columns of a clean CSV, read by Arrow; all of them numbers."""
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
        return msgspec.json.decode(metadata_path(path).read_bytes(), type=dict[str, Any])
    except (OSError, msgspec.MsgspecError):
        return {}


def _events(metadata: dict[str, Any], time_s: NDArray[np.float64]) -> tuple[Event, ...]:
    """Events as noted while recording; from the times alone where none were noted."""
    if metadata.get("calib:closed"):
        try:
            return tuple(msgspec.convert(metadata.get("calib:events", []), list[Event]))
        except msgspec.ValidationError:
            return ()
    return gaps_in(time_s)


def started_at(path: Path) -> datetime | None:
    """When the capture at ``path`` was started; by its file where its metadata does not say.

    None where neither does, or only without an offset from UTC.
    """
    noted = _read_metadata(path).get("dc:created")
    try:
        if noted is None:
            return datetime.fromtimestamp(path.stat().st_mtime, UTC)
        started = datetime.fromisoformat(str(noted))
    except (OSError, ValueError):
        return None
    return started if started.tzinfo is not None else None


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
