"""Rows of a dialect that is known: many at once, one by one, and what is no row of it."""

from __future__ import annotations

import numpy as np
import pytest

from calib.link.layouts.delimited import Delimited
from calib.link.layouts.rows import Block, Kind
from tests.unit.link.test_delimited import decode, joined, kinds

COUNT = 40
"""Lines in one read: some hundred bytes, which are read together."""


def numbered(form: str, count: int = COUNT) -> list[bytes]:
    """Lines of one form with their numbers in them."""
    return [form.format(n=n, m=n + 100).encode() for n in range(10, 10 + count)]


def fed(first: list[bytes], *reads: list[bytes]) -> Block:
    """What a decoder makes of whole lines behind those by which it knows the dialect."""
    decoder = Delimited(whole_start=True)
    decoder.feed(b"\n".join([*first, b""]), 0.0)
    return joined([decoder.feed(b"\n".join([*lines, b""]), 1.0) for lines in reads])


FORMS = {
    "comma": ("{n},{m}.50", "{n},{m}.50"),
    "comma and blanks": (" {n}, {m}.50 ", "{n},{m}.50"),
    "semicolon": ("{n};{m}.50", "{n},{m}.50"),
    "decimal comma": ("{n};{m},50", "{n},{m}.50"),
    "tab": ("{n}\t{m},50", "{n},{m}.50"),
    "blank": ("{n} {m}.50", "{n},{m}.50"),
    "blank and decimal comma": ("{n} {m},50", "{n},{m}.50"),
    "one column": ("{m}.50", "{m}.50"),
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("odd", [None, 0, 1, 20, COUNT - 1])
@pytest.mark.parametrize("dirt", [b"# note", b"1.5.5;7", b"\x00\xff"])
def test_many_lines_at_once_are_what_each_is_on_its_own(
    form: str, odd: int | None, dirt: bytes
) -> None:
    """In their order, digits as sent, whatever stands among them and wherever."""
    sent, kept = FORMS[form]
    lines = numbered(sent)
    if odd is not None:
        lines.insert(odd, dirt)
    block = fed(numbered(sent, 2), lines)
    assert block.rows == [line.decode() for line in numbered(kept)]
    assert block.numbers == [float(part) for row in block.rows for part in row.split(",")]
    assert [line.text for line in block.rejected] == ([] if odd is None else [dirt])


@pytest.mark.parametrize("odd", [0, 20, COUNT - 1])
def test_a_row_with_a_missing_field_stands_in_its_place_among_many(odd: int) -> None:
    """Its number is none, and the others of it count."""
    lines = numbered("{n},{m}")
    number, _ = lines[odd].split(b",")
    lines[odd] = number + b","
    block = fed(numbered("{n},{m}", 2), lines)
    assert [row.encode() for row in block.rows] == lines
    assert np.isnan(block.numbers[2 * odd + 1])
    assert np.isnan(block.numbers).sum() == 1
    assert block.rejected == []


@pytest.mark.parametrize("odd", [0, 20, COUNT - 1])
def test_a_second_decimal_mark_is_refused_among_many_lines_too(odd: int) -> None:
    """A point where commas were, in one line or in a whole read."""
    lines = numbered("{n};{m},50")
    lines[odd] = b"7;5.50"
    block = fed(numbered("{n};{m},50", 2), lines)
    assert (len(block.rows), kinds(block)) == (COUNT - 1, [Kind.TEXT])
    whole = fed(numbered("{n};{m},50", 2), numbered("{n};{m}.50"))
    assert kinds(whole) == [Kind.TEXT] * COUNT
    unknown = fed(numbered("{n};{m}", 2), numbered("{n};{m},50"), numbered("{n};{m}.50"))
    assert len(unknown.rows) == COUNT


def test_a_line_that_is_not_rows_of_the_width_is_refused_among_many() -> None:
    """Two lines of one column do not make one of two."""
    lines = [*numbered("{n},{m}", 10), b"5", b"6", *numbered("{n},{m},7", 2)]
    block = fed(numbered("{n},{m}", 2), lines)
    assert (len(block.rows), kinds(block)) == (10, [Kind.COLUMNS] * 4)


def test_dirt_at_the_start_of_a_read_does_not_stay() -> None:
    """Lines that were cleaned and plain ones take turns, and none is read otherwise for that."""
    reads = [[b"1.5 V,2"], numbered("{n},{m}"), [b"> 3,4"], numbered("{n},{m}")]
    block = fed([b"1 V,2", b"1 V,2"], *reads)
    rows = [line.decode() for line in numbered("{n},{m}")]
    assert block.rows == ["1.5,2", *rows, "3,4", *rows]


@pytest.mark.parametrize("form", ["{n}", "{n} V"])
@pytest.mark.parametrize(("columns", "kept"), [(64, True), (65, False)])
def test_a_line_has_64_columns_at_most(form: str, columns: int, kept: bool) -> None:
    """Plain or cleaned."""
    line = b",".join(numbered(form, columns)) + b"\n"
    _, block = decode(line * 3)
    assert len(block.rows) == (3 if kept else 0)
    assert kinds(block) == ([] if kept else [Kind.COLUMNS] * 3)


@pytest.mark.parametrize(
    ("stream", "names"),
    [
        (b"# t,a\n1,2\n", ("t", "a")),
        (b"# t\n1\n2\n", None),
        (b"t;a\n1,2\n3,4\n", None),
        (b"a;\n5\n6\n", ("a",)),
        (b"a,b c\n1 2\n3 4\n", ("a,b", "c")),
        (b"t ms\n5\n6\n", ("t ms",)),
        (b"x,y x,y\n1 2\n3 4\n", None),
        (b"t,a,b\n1 2\n3 4\n", None),
        (b"1,2\n3,4\nt,a\n5,6\n", ("t", "a")),
        (b"t,a\n-,-\n1,2\n3,4\n", ("t", "a")),
        (b"10:00:01 -> t,a\n1,2\n3,4\n", ("t", "a")),
        (b"t,a\n10:00:01 -> 1,2\n10:00:02 -> 1,2\n", ("stamp", "t", "a")),
        (b"w,t,a\n10:00:01 -> 1,2\n10:00:02 -> 1,2\n", ("w", "t", "a")),
        (b"d,w,t,a\n10:00:01 -> 1,2\n10:00:02 -> 1,2\n", ("d w", "t", "a")),
        (b"d,w,t,a\n[  1.234] 1,2\n[  1.334] 1,2\n", None),
        (b"w,t,a\n[  1.234] 1,2\n[  1.334] 1,2\n", ("w", "t", "a")),
        (b"t,a\n[  1.234] 1,2\n[  1.334] 1,2\n", ("log_s", "t", "a")),
        (b"w,t,a\nI (10) x: 1,2\nI (20) x: 1,2\n", None),
    ],
)
def test_whose_names_the_columns_have(stream: bytes, names: tuple[str, ...] | None) -> None:
    """Those of a header that has as many, read by the separator of the rows where its own differs.

    What a prefix adds may have a name in it, a wall clock even two; one word behind the mark of a
    comment is a comment.
    """
    decoder, block = decode(stream)
    assert decoder.names == names
    assert len(block.rows) >= 1
    assert all(len(row.split(",")) == decoder.width for row in block.rows)


@pytest.mark.parametrize(("talk", "named"), [(7, True), (8, False)])
def test_of_lines_of_words_the_last_eight_are_held(talk: int, named: bool) -> None:
    """A header before more than seven lines of a greeting is no longer known."""
    words = [b"hello%d" % line for line in range(talk)]
    decoder, block = decode(b"\n".join([b"t,a", *words, b"1,2", b"3,4", b""]))
    assert decoder.names == (("t", "a") if named else None)
    assert block.rows == ["1,2", "3,4"]
    header = [Kind.HEADER] if named else [Kind.TEXT]
    assert kinds(block) == header + [Kind.TEXT] * talk


@pytest.mark.parametrize(
    ("first", "line", "changed"),
    [
        (b"t,a0,a1,a2", b"t,b0,b1", False),
        (b"t,a0,a1,a2", b"t,a0,b1", True),
        (b"t,a0,a1,a2", b"t", True),
        (b"t,a0,a1,a2", b"b0,b1", False),
        (b"t,a0,a1,a2", b"x y,z w,q r,s u", False),
        (b"t,a0,a1,a2", b"x y,z,q,s", False),
        (b"t,a0,a1,a2", b"x,z,q,s", True),
        (b"t a0 a1 a2", b"all is well now", False),
        (b"t a0 a1 a2", b"t a0 is well now", False),
        (b"t a0 a1 a2", b"t a0 is now", True),
        (b"t", b"ready", False),
        (b"", b"x,z,q,s", False),
    ],
)
def test_which_line_of_words_is_a_header_of_other_columns(
    first: bytes, line: bytes, changed: bool
) -> None:
    """Half of its names are known, or it is as wide as the samples and each name is one word.

    Between rows that blanks part, any message is a line of words.
    """
    apart = b" " if b" " in first else b","
    row = apart.join([b"1"] * max(1, len(first.split(apart))) if first else [b"1"] * 4)
    stream = [*([first] if first else []), row, row, line, row]
    _, block = decode(b"\n".join([*stream, b""]))
    assert len(block.rows) == (2 if changed else 3)
    assert (Kind.CHANGED in kinds(block)) is changed


@pytest.mark.parametrize(
    ("stream", "rows"),
    [
        (b"5,\n6,\n", ["5", "6"]),
        (b"1,2,3\n4,5,6\n7,8,\n", ["1,2,3", "4,5,6", "7,8,"]),
        (b"1,2,\n4,5,\n7,8\n", ["1,2", "4,5", "7,8"]),
        (b"1;2;\n4;5;\n", ["1,2", "4,5"]),
        (b"10:00:01 -> 1,2\n10:00:02 -> 3,4\n10:00:03 -> 3,\n",
         ["36001,1,2", "36002,3,4", "36003,3,"]),
    ],
)  # fmt: skip
def test_a_separator_behind_the_last_field_ends_the_line_where_no_column_is_missing(
    stream: bytes, rows: list[str]
) -> None:
    """Once the width is known, an empty last field is a missing one."""
    assert decode(stream)[1].rows == rows


@pytest.mark.parametrize(
    ("line", "units", "stamped"),
    [
        (b"1.5 V,2 deg", {0: "V", 1: "deg"}, set()),
        (b"14:02:11 -> 1.5 V,2 deg", {1: "V", 2: "deg"}, {0}),
        (b"1.5 V,2", {}, set()),
        (b"14:02:11 -> 1.5 V,2", {}, {0}),
        (b"14:02:11 -> 1.5,2", {}, {0}),
        (b"[ 12.345] 1.5 V,2 g", {1: "V", 2: "g"}, set()),
        (b"I (12) x: 1.5 V,2 g", {0: "V", 1: "g"}, set()),
        (b"14:02:11,1.5", {}, {0}),
        (b"7,14:02:11,15:02:11", {}, {1, 2}),
    ],
)
def test_units_are_known_where_each_number_has_one_and_clocks_by_their_places(
    line: bytes, units: dict[int, str], stamped: set[int]
) -> None:
    """What a prefix counts has none."""
    decoder, block = decode((line + b"\n") * 2)
    assert len(block.rows) == 2
    assert decoder.units == units
    assert decoder.stamped == stamped


def test_another_unit_than_before_is_refused() -> None:
    """The same number would mean another; a unit that is left away is not."""
    _, block = decode(b"1 V,2 deg\n" * 2 + b"1 mV,2 deg\n1 V,2 rad\n1,2\n1 deg,2 deg\n")
    assert block.rows == ["1,2"] * 4
    assert kinds(block) == [Kind.TEXT] * 2


def test_a_time_of_day_takes_only_digits_for_its_decimals() -> None:
    """A sign behind it is a column of its own, and then there is one too many."""
    _, block = decode(b"10:00:01,5\n10:00:02,5\n10:00:03,-5,2\n10:00:04,25,2\n")
    assert block.rows == ["36001,5", "36002,5", "36004.250000,2"]
    assert kinds(block) == [Kind.COLUMNS]


def test_words_stand_only_where_words_stood() -> None:
    """In a column of words, or in one that has given no number so far."""
    _, block = decode(b"w,n,x\na,1,\na,2,\nb,3,x\nc,fish,4\nd,5,6\ne,7,fish\n")
    assert block.rows == [",1,", ",2,", ",3,", ",5,6"]
    assert kinds(block) == [Kind.HEADER, Kind.TEXT, Kind.TEXT]
