"""Lines, fields, counters and the queue of bytes at both sides of each limit."""

from __future__ import annotations

import io
import tempfile

import numpy as np
import pytest

from calib.link.clock import DeviceClock
from calib.link.layouts.cleaning import bare, read_field, split_fields, unwrapped
from calib.link.layouts.delimited import Delimited
from calib.link.layouts.lines import MAX_LINE, LineCutter
from calib.link.layouts.rows import NotARowError
from calib.link.ports import UsbIdentity
from calib.link.spool import TAKE_BYTES, Chunk, Spool
from calib.store.samples import EventKind


@pytest.mark.parametrize(
    ("text", "inner"),
    [
        (b"1,2,3;", b"1,2,3"),
        (b"1;2;3;", b"1;2;3;"),
        (b"1;2", b"1;2"),
        (b"1,2,3", b"1,2,3"),
        (b";", b";"),
    ],
)
def test_one_semicolon_behind_a_line_ends_it(text: bytes, inner: bytes) -> None:
    """One that stands elsewhere, or one of several, parts fields."""
    assert unwrapped(text, set()) == inner


@pytest.mark.parametrize(
    ("text", "separator", "fields", "remarked"),
    [
        (b'"1,5",2', b",", [b"1,5", b"2"], True),
        (b"1,5,2", b",", [b"1", b"5", b"2"], False),
        (b"1  5 2", b" ", [b"1", b"5", b"2"], False),
        (b'"1" 5', b" ", [b'"1"', b"5"], False),
    ],
)
def test_a_separator_inside_quotes_parts_nothing(
    text: bytes, separator: bytes, fields: list[bytes], remarked: bool
) -> None:
    """And only where there are quotes is that remarked upon; blanks know no quotes."""
    remarks: set[str] = set()
    assert split_fields(text, separator, remarks) == fields
    assert bool(remarks) is remarked


@pytest.mark.parametrize(
    ("text", "comma_parts", "number"),
    [(b"1,5", False, b"1.5"), (b"1,5", True, None), (b"1,234.5", False, None),
     (b"1,2,3", False, None), (b"1.5", True, b"1.5")],
)  # fmt: skip
def test_one_comma_is_a_decimal_mark_where_commas_part_nothing(
    text: bytes, comma_parts: bool, number: bytes | None
) -> None:
    """Not beside a point, and not one of two."""
    if number is None:
        with pytest.raises(NotARowError):
            read_field(text, comma_parts=comma_parts, remarks=set())
    else:
        assert read_field(text, comma_parts=comma_parts, remarks=set()).text == number


@pytest.mark.parametrize("line", [b">1.5,2,3", b"> 1.5,2,3", b"$1.5,2,3"])
def test_a_prompt_of_one_mark_is_taken_off(line: bytes) -> None:
    """With or without a blank behind it."""
    assert bare(line).text == b"1.5,2,3"


@pytest.mark.parametrize(("length", "kept"), [(4096, True), (4097, False), (9000, False)])
def test_a_line_of_four_kilobytes_is_the_longest(length: int, kept: bool) -> None:
    """Besides its end; the head of a longer one is told."""
    lines = LineCutter()
    whole = lines.feed(b"1" * length + b"\n") + lines.feed(b"2\n")
    assert whole == (b"1" * length + b"\n2\n" if kept else b"2\n")
    assert [len(each) for each in lines.long] == ([] if kept else [4096])
    assert MAX_LINE == 4096


@pytest.mark.parametrize("silent_s", [70.0, 100.0, 190.0, 200.0])
def test_turns_missed_are_those_that_arrival_leaves_over(silent_s: float) -> None:
    """A count of 16 bits in milliseconds turns in 65.5 s; what it shows itself is none missed."""
    raw = [float(10 * place) for place in range(20)]
    arrival_s = [0.01 * place for place in range(20)]
    later = (190.0 + 1000.0 * silent_s) % 65536.0
    clock = DeviceClock(1e-3, 65536)
    times_s = clock.advance(
        np.array([*raw, later, (later + 10.0) % 65536.0]),
        np.array([*arrival_s, 0.19 + silent_s, 0.2 + silent_s]),
    )
    assert times_s[-2] - times_s[-3] == pytest.approx(silent_s)
    assert [each.kind for each in clock.take_events(final=True)] == [EventKind.GAP]


@pytest.mark.parametrize(
    ("serial", "text"), [("A1", "2341:0043 A1"), (None, "2341:0043"), ("", "2341:0043")]
)
def test_a_device_is_named_by_its_numbers_and_its_serial_number(
    serial: str | None, text: str
) -> None:
    """Where it has one; the socket it is in is not its name."""
    assert UsbIdentity(0x2341, 0x0043, serial, "1-2").text == text


@pytest.mark.parametrize(("size", "chunks"), [(TAKE_BYTES, 1), (TAKE_BYTES - 1, 2)])
def test_a_take_ends_with_the_bytes_that_it_may_give(size: int, chunks: int) -> None:
    """What fills it is the last; what leaves room for a byte is not."""
    spool = Spool(memory_bytes=10 * TAKE_BYTES)
    for place in range(3):
        spool.put(Chunk(b"x" * size, float(place)))
    assert len(spool.take(0.0)) == chunks
    spool.close()


def test_memory_is_as_bounded_after_a_spill_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two chunks in memory and eight on disk, each time that the taker is behind by ten."""
    disk = io.BytesIO()
    monkeypatch.setattr(tempfile, "TemporaryFile", lambda **_: disk)
    spool = Spool(memory_bytes=250)
    spilled = []
    for _ in range(3):
        for place in range(10):
            spool.put(Chunk(b"x" * 100, float(place)))
        spilled.append(len(disk.getvalue()))
        count = 0
        while taken := spool.take(0.0):
            count += len(taken)
        assert count == 10
        assert len(disk.getvalue()) == 0
    assert spilled[0] > 800
    assert spilled == [spilled[0]] * 3


@pytest.mark.parametrize(
    ("header", "line", "row"),
    [
        (b"time,a,b", b"12:00:01,500,1,2", (43201.5, 1.0, 2.0)),
        (b"time,a,b,c", b"12:00:01,500,1,2", (43201.0, 500.0, 1.0, 2.0)),
        (b"time,a,b", b"12:00:01,7,2", (43201.0, 7.0, 2.0)),
    ],
)
def test_a_comma_parts_a_second_from_its_decimals_where_the_header_has_a_column_less(
    header: bytes, line: bytes, row: tuple[float, ...]
) -> None:
    """Else what stands behind the time of day is a column of its own."""
    decoder = Delimited(whole_start=True, xor=False)
    blocks = [decoder.feed(header + b"\n" + line + b"\n", 0.0), decoder.finish(1.0)]
    assert [number for block in blocks for number in block.numbers] == pytest.approx(row)
