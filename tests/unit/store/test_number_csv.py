from __future__ import annotations

import hashlib
import io
import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.errors import NoDataError
from calib.store import number_csv
from calib.store.number_csv import Digest, NumberColumns, end_of_last_line, read_numbers


def test_columns_are_read_up_to_the_last_whole_line(tmp_path: Path) -> None:
    """What the power cut off in mid-line is no number."""
    path = tmp_path / "a.csv"
    data = b"a,b\r\n1,2.5\r\n3,-4e-3\r\n5,6"
    path.write_bytes(data)
    with path.open("rb") as file:
        stop = end_of_last_line(file)
    found = read_numbers(path, 2, stop, [0, 1])
    assert {place: column.tolist() for place, column in found.items()} == {
        0: [1.0, 3.0],
        1: [2.5, -0.004],
    }


def test_the_hash_is_of_every_byte_that_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line that was cut off is hashed too; what is written later is not."""
    monkeypatch.setattr(number_csv, "BLOCK_BYTES", 7)
    path = tmp_path / "a.csv"
    data = b"a,b\r\n1,2\r\n3,"
    path.write_bytes(data + b"4\r\n")
    assert Digest(path, len(data)).hex() == hashlib.sha256(data).hexdigest()


def test_a_file_that_goes_while_it_is_hashed_is_told(tmp_path: Path) -> None:
    """The error of the thread comes out where the hash is asked for."""
    with pytest.raises(NoDataError, match="gone"):
        Digest(tmp_path / "gone.csv", 5).hex()


def test_large_files_are_read_in_pieces(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pieces that cut lines in two do not change the numbers."""
    monkeypatch.setattr(number_csv, "BLOCK_BYTES", 256)
    rows = np.arange(2000)
    path = tmp_path / "a.csv"
    path.write_bytes(b"a,b\r\n" + b"".join(b"%d,%d\r\n" % (row, 7 * row) for row in rows))
    found = read_numbers(path, 2, path.stat().st_size, [1])
    assert np.array_equal(found[1], 7.0 * rows)
    assert list(found) == [1]


def test_a_column_that_nobody_asked_for_is_read_when_somebody_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An hour's other columns cost nothing until they are looked at, and then only once."""
    path = tmp_path / "a.csv"
    path.write_bytes(b"t,a,b\r\n0,1,2\r\n1,3,4\r\n")
    columns = NumberColumns(path, 3, path.stat().st_size, {"a": 1, "b": 2}, [0, 1])
    assert list(columns) == ["a", "b"]
    assert len(columns) == 2
    assert columns["b"].tolist() == [2.0, 4.0]
    monkeypatch.setattr(number_csv, "read_numbers", None)
    assert columns["a"].tolist() == [1.0, 3.0]
    assert columns["b"].tolist() == [2.0, 4.0]


def test_a_damaged_column_is_told_when_it_is_looked_at(tmp_path: Path) -> None:
    """One line, never a traceback, however late it comes out."""
    path = tmp_path / "a.csv"
    path.write_bytes(b"t,a\r\n0,1\r\n1,x\r\n")
    columns = NumberColumns(path, 2, path.stat().st_size, {"a": 1}, [0])
    with pytest.raises(NoDataError, match="damaged"):
        columns["a"]


def test_a_field_too_many_is_damage_whatever_is_wanted(tmp_path: Path) -> None:
    """A comma that came in between shifts every column behind it."""
    path = tmp_path / "a.csv"
    path.write_bytes(b"t,a\r\n0,1\r\n1,3,4\r\n")
    with pytest.raises(NoDataError, match="1,3,4"):
        read_numbers(path, 2, path.stat().st_size, [0])


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ("1,x", "1,x"),
        ("1,nan", "1,nan"),
        ("1,inf", "1,inf"),
        ("1,1_0", "1,1_0"),
        ("1,2,3", "1,2,3"),
        ("1", "numbers: 1"),
        ("1,٣", "1,"),
        ("1,2\x1b[31m", "1,2"),
    ],
)
def test_a_damaged_line_is_shown(line: str, shown: str, tmp_path: Path) -> None:
    """One line that says which, never a traceback, and nothing of it raw."""
    path = tmp_path / "a.csv"
    path.write_bytes(f"t,a\r\n0,1\r\n{line}\r\n2,5\r\n".encode())
    with pytest.raises(NoDataError, match="is no row of 2 numbers") as raised:
        read_numbers(path, 2, path.stat().st_size, [1])
    assert shown in raised.value.what
    assert "\x1b" not in raised.value.what


def test_rows_without_any_comma_are_damage_and_no_empty_capture(tmp_path: Path) -> None:
    """Its separator may have been changed by another program."""
    path = tmp_path / "a.csv"
    path.write_bytes(b"t,a\r\n0;1\r\n1;2\r\n")
    with pytest.raises(NoDataError, match="0;1"):
        read_numbers(path, 2, path.stat().st_size, [1])


def test_a_missing_field_is_missing_in_its_own_column(tmp_path: Path) -> None:
    """First, last or several in a row: the other columns keep their numbers."""
    path = tmp_path / "a.csv"
    path.write_bytes(b"t,a,b,c\r\n,1,2,3\r\n1,,,\r\n2,7,,9\r\n3,,8,\r\n")
    found = read_numbers(path, 4, path.stat().st_size, [0, 1, 2, 3])
    rows = np.column_stack([found[place] for place in range(4)])
    nan = np.nan
    wanted = [[nan, 1, 2, 3], [1, nan, nan, nan], [2, 7, nan, 9], [3, nan, 8, nan]]
    assert np.array_equal(rows, np.array(wanted), equal_nan=True)


@given(st.lists(st.lists(st.sampled_from(["+5", ".5", "5.", "007", "-0", "1E+5", "2", "-3.25"]),
                         min_size=2, max_size=2), min_size=1, max_size=8))  # fmt: skip
def test_every_form_of_a_number_is_read(rows: list[list[str]]) -> None:
    """Fields stand in a capture as the device sent them, and C's printf has many forms."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "a.csv"
        path.write_text("a,b\n" + "".join(",".join(row) + "\n" for row in rows), "utf-8")
        found = read_numbers(path, 2, path.stat().st_size, [0, 1])
    assert np.array_equal(np.column_stack([found[0], found[1]]), np.array(rows, dtype=np.float64))


def test_the_last_line_end_is_found_however_far_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """A long tail without a line end, and no line end at all, are borne."""
    monkeypatch.setattr(number_csv, "TAIL_BYTES", 4)
    assert end_of_last_line(io.BytesIO(b"a\nbcdefghijkl")) == 2
    assert end_of_last_line(io.BytesIO(b"abcdefghijkl")) == 0
    assert end_of_last_line(io.BytesIO(b"")) == 0
