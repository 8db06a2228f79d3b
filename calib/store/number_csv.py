"""Reads a CSV of numbers column by column, and its hash beside that on another core."""

from __future__ import annotations

import hashlib
import io
import os
import re
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from calib.errors import NoDataError
from calib.store.files import refused_as
from calib.store.text import neutral

Floats = NDArray[np.float64]

BLOCK_BYTES = 4 << 20
"""Own choice: a few megabytes at a time cost no memory worth naming."""

_FIELD = rb" *(?:[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,2})?)? *"
"""A decimal number as C's printf writes it, or nothing where it is missing."""

TAIL_BYTES = 1 << 16
"""Own choice: a step of the search for the last line end; no line of ours is longer."""


class Digest:
    """SHA-256 of a file's first bytes, worked out in a thread while the file is analysed."""

    def __init__(self, path: Path, size: int) -> None:
        """Begin to hash the first ``size`` bytes of ``path``."""
        self._path = path
        self._left = size
        self._hash = hashlib.sha256()
        self._error: OSError | None = None
        self._thread = threading.Thread(target=self._run, name="calib-hash", daemon=True)
        self._thread.start()

    def hex(self) -> str:
        """The hash in hexadecimal, once it is done.

        Raises:
            NoDataError: The file could not be read to its end.
        """
        self._thread.join()
        hint = "It was there a moment ago: look at the disk, then run it again."
        with refused_as(NoDataError, f"Capture {self._path} cannot be read", hint):
            if self._error is not None:
                raise self._error
        return self._hash.hexdigest()

    def _run(self) -> None:
        try:
            with self._path.open("rb") as file:
                while self._left and (chunk := file.read(min(BLOCK_BYTES, self._left))):
                    self._hash.update(chunk)
                    self._left -= len(chunk)
        except OSError as error:
            self._error = error


def end_of_last_line(file: BinaryIO) -> int:
    """Place just after the last line end of a file, in bytes; 0 where it has none."""
    place = file.seek(0, os.SEEK_END)
    while place > 0:
        start = max(0, place - TAIL_BYTES)
        file.seek(start)
        if (found := file.read(place - start).rfind(b"\n")) >= 0:
            return start + found + 1
        place = start
    return 0


def read_numbers(path: Path, columns: int, stop: int, wanted: Sequence[int]) -> dict[int, Floats]:
    """Some columns of a CSV of numbers with one header row.

    Args:
        path: The file.
        columns: Count of all its columns.
        stop: Place after its last whole line, bytes; what stands behind is left out.
        wanted: Places of the columns to read, 0-based.

    Returns:
        One array a wanted column, each of shape (n,); NaN where a field is empty.

    Raises:
        NoDataError: A wanted field is no number, or a row has another count of fields.
    """
    with path.open("rb") as file:
        header = len(file.readline())
        rows = None if stop == os.fstat(file.fileno()).st_size else _count(file, b"\n", stop) - 1
        commas = _count(file, b",", stop, header)
    try:
        numbers = _load(path, wanted, skiprows=1, max_rows=rows)
    except ValueError:
        numbers = np.full((1, len(wanted)), np.nan)
    if commas != len(numbers) * (columns - 1) or not np.isfinite(numbers).all():
        numbers = _load_with_care(path, columns, stop, wanted)
    return {place: numbers[:, at].copy() for at, place in enumerate(wanted)}


def _load_with_care(path: Path, columns: int, stop: int, wanted: Sequence[int]) -> Floats:
    """The same line by line: which is damaged, or where fields are missing."""
    lines = path.read_bytes()[:stop].splitlines()[1:]
    row = re.compile(rb"%b(?:,%b){%d}" % (_FIELD, _FIELD, columns - 1))
    for line in lines:
        if not row.fullmatch(line):
            shown = neutral(line.decode("utf-8", "replace"), 120)
            raise NoDataError.of("capture-damaged", path=path, columns=columns, line=shown)
    filled = re.sub(rb"(?<=,)(?=[,\n])|(?<=\n)(?=,)", b"nan", b"\n" + b"\n".join(lines) + b"\n")
    return _load(io.BytesIO(filled), wanted)


def _load(
    source: Path | BinaryIO, wanted: Sequence[int], skiprows: int = 0, max_rows: int | None = None
) -> Floats:
    """Wanted columns of rows of numbers, shape (n, wanted)."""
    return np.loadtxt(
        source, np.float64, comments=None, delimiter=",", usecols=wanted, ndmin=2,
        skiprows=skiprows, max_rows=max_rows,
    )  # fmt: skip


def _count(file: BinaryIO, mark: bytes, stop: int, start: int = 0) -> int:
    """How often a byte stands between two places of a file."""
    file.seek(start)
    count = 0
    while start < stop and (block := file.read(min(BLOCK_BYTES, stop - start))):
        count += int(np.count_nonzero(np.frombuffer(block, np.uint8) == mark[0]))
        start += len(block)
    return count


class Columns(Mapping[str, Floats]):
    """Columns by name, each of shape (n,); one is made when it is asked for.

    Args:
        names: Of the columns.
        make: Gives the column of a name.
    """

    def __init__(self, names: Iterable[str], make: Callable[[str], Floats]) -> None:
        """Make nothing yet."""
        self._names = tuple(names)
        self._make = make

    def __getitem__(self, name: str) -> Floats:
        """The column of that name."""
        return self._make(name)

    def __iter__(self) -> Iterator[str]:
        """Names of the columns."""
        return iter(self._names)

    def __len__(self) -> int:
        """Count of named columns."""
        return len(self._names)


class NumberColumns(Columns):
    """Columns of a CSV by name; one that was not read yet is read when it is asked for."""

    def __init__(
        self, path: Path, columns: int, stop: int, places: Mapping[str, int], wanted: Sequence[int]
    ) -> None:
        """Read the columns that are wanted at once.

        Args:
            path: The file.
            columns: Count of all its columns.
            stop: Place after its last whole line, bytes.
            places: Place of each named column.
            wanted: Places to read now.

        Raises:
            NoDataError: A wanted field is no number.
        """
        super().__init__(places, lambda name: self.at(places[name]))
        self._file = (path, columns, stop)
        self._read = read_numbers(*self._file, wanted)

    def at(self, place: int) -> Floats:
        """The column at a place.

        Raises:
            NoDataError: A field of it is no number.
        """
        if place not in self._read:
            self._read |= read_numbers(*self._file, [place])
        return self._read[place]
