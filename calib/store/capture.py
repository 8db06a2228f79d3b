"""Captures: samples on disk while they grow, and read back to be analysed."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

import msgspec
import numpy as np
from numpy.typing import NDArray

from calib import __version__
from calib.errors import NoDataError
from calib.store.documents.finding import CaptureRef
from calib.store.number_csv import Digest, NumberColumns, end_of_last_line
from calib.store.rig import Rig
from calib.store.samples import Event, EventKind, RejectedLine, Samples
from calib.store.text import neutral

TIME_COLUMNS = ("time_s", "arrival_s")
HEADER_BYTES = 65_536  # own choice: no header of ours is longer
REJECTED_KEPT = 10_000  # own choice: bounds the file when a line is nothing but garbage


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


def capture_path(folder: Path, command: str, now: datetime) -> Path:
    """A free path for a new capture: ``captures/<UTC stamp>-<command>.csv`` below ``folder``."""
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    stem = f"{stamp}-{command}"
    path = folder / "captures" / f"{stem}.csv"
    count = 1
    while path.exists():
        count += 1
        path = path.with_name(f"{stem}-{count}.csv")
    return path


def metadata_path(path: Path) -> Path:
    """Where the metadata of the capture at ``path`` lies (W3C CSV on the Web, section 5.2)."""
    return path.with_name(path.name + "-metadata.json")


def rejected_path(path: Path) -> Path:
    """Where the rejected lines of the capture at ``path`` lie."""
    return path.with_name(path.name.removesuffix(".csv") + ".rejected.txt")


class CaptureWriter:
    """A capture that grows on disk; whole lines only, flushed at every append.

    Use it as a context manager. The metadata file is written at the start, marked open, and again
    at the end with the counts and the SHA-256.
    """

    def __init__(
        self, path: Path, rig: Rig, columns: Sequence[str], *, command: str, started: datetime
    ) -> None:
        """Create the file and write its header row.

        Args:
            path: Where to; its folder is made.
            rig: What the columns are.
            columns: Names of the rig columns, in the order of ``Samples.values``.
            command: The command that captures.
            started: When, with its UTC offset.

        Raises:
            NoDataError: The folder or file cannot be written.
        """
        self.path = path
        self.samples = 0
        self.rejected_lines = 0
        self._rig = rig
        self._columns = tuple(columns)
        self._command = command
        self._started = started
        self._events: list[Event] = []
        self._hash = hashlib.sha256()
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file = path.open("xb", buffering=0)
        except OSError as error:
            raise _cannot_write(path, error) from error
        self._rejected: io.FileIO | None = None
        header = io.StringIO()
        csv.writer(header, lineterminator="\r\n").writerow((*TIME_COLUMNS, *self._columns))
        self._write(header.getvalue().encode("utf-8"))
        self._write_metadata(closed=False)

    def append(self, samples: Samples) -> None:
        """Write a run of samples and what was rejected beside it.

        Raises:
            NoDataError: The disk took no more; what was written until then stays readable.
        """
        self._events.extend(samples.events)
        if samples.rejected:
            self._append_rejected(samples.rejected)
        if not len(samples):
            return
        lines = [
            f"{time_s:.6f},{arrival_s:.6f},{row}\r\n"
            for time_s, arrival_s, row in zip(
                samples.time_s.tolist(), samples.arrival_s.tolist(), samples.rows, strict=True
            )
        ]
        self._write("".join(lines).encode("utf-8"))
        self.samples += len(lines)

    def close(self) -> None:
        """Close the capture and write its final metadata; a second call does nothing."""
        if self._file.closed:
            return
        self._file.close()
        if self._rejected is not None:
            self._rejected.close()
        self._write_metadata(closed=True)

    def __enter__(self) -> Self:
        """The writer itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close it, whatever happened."""
        self.close()

    def _write(self, chunk: bytes) -> None:
        view = memoryview(chunk)
        try:
            while view:
                written = self._file.write(view) or 0
                self._hash.update(view[:written])
                view = view[written:]
        except OSError as error:
            raise _cannot_write(self.path, error, kept=self.path) from error

    def _append_rejected(self, rejected: Iterable[RejectedLine]) -> None:
        text = ""
        for line in rejected:
            self.rejected_lines += 1
            if self.rejected_lines <= REJECTED_KEPT:
                text += f"after sample {self.samples}: {line.reason}: {neutral(line.raw, 400)}\n"
        try:
            if self._rejected is None:
                self._rejected = rejected_path(self.path).open("wb", buffering=0)
            self._rejected.write(text.encode("utf-8"))
        except OSError as error:
            raise _cannot_write(rejected_path(self.path), error, kept=self.path) from error

    def _write_metadata(self, *, closed: bool) -> None:
        document = {
            "@context": "http://www.w3.org/ns/csvw",
            "url": self.path.name,
            "dialect": {"header": True, "delimiter": ",", "lineTerminators": ["\r\n"]},
            "dc:created": self._started.isoformat(),
            "dc:creator": f"calib {__version__}",
            "tableSchema": {"columns": self._column_descriptions()},
            "calib:command": self._command,
            "calib:rig": msgspec.to_builtins(self._rig.rig),
            "calib:rig_sha256": self._rig.sha256,
            "calib:link": msgspec.to_builtins(self._rig.link),
            "calib:closed": closed,
            "calib:samples": self.samples,
            "calib:rejected_lines": self.rejected_lines,
            "calib:gaps": sum(
                event.kind in (EventKind.GAP, EventKind.REPLUG) for event in self._events
            ),
            "calib:events": [
                {
                    "kind": event.kind.value,
                    "time_s": event.time_s,
                    "text": event.text,
                    "duration_s": event.duration_s,
                }
                for event in self._events
            ],
            "calib:sha256": self._hash.hexdigest() if closed else None,
        }
        encoded = msgspec.json.format(msgspec.json.encode(document), indent=2)
        path = metadata_path(self.path)
        fresh = path.with_name(path.name + ".new")
        try:
            fresh.write_bytes(encoded + b"\n")
            fresh.replace(path)
        except OSError as error:
            raise _cannot_write(path, error, kept=self.path) from error

    def _column_descriptions(self) -> list[dict[str, Any]]:
        by_column = {str(ch.column): (name, ch) for name, ch in self._rig.channels.items()}
        described: list[dict[str, Any]] = [
            {"name": name, "titles": name, "datatype": "number", "calib:unit": "s"}
            for name in TIME_COLUMNS
        ]
        for number, column in enumerate(self._columns):
            entry: dict[str, Any] = {"name": column, "titles": column, "datatype": "number"}
            named = by_column.get(column) or by_column.get(str(number))
            if named is not None:
                entry["calib:channel"] = named[0]
                entry["calib:unit"] = named[1].unit
            described.append(entry)
        return described


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


def _cannot_write(path: Path, error: OSError, *, kept: Path | None = None) -> NoDataError:
    return NoDataError(
        f"{path} cannot be written: {error.strerror}.",
        "Free some space or name another folder with --out DIR.",
        capture=kept,
    )
