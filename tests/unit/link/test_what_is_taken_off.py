"""What stands around numbers and is taken off, and what is left alone because nobody can say."""

from __future__ import annotations

import pytest

from calib.link.layouts.cleaning import (
    BRACKETS,
    COLOURS,
    LOG_S_NAME,
    MISSING,
    PREFIX,
    QUOTES,
    STAMP_NAME,
    SWITCHED,
    UNITS,
    UNNAMED_NAME,
    WALL_CLOCK,
    bare,
    fault_in,
    read_field,
    read_label,
    unwrapped,
)
from calib.link.layouts.lines import MAX_LINE, LineCutter
from calib.link.layouts.rows import Kind, NotARowError
from tests.unit.link.test_delimited import decode
from tests.unit.link.test_named import decode as decode_named
from tests.unit.link.test_named import kinds


@pytest.mark.parametrize(
    ("text", "inner", "remarks"),
    [
        (b"1,2", b"1,2", set()),
        (b"5;", b"5", set()),
        (b"1|2", b"1;2", {BRACKETS}),
        (b"| 1 | 2 |", b"1 ; 2", {BRACKETS}),
        (b"1;5|2", b"1;5,2", {BRACKETS}),
        (b"(1,2)", b"1,2", {BRACKETS}),
        (b"<1,2>", b"1,2", {BRACKETS}),
        (b"{1,2}", b"1,2", {BRACKETS}),
        (b"[1, 2] ,[ 3]", b"1, 2,3", {BRACKETS}),
        (b"(1);(2)", b"1,2", {BRACKETS}),
        (b"(1)(2)(3)", b"1,2,3", {BRACKETS}),
        (b"([1,2])", b"1,2", {BRACKETS}),
        (b"(1,2]", b"(1,2]", set()),
        (b"(1,2", b"(1,2", set()),
        (b"1,2)", b"1,2)", set()),
        (b"(1(2)", b"(1(2)", set()),
        (b"(1)2)", b"(1)2)", set()),
        (b"(1)(2(3)", b"(1)(2(3)", set()),
        (b"((1,2))", b"((1,2))", set()),
        (b"", b"", set()),
        (b"(", b"(", set()),
        (b'"1.5"', b"1.5", {QUOTES}),
        (b'"1,2"', b"1,2", {QUOTES}),
        (b'"12"', b"12", {QUOTES}),
        (b'"1"', b"1", {QUOTES}),
        (b'"1","2"', b'"1","2"', set()),
        (b'""', b'""', set()),
        (b'"1,2', b'"1,2', set()),
        (b'1,"2"', b'1,"2"', set()),
        (b'"1",2', b'"1",2', set()),
        (b"1.5 V,2deg", b"1.5,2", {UNITS}),
        (b"-.5 V;+2,5 mV", b"-.5;+2,5", {UNITS}),
        (b"1e3 V,2E-3 V", b"1e3,2E-3", {UNITS}),
        (b"1.5 Volt", b"1.5 Volt", set()),
        (b"a1V,2", b"a1V,2", set()),
        (b"1 V=2", b"1 V=2", set()),
    ],
)
def test_what_stands_around_the_whole_is_taken_off(
    text: bytes, inner: bytes, remarks: set[str]
) -> None:
    """Brackets that belong together, quotes, bars, units; and what was is remarked upon."""
    found: set[str] = set()
    assert unwrapped(text, found) == inner
    assert found == remarks


@pytest.mark.parametrize(
    ("line", "text", "lead", "name", "tail", "remarks"),
    [
        (b" 1,2\t", b"1,2", None, STAMP_NAME, None, set()),
        (b"\x1b[0;32m1,2\x1b[0m", b"1,2", None, STAMP_NAME, None, {COLOURS}),
        (b"|1|2|", b"1;2", None, STAMP_NAME, None, {BRACKETS}),
        (b"1,5|2", b"1,5|2", None, STAMP_NAME, None, set()),
        (b"1;5|2", b"1;5|2", None, STAMP_NAME, None, set()),
        (b"1\t5|2", b"1\t5|2", None, STAMP_NAME, None, set()),
        (b"12:00:01 -> 1,2", b"1,2", b"43201", STAMP_NAME, None, {PREFIX, WALL_CLOCK}),
        (b"[ 12.345] 1,2", b"1,2", b"12.345", LOG_S_NAME, None, {PREFIX}),
        (b"I (77) adc: 1,2", b"1,2", None, STAMP_NAME, b"77", {PREFIX}),
        (b"12:00:01 -> [INFO] [adc] > 1,2", b"1,2", b"43201", STAMP_NAME, None,
         {PREFIX, WALL_CLOCK}),
        (b"[INFO] [a] [b] > 1,2", b"1,2", None, STAMP_NAME, None, {PREFIX}),
        (b"[INFO] [a] [b] [c] > 1,2", b"> 1,2", None, STAMP_NAME, None, {PREFIX}),
        (b"12:00:01", b"12:00:01", None, STAMP_NAME, None, set()),
        (b"12:00:01\x0b", b"12:00:01\x0b", None, STAMP_NAME, None, set()),
        (b"25:00:01 -> 1,2", b"25:00:01 -> 1,2", None, STAMP_NAME, None, set()),
        (b"adc:", b"adc:", None, STAMP_NAME, None, set()),
        (b"[12.345], 1,2", b"[12.345], 1,2", None, STAMP_NAME, None, set()),
    ],
)  # fmt: skip
def test_what_stands_before_the_numbers_is_taken_off_and_its_time_kept(
    line: bytes, text: bytes, lead: bytes | None, name: str, tail: bytes | None, remarks: set[str]
) -> None:
    """A clock, a level, a name and a mark at most; a clock that is all there is stays."""
    found = bare(line)
    assert (found.text, found.lead, found.lead_name, found.tail) == (text, lead, name, tail)
    assert found.remarks == remarks
    assert found.added == (lead is not None) + (tail is not None)
    assert found.is_stamp is (WALL_CLOCK in remarks)


def test_a_prefix_with_nothing_behind_it_is_none() -> None:
    """The line is left as it is, and nothing is said to have been taken off."""
    assert bare(b"I (77) adc:").text == b"I (77) adc:"
    assert bare(b"I (77) adc:").remarks == frozenset()


@pytest.mark.parametrize(
    ("line", "lead", "name"),
    [(b"77, a: 1", b"77", UNNAMED_NAME), (b"12:00:01;a: 1", b"43201", STAMP_NAME),
     (b"[ 12.345] a: 1", b"12.345", LOG_S_NAME), (b"a: 1", None, STAMP_NAME)],
)  # fmt: skip
def test_before_values_with_names_a_number_without_one_is_a_time_or_a_count(
    line: bytes, lead: bytes | None, name: str
) -> None:
    """And a name before a number is no prefix there."""
    found = bare(line, named=True)
    assert (found.text, found.lead, found.lead_name) == (b"a: 1", lead, name)
    assert bare(b"77, a: 1").lead is None


@pytest.mark.parametrize(
    ("field", "kind", "text", "remarks"),
    [
        (b"5", "number", b"5", set()),
        (b" -5 ", "number", b"-5", set()),
        (b"+.5", "number", b"+.5", set()),
        (b"5.", "number", b"5.", set()),
        (b"1e-3", "number", b"1e-3", set()),
        (b"0x1F", "number", b"31", set()),
        (b"0X10", "number", b"16", set()),
        (b"(5)", "number", b"5", {BRACKETS}),
        (b"5]", "number", b"5", {BRACKETS}),
        (b'"5"', "number", b"5", {QUOTES}),
        (b"'15'", "number", b"15", {QUOTES}),
        (b"", "absent", b"", {MISSING}),
        (b"N/A", "absent", b"", {MISSING}),
        (b"Pressed", "switch", b"1", {SWITCHED}),
        (b"open", "switch", b"0", {SWITCHED}),
        (b"12:00:01", "stamp", b"43201", {WALL_CLOCK}),
        (b"left", "word", b"", set()),
    ],
)
def test_what_one_field_holds(field: bytes, kind: str, text: bytes, remarks: set[str]) -> None:
    """A number, none, the state of a switch, a wall clock or a word."""
    found: set[str] = set()
    read = read_field(field, comma_parts=True, remarks=found)
    assert (read.kind, read.text, found) == (kind, text, remarks)
    assert read.word == (field if kind == "word" else b"")


@pytest.mark.parametrize(
    ("field", "kind"),
    [(b"5e", Kind.TEXT), (b"5-", Kind.TEXT), (b"1.5.5", Kind.TEXT), (b"5V", Kind.TEXT),
     (b"1e40", Kind.SIZE), (b"0x", Kind.TEXT), (b"x" * 41, Kind.TEXT), (b"?!", Kind.TEXT)],
)  # fmt: skip
def test_what_no_field_holds(field: bytes, kind: Kind) -> None:
    """A number gone wrong is no word; a word has forty letters at most."""
    with pytest.raises(NotARowError) as raised:
        read_field(field, comma_parts=True, remarks=set())
    assert raised.value.kind is kind


def test_a_label_is_forty_printable_characters_at_most() -> None:
    """Whatever they look like; an empty one is missing."""
    remarks: set[str] = set()
    assert read_label(b' "1R" ', remarks).word == b"1R"
    assert read_label(b"x" * 40, remarks).word == b"x" * 40
    assert remarks == set()
    assert read_label(b"''", remarks).kind == "absent"
    assert remarks == {MISSING}
    for label in (b"x" * 41, b"a\x07b"):
        with pytest.raises(NotARowError):
            read_label(label, remarks)


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        (b"", ""),
        (b"1,5;fish", ": '1,5;fish', where field 2, 'fish', is a word"),
        (b"1,5..,3", ": '1,5..,3', where field 2, '5..', is no number"),
        (b"1,1e40", ": '1,1e40', where field 2, '1e40', is too large"),
        (b"1,2", ": '1,2', where its count of fields is not that of the lines around it"),
        (b"INFO x: 1 2 ?!", ": 'INFO x: 1 2 ?!', where field 3, '?!', is no number"),
        (b"1," + b"?" * 120,
         f": '1,{'?' * 58}\u2026', where field 2, '{'?' * 80}\u2026"),
    ],
)  # fmt: skip
def test_what_of_a_line_cannot_be_read_is_said_in_words(line: bytes, fault: str) -> None:
    """By the place of the first field that is at fault, of the line without its prefix."""
    assert fault_in(line) == fault


@pytest.mark.parametrize(
    ("text", "encoding", "recoded"),
    [("1,2\n3,4\n", "utf-8", False), ("1,2\n3,4\n", "utf-8-sig", True),
     ("1,2\n3,4\n", "utf-16", True), ("1,2\n3,4\n", "utf-16-le", True),
     ("1,2\n3,4\n", "utf-16-be", True)],
)  # fmt: skip
@pytest.mark.parametrize("size", [1, 3, 4, 100])
def test_the_encoding_of_a_file_is_told_by_its_first_four_bytes(
    text: str, encoding: str, recoded: bool, size: int
) -> None:
    """However they come; what stands in the middle of a line is taken as it is."""
    data = text.encode(encoding)
    cutter = LineCutter(from_start=True)
    pieces = [data[at : at + size] for at in range(0, len(data), size)]
    assert b"".join(cutter.feed(piece) for piece in pieces) == text.encode()
    assert cutter.recoded is recoded
    plain = LineCutter()
    assert plain.feed(data) + plain.take_rest() == data
    assert not plain.recoded


@pytest.mark.parametrize(
    "head", [b"\0\0\0\0", b"1\x002\x33", b"1\x33,\0", b"\x001\x331", b"1,\0\0"]
)
def test_noughts_that_do_not_alternate_are_no_encoding(head: bytes) -> None:
    """The bytes are taken as they are."""
    cutter = LineCutter(from_start=True)
    assert cutter.feed(head + b"\n") == head + b"\n"
    assert not cutter.recoded


def test_what_is_held_of_a_file_of_less_than_four_bytes_is_its_rest() -> None:
    """And it is given once."""
    cutter = LineCutter(from_start=True)
    assert cutter.feed(b"1\n2") == b""
    assert cutter.take_rest() == b"1\n2"
    assert cutter.take_rest() == b""


def test_after_a_line_without_end_every_line_counts_again() -> None:
    """From its end on; its head is told once, however many pieces it came in."""
    cutter = LineCutter()
    pieces = [b"1\n2", *[b"7" * 1500] * 6, b"\n3\n4", b"\n5\n", b"6\n"]
    assert [cutter.feed(piece) for piece in pieces] == [
        b"1\n", *[b""] * 6, b"3\n", b"4\n5\n", b"6\n",
    ]  # fmt: skip
    assert cutter.long == [(b"2" + b"7" * 4500)[:4096]]


@pytest.mark.parametrize(("length", "kept"), [(4096, True), (4097, False)])
def test_four_kilobytes_are_held_for_an_end(length: int, kept: bool) -> None:
    """And a byte more is given up; the lines around it stay."""
    cutter = LineCutter()
    assert cutter.feed(b"1\n" + b"7" * length) == b"1\n"
    assert cutter.feed(b"\n2\n") == (b"7" * length + b"\n2\n" if kept else b"2\n")
    assert [len(head) for head in cutter.long] == ([] if kept else [MAX_LINE])


def test_a_long_line_between_others_is_cut_out() -> None:
    """Behind a blank line, behind many short ones, and twice."""
    long = b"1" * 5000 + b"\n"
    cutter = LineCutter()
    assert cutter.feed(b"\n" + long + b"2\n") == b"\n2\n"
    assert cutter.long == [b"1" * 4096]
    many = b"".join(b"%d,5\n" % number for number in range(3000))
    assert cutter.feed(many + long + b"3\n" + long + many) == many + b"3\n" + many
    assert len(cutter.long) == 3


@pytest.mark.parametrize(("length", "kept"), [(80, True), (81, False)])
def test_a_name_has_eighty_letters_at_most(length: int, kept: bool) -> None:
    """In pairs and in objects."""
    name = b"a" * length
    for layout, line in (("pairs", name + b"=1 b=2\n"), ("json", b'{"' + name + b'":1,"b":2}\n')):
        decoder, _ = decode_named(layout, line * 3)
        assert (decoder.names is not None) is kept


@pytest.mark.parametrize(
    ("line", "row"),
    [
        ("Throttle: 2.1 V, Tilt: -", "2.1,"),
        ("Throttle: -, Tilt: -", None),
        ("Throttle: left, Tilt: 3", "3"),
        ("(Throttle: 2.1, Tilt: 3)", "2.1,3"),
        ("Throttle: 2.1 V;", "2.1"),
        ("Throttle: 0x10, Tilt: 3", "16,3"),
        ("I (77) x: Throttle: 2.1 V", "2.1,77"),
        ("12:00:01 -> Throttle: 2.1 V", "43201,2.1"),
        ("Throttle 2.1", None),
        ("# Throttle: 2.1", None),
    ],
)
def test_a_sample_of_named_values_has_a_number(line: str, row: str | None) -> None:
    """One at least; words are left out, what is missing is empty."""
    _, block = decode_named("pairs", (line + "\n").encode() * 2)
    assert block.rows == ([] if row is None else [row] * 2)


@pytest.mark.parametrize(
    ("line", "row"),
    [
        (b'{"a":{"b":{"c":{"d":1}}}}', "1"),
        (b'{"a":{"b":{"c":{"d":{"e":1}}}}}', None),
        (b"[" + b",".join([b"[1]"] * 63) + b"]", ",".join(["1"] * 63)),
        (b"[" + b",".join([b"[1]"] * 64) + b"]", None),
        (b'{"a":"1,5","b":2}', "2"),
        (b'{"a":"1.5","b":2}', "1.5,2"),
        (b'{"a":"12:00:01","b":false}', "43201,0"),
        (b'{"a":"on","b":"fish","c":""}', "1"),
        (b'{"a":-Infinity,"b":[NaN ,2]}', ",,2"),
        (b'{"a":"fish"}', None),
    ],
)
def test_objects_are_three_deep_at_most_and_have_64_brackets(line: bytes, row: str | None) -> None:
    """Within them numbers count, in quotes too where they are plain; words are left out."""
    _, block = decode_named("json", (line + b"\n") * 2)
    assert block.rows == ([] if row is None else [row] * 2)


@pytest.mark.parametrize(("columns", "kept"), [(64, True), (65, False)])
def test_a_round_of_names_has_64_at_most(columns: int, kept: bool) -> None:
    """In one line, and line by line."""
    line = b" ".join(b"a%d=1" % number for number in range(columns)) + b"\n"
    for stream in (line * 2, line.replace(b" ", b"\n") * 2):
        decoder, block = decode_named("pairs", stream)
        assert (decoder.width == columns) is kept
        assert (len(block.rows) == 2) is kept


def test_one_round_is_given_at_the_end_and_none_that_is_not_whole() -> None:
    """Where no second one came; of two that differ none is believed before a third."""
    assert decode_named("pairs", b"a=1 b=2\n")[1].rows == ["1,2"]
    assert decode_named("pairs", b"a=1\nb=2\n")[1].rows == ["1,2"]
    decoder, block = decode_named("pairs", b"a=1 b=2\na=3 b=4\na=5\n")
    assert (decoder.names, block.rows) == (("a", "b"), ["1,2", "3,4"])
    decoder, block = decode_named("pairs", b"b=9\na=1 b=2\na=3 b=4\n")
    assert (decoder.names, block.rows) == (("a", "b"), ["1,2", "3,4"])


def test_a_name_that_comes_too_early_costs_the_round_that_it_cuts_short() -> None:
    """A name that was never there costs its own line alone."""
    _, block = decode_named("pairs", b"a=1\nb=2\na=3\nb=4\na=5\na=6\nb=7\nc=8\na=9\nb=10\n")
    assert block.rows == ["1,2", "3,4", "6,7", "9,10"]
    assert kinds(block) == [Kind.COLUMNS, Kind.COLUMNS]


def test_a_first_named_line_of_a_port_is_not_believed() -> None:
    """Half a line may look whole; with a right checksum it is whole."""
    assert decode_named("pairs", b"a=1\n" * 3, whole_start=False)[1].rows == ["1", "1"]
    assert decode(b"1,2\n" * 3, whole_start=False)[1].rows == ["1,2"] * 2
