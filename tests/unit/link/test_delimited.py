from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from calib.link.layouts.cleaning import (
    BRACKETS,
    COLOURS,
    MISSING,
    PREFIX,
    QUOTES,
    REORDERED,
    SWITCHED,
    UNITS,
    WALL_CLOCK,
    WORDS,
)
from calib.link.layouts.delimited import Delimited
from calib.link.layouts.lines import MAX_LINE, checksum, verified
from calib.link.layouts.rows import (
    HEAD_BYTES,
    LARGEST,
    Block,
    Kind,
    NotARowError,
    parse_row,
    read_rows,
)
from tests.blocks import values_of


def joined(blocks: list[Block]) -> Block:
    """Blocks as one."""
    return Block(
        numbers=[row for block in blocks for row in block.numbers],
        rows=[row for block in blocks for row in block.rows],
        rejected=[line for block in blocks for line in block.rejected],
        arrival_s=blocks[-1].arrival_s,
        remarks=[remark for block in blocks for remark in block.remarks],
    )


def decode(*chunks: bytes, whole_start: bool = True, xor: bool = False) -> tuple[Delimited, Block]:
    """Everything that a fresh decoder makes of the chunks, as one block."""
    decoder = Delimited(whole_start=whole_start, xor=xor)
    blocks = [decoder.feed(chunk, float(place)) for place, chunk in enumerate(chunks)]
    blocks.append(decoder.finish(float(len(chunks))))
    return decoder, joined(blocks)


def kinds(block: Block) -> list[Kind]:
    """Why each rejected line was rejected."""
    return [line.kind for line in block.rejected]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        (b"1,2,3\n4,5,6\n", [[1, 2, 3], [4, 5, 6]]),
        (b"1;2,5;3\r\n4;5,25;6\r\n", [[1, 2.5, 3], [4, 5.25, 6]]),
        (b"1;2.5;3\r4;5.25;6\r", [[1, 2.5, 3], [4, 5.25, 6]]),
        (b"1\t2\t3\n4\t5\t6\n", [[1, 2, 3], [4, 5, 6]]),
        (b"  1  2   3\n4 5   6 \n", [[1, 2, 3], [4, 5, 6]]),
        (b"1,5 2,25 3\n4,5 5 6\n", [[1.5, 2.25, 3], [4.5, 5, 6]]),
        (b"1, 2, 3\n4, 5, 6\n", [[1, 2, 3], [4, 5, 6]]),
        (b"1,2,3,\n4,5,6,\n", [[1, 2, 3], [4, 5, 6]]),
        (b"512\n513\n", [[512], [513]]),
        (b"+1,-2.50,.5\n007,5.,1e-3\n", [[1, -2.5, 0.5], [7, 5, 0.001]]),
    ],
)
def test_separators_line_ends_and_decimal_marks_are_found(
    text: bytes, values: list[list[float]]
) -> None:
    """Comma, semicolon, tab or blanks; CR, LF, CR LF; point, or comma where it does not part."""
    _, block = decode(text)
    assert values_of(block).tolist() == values
    assert block.rejected == []
    assert all(row.count(",") == len(values[0]) - 1 for row in block.rows)


def test_a_header_names_the_columns_and_is_no_sample() -> None:
    """A header line gives names; the numbers after it are believed at once."""
    decoder, block = decode(b"t_ms,a0,a1\n1,2,3\n")
    assert decoder.names == ("t_ms", "a0", "a1")
    assert values_of(block).tolist() == [[1, 2, 3]]
    assert kinds(block) == [Kind.HEADER]


def test_the_row_keeps_the_fields_as_received() -> None:
    """Digits are kept as sent, trailing noughts too; only blanks and decimal commas go."""
    assert decode(b"1.500, 2\n3, 4.00\n")[1].rows == ["1.500,2", "3,4.00"]
    assert decode(b"1,50;2\n3;4,00\n")[1].rows == ["1.50,2", "3,4.00"]


def test_what_a_garage_adds_is_rejected_and_named() -> None:
    """Half a first line, a banner, a comment, garbage and a lost field are no samples."""
    decoder, block = decode(
        b"3,300,400\nlogger 2, ready!\nt_ms,a0,a1\n1,2,3\n",
        b"# range 5 V\n\x00\xff\x1b[31m\n4,5\n6,7,8\n",
        whole_start=False,
    )
    assert values_of(block).tolist() == [[1, 2, 3], [6, 7, 8]]
    assert kinds(block) == [
        Kind.PARTIAL, Kind.TEXT, Kind.HEADER, Kind.COMMENT, Kind.TEXT, Kind.COLUMNS,
    ]  # fmt: skip
    assert decoder.names == ("t_ms", "a0", "a1")


def test_a_first_line_from_an_opened_port_is_not_believed() -> None:
    """Half a line may have as many fields as a whole one: 234,5 may have been 1234,5."""
    _, block = decode(b"234,5\n1235,6\n1236,7\n", whole_start=False)
    assert values_of(block).tolist() == [[1235, 6], [1236, 7]]
    assert kinds(block) == [Kind.PARTIAL]


def test_a_last_line_without_its_end_is_not_believed() -> None:
    """512 may have been cut to 51."""
    _, block = decode(b"1,2\n3,4\n5,51")
    assert values_of(block).tolist() == [[1, 2], [3, 4]]
    assert kinds(block) == [Kind.PARTIAL]


@pytest.mark.parametrize(
    "field",
    [b"1_0", b"0x", "\u0663".encode(), b"1e400", b"9" * 400, b"word",
     b"1e30", b"-1e30", b".", b"1.2.3", b"1 2", b"=1+1", b"1\x00", b"1\x0b", b"12q"],
)  # fmt: skip
def test_what_is_no_number_is_rejected(field: bytes) -> None:
    """Python's float takes more than a logger means: 1_0, other scripts' digits."""
    _, block = decode(b"1,2\n3,4\n", field + b",5\n", b"6,7\n")
    assert values_of(block).tolist() == [[1, 2], [3, 4], [6, 7]]
    assert len(block.rejected) == 1


def test_both_marks_are_refused() -> None:
    """1.234,5 could be a grouped thousand: nobody can say, so it is no sample."""
    _, block = decode(b"1,5;2\n3,5;4\n1.234,5;6\n1.234;6\n")
    assert values_of(block).tolist() == [[1.5, 2], [3.5, 4]]
    assert kinds(block) == [Kind.TEXT, Kind.TEXT]


def test_a_line_without_end_is_cut_and_memory_is_bounded() -> None:
    """A line over the bound is one rejected line, however it was cut up; what follows counts."""
    endless = b"7" * (5 * MAX_LINE)
    decoder = Delimited(whole_start=True)
    decoder.feed(b"1,2\n3,4\n", 0.0)
    pieces = [endless[i : i + 700] for i in range(0, len(endless), 700)] + [b"\n5,6\n"]
    block = joined([decoder.feed(piece, 1.0) for piece in pieces])
    assert kinds(block) == [Kind.LONG]
    assert len(block.rejected[0].text) == HEAD_BYTES
    assert values_of(block).tolist() == [[5, 6]]
    assert kinds(decode(b"1,2\n3,4\n" + endless + b"\n5,6\n")[1]) == [Kind.LONG]


def test_columns_that_change_are_rejected() -> None:
    """Once settled, the width stays; a lone odd line before that is not taken for the width."""
    _, block = decode(b"5\n1,2\n3,4\n1,2,3\n5,6\n")
    assert values_of(block).tolist() == [[1, 2], [3, 4], [5, 6]]
    assert kinds(block) == [Kind.COLUMNS, Kind.COLUMNS]


def test_a_bad_checksum_is_rejected() -> None:
    """With the checksum declared, a line counts only if its sum is right; a banner has none."""
    good = b"1,512"
    line = good + b"*%02X\n" % checksum(good)
    _, block = decode(b"boot\n" + line + line + b"1,513*00\n" + line.lower(), xor=True)
    assert block.rows == ["1,512"] * 3
    assert kinds(block) == [Kind.CHECKSUM, Kind.CHECKSUM]


def test_the_checksum_agrees_with_a_published_sentence() -> None:
    """Source: a GGA sentence with checksum 47, printed in many receiver manuals (from memory)."""
    sentence = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"
    assert verified(sentence) == sentence[:-3]
    assert verified(sentence[:-1] + b"8") is None


@pytest.mark.parametrize(
    "field", [b"", b"nan", b"NaN", b"inf", b"-Infinity", b"null", b"-", b"--", b"N/A", b'""']
)
def test_a_missing_field_is_missing_in_its_column_only(field: bytes) -> None:
    """The other fields of its row count; its own is NaN, and empty in the text that is kept."""
    _, block = decode(b"1,2\n3,4\n", field + b",5\n", b"6,7\n")
    assert block.rows == ["1,2", "3,4", ",5", "6,7"]
    assert np.isnan(values_of(block)[2, 0])
    assert values_of(block)[2, 1] == 5
    assert MISSING in block.remarks


def test_a_missing_last_field_is_no_ending_separator() -> None:
    """What a header, or the lines before, count as a column is one, even where it is empty."""
    assert decode(b"t,a,b\n1,2,\n3,,5\n")[1].rows == ["1,2,", "3,,5"]
    decoder, block = decode(b"t,a,b,\n1,2,3,\n4,5,6,\n")
    assert decoder.names == ("t", "a", "b")
    assert block.rows == ["1,2,3", "4,5,6"]


CLEANED = [
    (b"\x1b[32m1.5,2\x1b[0m", ["1.5,2"], COLOURS),
    (b"I (1234) adc: 1.5,2", ["1.5,2,1234"], PREFIX),
    (b"[  12.345678] adc: 1.5, 2", ["12.345678,1.5,2"], PREFIX),
    (b"[INFO] adc: 1.5 2", ["1.5,2"], PREFIX),
    (b"INFO:root:1.5;2", ["1.5,2"], PREFIX),
    (b"> 1.5,2", ["1.5,2"], PREFIX),
    (b"(1.5, 2)", ["1.5,2"], BRACKETS),
    (b"[1.5][2]", ["1.5,2"], BRACKETS),
    (b"<1.5;2>", ["1.5,2"], BRACKETS),
    (b"| 1.5 | 2 |", ["1.5,2"], BRACKETS),
    (b"14:02:11.010 | 1.5 | 2", ["50531.010000,1.5,2"], WALL_CLOCK),
    (b'"1.5","2"', ["1.5,2"], QUOTES),
    (b'"1,5";"2"', ["1.5,2"], QUOTES),
    (b"1.5 V, -2 deg", ["1.5,-2"], UNITS),
    (b"1,5 V 2,25 V", ["1.5,2.25"], UNITS),
    ("1.5 V\t20 °C".encode(), ["1.5,20"], UNITS),
    (b"1.5\t20 \xb0C", ["1.5,20"], UNITS),
    (b"14:02:11.010 -> 1.5,2", ["50531.010000,1.5,2"], WALL_CLOCK),
    (b"I (14:02:11.010) adc: 1.5,2", ["50531.010000,1.5,2"], WALL_CLOCK),
    (b"[2024-05-01 14:02:11] 1.5 2", ["1714572131,1.5,2"], WALL_CLOCK),
    (b"2024-05-01T14:02:11.5+02:00,1.5", ["1714564931.500000,1.5"], WALL_CLOCK),
    (b"14:02:11,010;1,5", ["50531.010000,1.5"], WALL_CLOCK),
    (b"1,HIGH,off,True", ["1,1,0,1"], SWITCHED),
    (b"left,1,2", [",1,2"], WORDS),
]


@pytest.mark.parametrize(("line", "rows", "remark"), CLEANED)
def test_what_stands_around_numbers_is_taken_off_and_said(
    line: bytes, rows: list[str], remark: str
) -> None:
    """Colours, prefixes, brackets, quotes, units, wall clocks and words of a switch."""
    _, block = decode((line + b"\n") * 3)
    assert block.rows == rows * 3
    assert block.rejected == []
    assert remark in block.remarks


@pytest.mark.parametrize(
    "stream",
    [b"Starting up\nRate 100\nChannels 2\n1,2\n3,4\n", b"1,2\n3,4\nERROR 5,6\nfault,6\n",
     b"ready 1\n1,2\n3,4\nT1 is 5\n"],
)  # fmt: skip
def test_talk_is_no_sample(stream: bytes) -> None:
    """A message with a number in it is none, before the samples and between them."""
    rows = decode(stream)[1].rows
    assert [row for row in rows if row in ("1,2", "3,4")] == ["1,2", "3,4"]
    assert set(rows) <= {"1,2", "3,4", "5,6"}


@pytest.mark.parametrize(
    ("stream", "names"),
    [
        ("t (ms),Gas [°C],Bremse\n1,2,3\n".encode("latin-1"), ("t (ms)", "Gas [°C]", "Bremse")),
        ("t,a\n1,2\n3,4\n".encode("utf-16"), ("t", "a")),
        ("t,a\n1,2\n3,4\n".encode("utf-16-be"), ("t", "a")),
        ("t,a\n1,2\n3,4\n".encode("utf-8-sig"), ("t", "a")),
        (b"14:02:10.990 -> t,a\n14:02:11.010 -> 1,2\n", ("stamp", "t", "a")),
        (b"date time a\n2024-05-01 14:02:11 2\n", ("date time", "a")),
        (b"time a b\n14:02:11,010 2,5 3\n", ("time", "a", "b")),
        (b"time,a\n14:02:11,010,2\n", ("time", "a")),
        (b"I (10) x: t,a\nI (20) x: 1,2\n", ("t", "a", "log_ms")),
        (b"t,a\ns,V\n1,2\n", ("t", "a")),
        (b",t,a\n0,1,2\n", ("c0", "t", "a")),
        (b"t | a | b\n0 | 1 | 2\n", ("t", "a", "b")),
        (b'"t, ms","a"\n1,2\n', ("t, ms", "a")),
    ],
)
def test_names_are_found_however_the_header_is_dressed(
    stream: bytes, names: tuple[str, ...]
) -> None:
    """Encodings, prefixes, quotes, units below, another separator: the names are the header's."""
    decoder, block = decode(stream)
    assert decoder.names == names
    assert len(block.rows) >= 1


def test_a_column_of_words_may_hold_anything() -> None:
    """Labels that begin with a digit, or are a number, refuse no row of a column of words."""
    _, block = decode(b"part,a\nWU,1\n1R,2\n3,3\n,4\nCD,5\n")
    assert block.rows == [",1", ",2", "3,3", ",4", ",5"]


def test_the_columns_of_a_wall_clock_are_known() -> None:
    """So that nobody needs to say that a clock in words is one."""
    assert decode(b"a,time,b\n1,14:02:11.5,2\n3,14:02:12.5,4\n")[0].stamped == {1}
    assert decode(b"1,2\n3,4\n")[0].stamped == frozenset()


def test_a_second_header_is_followed_or_ends_the_capture() -> None:
    """The same names are a restart, in another order they are followed, others end it."""
    decoder, block = decode(b"t,a,b\n1,2,3\nt,a,b\n3,4,5\nb,t,a\n6,7,8\nt,a,b\n9,9,8\n")
    assert block.rows == ["1,2,3", "3,4,5", "7,8,6", "9,9,8"]
    assert decoder.names == ("t", "a", "b")
    assert REORDERED in block.remarks
    _, block = decode(b"t,a,b\n1,2,3\nt,a,c\n3,4,5\n")
    assert kinds(block) == [Kind.HEADER, Kind.CHANGED, Kind.CHANGED]
    assert block.rows == ["1,2,3"]
    assert len(decode(b"t,a,b\n1,2,3\nt,a,b,c\n3,4,5\n")[1].rows) == 1


def test_lost_bytes_do_not_join_two_halves() -> None:
    """After a loss, what is held and what comes before the next line end make no line."""
    decoder = Delimited(whole_start=True)
    decoder.feed(b"1,2\n3,4\n5,", 0.0)
    decoder.resync()
    block = decoder.feed(b"0,9\n7,8\n", 1.0)
    assert values_of(block).tolist() == [[7, 8]]
    assert kinds(block) == [Kind.PARTIAL]


DIRT = st.sampled_from(
    [b"\n", b"\r", b"\r\n", b",", b";", b"\t", b" ", b".", b"-", b"+", b"e", b"1", b"23", b"4.5",
     b"1,2\n", b"1,2\n", b"3,4\r\n", b"1;2,5\n", b"a,b\n", b"# x\n", b"\x00", b"\xff", b"nan",
     b"[", b"]", b"{", b'"', b"_", b"12:00:01.5", b" V", b"\x1b[0m", b"on", b"b,a\n", b"->",
     b"9" * 40, b"],[", b"0" * (MAX_LINE - 3), b"1e40,2\n"]
)  # fmt: skip
STREAM = st.lists(DIRT | st.binary(max_size=6), max_size=40).map(b"".join)


def as_lists(block: Block) -> tuple[list[str], list[list[float]], list[tuple[Kind, bytes]]]:
    """A block without its arrival times, comparable; lines without end are counted apart."""
    lines: list[tuple[Kind, bytes]] = [
        (line.kind, line.text) for line in block.rejected if line.kind is not Kind.LONG
    ]
    numbers: list[list[float]] = np.nan_to_num(values_of(block), nan=-1e33).tolist()
    return block.rows, numbers, lines


@given(STREAM, st.lists(st.integers(0, 400), max_size=12), st.booleans(), st.booleans())
@example(b"1,2\r\n3,4\r\n", [4], True, False)
@settings(max_examples=300, deadline=None)
def test_any_split_of_the_bytes_gives_the_same_samples(
    stream: bytes, cuts: list[int], whole_start: bool, xor: bool
) -> None:
    """Where the reads fall changes nothing: not a sample, not a rejected line."""
    edges = [0, *sorted(min(cut, len(stream)) for cut in cuts), len(stream)]
    pieces = [stream[a:b] for a, b in itertools.pairwise(edges)]
    one, whole = decode(stream, whole_start=whole_start, xor=xor)
    many, parts = decode(*pieces, whole_start=whole_start, xor=xor)
    assert as_lists(parts) == as_lists(whole)
    assert kinds(parts).count(Kind.LONG) == kinds(whole).count(Kind.LONG)
    assert (one.names, one.width) == (many.names, many.width)
    empty = [field == "" for row in whole.rows for field in row.split(",")]
    assert np.isnan(values_of(whole)).ravel().tolist() == empty
    assert (np.abs(values_of(whole)[np.isfinite(values_of(whole))]) < LARGEST).all()


@pytest.mark.parametrize("apart", [True, False])
def test_no_row_follows_a_header_of_other_columns(*, apart: bool) -> None:
    """Whether its rows come in the same read or in the next: they would have the wrong names."""
    reads = [b"a,b\n1,2\n3,4\n", b"c,d\n", b"5,6\n7,8\n"]
    _, block = decode(*(reads if apart else [b"".join(reads)]))
    assert block.rows == ["1,2", "3,4"]
    assert kinds(block).count(Kind.CHANGED) == 3


class LineByLine(Delimited):
    """The same decoder with its fast way shut."""

    def _read_all(self, lines: bytes, block: Block) -> bool:  # noqa: ARG002
        return False


@given(STREAM)
@settings(max_examples=300, deadline=None)
def test_the_fast_way_and_the_rule_accept_the_same(stream: bytes) -> None:
    """Many lines at once give what each line on its own gives."""
    fast, slow = Delimited(whole_start=True), LineByLine(whole_start=True)
    for chunk in (b"1,2\n3,4\n", stream, b"\n5,6\n"):
        assert as_lists(fast.feed(chunk, 0.0)) == as_lists(slow.feed(chunk, 0.0))


@given(st.lists(st.text("0123456789.-, ", max_size=24), min_size=1, max_size=40))
@settings(max_examples=600, deadline=None)
def test_the_fast_reader_never_differs_from_the_rule(lines: list[str]) -> None:
    """Where the fast reader answers, each of its rows is what the rule says, bit for bit."""
    raw = [line.encode() for line in lines]
    width = raw[0].count(b",") + 1
    answer = read_rows(b"\n".join(raw) + b"\n", width)
    if answer is not None:
        assert answer == [number for line in raw for number in parse_row(line.split(b","))]


@given(st.lists(st.floats(-1e29, 1e29), min_size=1, max_size=8))
def test_every_double_is_read_back_exactly(numbers: list[float]) -> None:
    """Printed in full and read again, no bit is lost, in either way of reading."""
    text = ",".join(f"{number:.17f}" for number in numbers).encode()
    printed = [float(field) for field in text.split(b",")]
    answer = read_rows(text + b"\n", len(numbers))
    assert answer is not None
    assert answer == printed
    assert list(parse_row(text.split(b","))) == printed


def test_the_rule_says_what_it_met() -> None:
    """Size is told apart from text."""
    with pytest.raises(NotARowError, match=Kind.SIZE):
        parse_row([b"1e300"])
    with pytest.raises(NotARowError, match=Kind.TEXT):
        parse_row([b"nan"])
