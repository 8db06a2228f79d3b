"""Captures on disk while they grow: whole lines only, whatever stops them."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec

from calib import __version__
from calib.errors import NoDataError
from calib.store.asked import asked_of, plain_rig
from calib.store.capture import TIME_COLUMNS, TakenAfter
from calib.store.files import free_path, metadata_path, refused_as, write_whole
from calib.store.records import load_records
from calib.store.rig import Rig
from calib.store.samples import Event, RejectedLine, Samples, gap_count
from calib.store.text import neutral

READING_TABLES = ("link.", "time.")
"""A capture keeps its values as received: it rests on how its lines and its clock were read."""

REJECTED_KEPT = 10_000  # own choice: bounds the file when a line is nothing but garbage


def capture_path(folder: Path, command: str, now: datetime) -> Path:
    """A free path for a new capture: ``captures/<UTC stamp>-<command>.csv`` below ``folder``."""
    return free_path(folder / "captures", now, command, ".csv")


def taken_after(folder: Path) -> TakenAfter:
    """What is on file below ``folder`` before a capture is taken."""
    file = load_records(folder)
    return TakenAfter(folder=file.folder, sequence=file.last_sequence)


def rejected_path(path: Path) -> Path:
    """Where the rejected lines of the capture at ``path`` lie."""
    return path.with_name(path.name.removesuffix(".csv") + ".rejected.txt")


class CaptureWriter(AbstractContextManager["CaptureWriter"]):
    """A capture that grows on disk; whole lines only, flushed at every append.

    Use it as a context manager. The metadata file is written at the start, marked open, and again
    at the end with the counts and the SHA-256.
    """

    def __init__(
        self,
        path: Path,
        rig: Rig,
        columns: Sequence[str],
        *,
        command: str,
        started: datetime | None,
        taken_after: TakenAfter | None = None,
    ) -> None:
        """Create the file and write its header row.

        Args:
            path: Where to; its folder is made.
            rig: What the columns are.
            columns: Names of the rig columns, in the order of ``Samples.values``.
            command: The command that captures.
            started: When, with its UTC offset; None where nobody knows.
            taken_after: What was on file then; None where nobody knows.

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
        self._taken_after = taken_after
        self._events: list[Event] = []
        self._hash = hashlib.sha256()
        with _writing(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file = path.open("xb", buffering=0)
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
        rows = zip(samples.time_s.tolist(), samples.arrival_s.tolist(), samples.rows, strict=True)
        lines = [f"{time_s:.6f},{arrival_s:.6f},{row}\r\n" for time_s, arrival_s, row in rows]
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

    def __exit__(self, *raised: object) -> None:
        """Close it, whatever happened."""
        self.close()

    def _write(self, chunk: bytes) -> None:
        view = memoryview(chunk)
        with _writing(self.path, kept=self.path):
            while view:
                written = self._file.write(view) or 0
                self._hash.update(view[:written])
                view = view[written:]

    def _append_rejected(self, rejected: Iterable[RejectedLine]) -> None:
        text = ""
        for line in rejected:
            self.rejected_lines += 1
            if self.rejected_lines <= REJECTED_KEPT:
                text += f"after sample {self.samples}: {line.reason}: {neutral(line.raw, 400)}\n"
        path = rejected_path(self.path)
        with _writing(path, kept=self.path):
            if self._rejected is None:
                self._rejected = path.open("wb", buffering=0)
            self._rejected.write(text.encode("utf-8"))

    def _write_metadata(self, *, closed: bool) -> None:
        rig = plain_rig(self._rig)
        read_by = [each for each in asked_of(self._rig) if each.key.startswith(READING_TABLES)]
        document = {
            "@context": "http://www.w3.org/ns/csvw",
            "url": self.path.name,
            "dialect": {"header": True, "delimiter": ",", "lineTerminators": ["\r\n"]},
            "dc:created": None if self._started is None else self._started.isoformat(),
            "dc:creator": f"calib {__version__}",
            "tableSchema": {"columns": self._column_descriptions()},
            "calib:command": self._command,
            "calib:rig": rig.rig,
            "calib:rig_sha256": rig.sha256,
            "calib:link": rig.link,
            "calib:rests_on": read_by,
            "calib:taken_after": self._taken_after,
            "calib:closed": closed,
            "calib:samples": self.samples,
            "calib:rejected_lines": self.rejected_lines,
            "calib:gaps": gap_count(self._events),
            "calib:events": self._events,
            "calib:sha256": self._hash.hexdigest() if closed else None,
        }
        encoded = msgspec.json.format(msgspec.json.encode(document), indent=2)
        path = metadata_path(self.path)
        with _writing(path, kept=self.path):
            write_whole(path, encoded + b"\n")

    def _column_descriptions(self) -> list[dict[str, Any]]:
        channels = plain_rig(self._rig).channels
        by_column = {str(ch.column): (name, ch) for name, ch in channels.items()}
        described: list[dict[str, Any]] = [
            {"name": name, "titles": name, "datatype": "number", "calib:unit": "s"}
            for name in TIME_COLUMNS
        ]
        for number, column in enumerate(self._columns):
            entry: dict[str, Any] = {"name": column, "titles": column, "datatype": "number"}
            named = by_column.get(column) or by_column.get(str(number))
            if named is not None:
                entry |= {"calib:channel": named[0], "calib:unit": named[1].unit}
            described.append(entry)
        return described


def _writing(path: Path, *, kept: Path | None = None) -> AbstractContextManager[None]:
    """What the disk refuses, told with the name of the file and of the capture that is kept."""
    hint = "Free some space or name another folder with --out DIR."
    return refused_as(NoDataError, f"{path} cannot be written", hint, capture=kept)
