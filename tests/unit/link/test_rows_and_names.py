"""Rows that are read together, and lines of names, at the limits of both."""

from __future__ import annotations

import pytest

from calib.link.layouts.dialect import read_header
from calib.link.layouts.rows import Kind, NotARowError, parse_fields, parse_row, read_rows
from tests.unit.link.test_delimited import decode, kinds


@pytest.mark.parametrize(
    ("width", "lines", "numbers"),
    [
        (2, b"1,2\n", [1.0, 2.0]),
        (2, b"1,2\n3,-4.5\n", [1.0, 2.0, 3.0, -4.5]),
        (1, b"1\n2\n", [1.0, 2.0]),
        (3, b"1, 2,3 \n", [1.0, 2.0, 3.0]),
        (2, b"1,2,3\n", None),
        (2, b"1\n", None),
        (2, b"1,2\n3\n", None),
        (2, b"1\n2,3,4\n", None),
        (2, b"1,2\n3,x\n", None),
        (2, b"1,2\n3,4e1\n", None),
        (1, b"\n", None),
        (1, b"\n\n", None),
        (2, b"1,\n", None),
        (2, b"9" * 15 + b"0" * 15 + b",2\n", [999_999_999_999_999e15, 2.0]),
        (2, b"-" + b"9" * 15 + b"0" * 15 + b",2\n", [-999_999_999_999_999e15, 2.0]),
        (2, b"1" + b"0" * 30 + b",2\n", None),
        (2, b"-1" + b"0" * 30 + b",2\n", None),
    ],
)
def test_rows_are_read_together_only_where_all_are_plain(
    width: int, lines: bytes, numbers: list[float] | None
) -> None:
    """Of one width, without an exponent, and no number as large as 1e30."""
    assert read_rows(lines, width) == numbers


@pytest.mark.parametrize(
    ("fields", "kind"),
    [([b"1e29"], None), ([b"-1e29"], None), ([b"1e30"], Kind.SIZE), ([b"-1e30"], Kind.SIZE),
     ([b"1", b"-1e31"], Kind.SIZE), ([], Kind.TEXT), ([b"1", b""], Kind.TEXT)],
)  # fmt: skip
def test_a_number_is_smaller_than_1e30_either_way(fields: list[bytes], kind: Kind | None) -> None:
    """So that its square and cube stay finite."""
    if kind is None:
        assert parse_row(fields) == (float(fields[0]),)
        assert parse_fields([b"", *fields])[1] == float(fields[0])
        return
    with pytest.raises(NotARowError) as raised:
        parse_row(fields)
    assert raised.value.kind is kind


@pytest.mark.parametrize(("length", "kept"), [(199, 199), (200, 200), (201, 200)])
def test_of_a_line_that_is_no_sample_two_hundred_bytes_are_kept(length: int, kept: int) -> None:
    """Enough to recognise what it was."""
    _, block = decode(b"1,2\n3,4\n" + b"?" * length + b"\n")
    assert [len(line.text) for line in block.rejected] == [kept]
    assert block.rejected[0].after == 2
    assert kinds(block) == [Kind.TEXT]


@pytest.mark.parametrize(
    ("line", "names"),
    [
        (b"t", ("t",)),
        (b"t,", ("t",)),
        (b",t", ("c0", "t")),
        (b",", None),
        (b"", None),
        (b"t,a,,", None),
        (b",,t", None),
        (b"\xb0abc", None),
        (b"a\xb0bcd", ("a\u00b0bcd",)),
        (b"a\xb0bc", None),
        (b"a\x7fbcd", None),
        (b"a\x80bcd,e", ("a\u20acbcd", "e")),
        ("a\u00b0b".encode(), ("a\u00b0b",)),
        (b"'t' , \"a\"", ("t", "a")),
        (b"%t,a", ("t", "a")),
    ],
)
def test_names_in_a_line(line: bytes, names: tuple[str, ...] | None) -> None:
    """A name may be missing before the first separator or behind the last one.

    Of what is not UTF-8 a fifth may be beyond ASCII, such as a degree sign; noise has more.
    """
    header = read_header(line)
    assert (None if header is None else header.names) == names
