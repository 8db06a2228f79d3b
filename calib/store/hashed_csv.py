"""Reads a CSV of numbers and its hash in one pass, in little more memory than its arrays."""

from __future__ import annotations

import hashlib
import io
import os
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

BLOCK_BYTES = 4 << 20
"""Own choice: a few megabytes at a time keep parser and hash busy on both cores."""

TAIL_BYTES = 1 << 16
"""Own choice: a step of the search for the last line end; no line of ours is longer."""


@dataclass(frozen=True, slots=True)
class HashedNumbers:
    """What a CSV holds.

    Attributes:
        columns: One array a column, each of shape (n,).
        sha256: Of the whole file, a line that was cut off at its end included.
    """

    columns: tuple[NDArray[np.float64], ...]
    sha256: str


class _HashedLines(io.RawIOBase):
    """The whole lines of an open file; hashes what is read of it."""

    def __init__(self, file: BinaryIO, stop: int) -> None:
        """Read ``file`` from its present place up to byte ``stop``."""
        super().__init__()
        self._file = file
        self._left = stop - file.tell()
        self.hash = hashlib.sha256()

    def readable(self) -> bool:
        """It can be read."""
        return True

    def read(self, size: int = -1) -> bytes:
        """The next bytes of whole lines; none at their end."""
        wanted = self._left if size < 0 else min(size, self._left)
        chunk = self._file.read(wanted)
        self._left -= len(chunk)
        self.hash.update(chunk)
        return chunk


def end_of_last_line(file: BinaryIO) -> int:
    """Place just after the last line end of a file, in bytes; 0 where it has none."""
    place = file.seek(0, os.SEEK_END)
    while place > 0:
        start = max(0, place - TAIL_BYTES)
        file.seek(start)
        found = file.read(place - start).rfind(b"\n")
        if found >= 0:
            return start + found + 1
        place = start
    return 0


def read_numbers(file: BinaryIO, columns: int, stop: int) -> HashedNumbers:
    """Columns and hash of an open CSV with one header row.

    Args:
        file: The file, open for reading in binary.
        columns: Count of its columns.
        stop: Place after its last whole line, bytes.

    Raises:
        pyarrow.ArrowInvalid: A field is no number, or a row has another count of fields.
    """
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    names = [str(number) for number in range(columns)]
    file.seek(0)
    lines = _HashedLines(file, stop)
    table = arrow_csv.read_csv(
        pa.PythonFile(lines, mode="r"),
        read_options=arrow_csv.ReadOptions(column_names=names, skip_rows=1, block_size=BLOCK_BYTES),
        convert_options=arrow_csv.ConvertOptions(
            column_types=dict.fromkeys(names, pa.float64()), null_values=[]
        ),
    )
    arrays = []
    for _ in names:
        arrays.append(table.column(0).to_numpy())
        # The column's pieces are freed before the next one is joined.
        table = table.remove_column(0)
    lines.hash.update(file.read())
    return HashedNumbers(tuple(arrays), lines.hash.hexdigest())
