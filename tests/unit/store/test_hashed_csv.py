from __future__ import annotations

import hashlib
import io

import numpy as np
import pytest

from calib.store import hashed_csv
from calib.store.hashed_csv import end_of_last_line, read_numbers


def test_numbers_and_hash_come_in_one_pass() -> None:
    """Columns are read up to the last whole line; the hash is of every byte."""
    data = b"a,b\r\n1,2.5\r\n3,-4e-3\r\n5,6"
    file = io.BytesIO(data)
    found = read_numbers(file, 2, end_of_last_line(file))
    assert [column.tolist() for column in found.columns] == [[1.0, 3.0], [2.5, -0.004]]
    assert found.sha256 == hashlib.sha256(data).hexdigest()


def test_large_files_are_read_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pieces that cut lines in two change neither numbers nor hash."""
    monkeypatch.setattr(hashed_csv, "BLOCK_BYTES", 256)
    rows = np.arange(2000)
    data = b"a,b\r\n" + b"".join(b"%d,%d\r\n" % (row, 7 * row) for row in rows)
    file = io.BytesIO(data)
    found = read_numbers(file, 2, end_of_last_line(file))
    assert np.array_equal(found.columns[1], 7.0 * rows)
    assert found.sha256 == hashlib.sha256(data).hexdigest()


def test_the_last_line_end_is_found_however_far_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """A long tail without a line end, and no line end at all, are borne."""
    monkeypatch.setattr(hashed_csv, "TAIL_BYTES", 4)
    assert end_of_last_line(io.BytesIO(b"a\nbcdefghijkl")) == 2
    assert end_of_last_line(io.BytesIO(b"abcdefghijkl")) == 0
    assert end_of_last_line(io.BytesIO(b"")) == 0


def test_whole_lines_can_be_read_at_once() -> None:
    """A read without a size gives the rest of the whole lines and no more."""
    file = io.BytesIO(b"a\nb\ncut")
    lines = hashed_csv._HashedLines(file, 4)  # noqa: SLF001 (the io protocol that Arrow uses)
    assert lines.readable()
    assert lines.read() == b"a\nb\n"
    assert lines.read() == b""
