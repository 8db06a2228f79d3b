from __future__ import annotations

import re
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calib.cli.explain import page
from calib.link.layouts.choose import layout_for
from calib.link.layouts.lines import MAX_LINE, checksum
from calib.link.layouts.named import Named
from calib.link.layouts.rows import Block, Kind
from calib.store.rig import Link
from tests.blocks import values_of


def decode(
    layout: str, *chunks: bytes, whole_start: bool = True, **link: object
) -> tuple[Named, Block]:
    """Everything that a fresh decoder makes of the chunks, as one block."""
    decoder = layout_for(Link(layout=layout, **link), whole_start=whole_start)  # type: ignore[arg-type]
    assert isinstance(decoder, Named)
    blocks = [decoder.feed(chunk, 0.0) for chunk in chunks]
    blocks.append(decoder.finish(0.0))
    return decoder, Block(
        numbers=[row for block in blocks for row in block.numbers],
        rows=[row for block in blocks for row in block.rows],
        rejected=[line for block in blocks for line in block.rejected],
        arrival_s=0.0,
    )


def kinds(block: Block) -> list[Kind]:
    """Why each rejected line was rejected."""
    return [line.kind for line in block.rejected]


def sentence(body: bytes) -> bytes:
    """An NMEA sentence with its checksum."""
    return b"$%s*%02X\r\n" % (body, checksum(body))


@pytest.mark.parametrize(
    "line",
    [b"a0=512 a1=3.5", b"a0: 512, a1: 3.5", b"a0:512;a1:3,5", b"a0=512,a1=3,5",
     b" a0 = 512 a1=3.5 "],
)  # fmt: skip
def test_pairs_in_their_usual_forms(line: bytes) -> None:
    """Equals or colon; blanks, commas or semicolons between; point or comma for decimals."""
    decoder, block = decode("pairs", (line + b"\n") * 3)
    assert decoder.names == ("a0", "a1")
    assert block.numbers == [512, 3.5] * 3
    assert block.rejected == []


@pytest.mark.parametrize("line", [b"a0=512mV a1=3", b"a0=nan", b"a0=", b"=5", b"a0=1 garbage",
                                  b"a0=1 a0=2", b"a0=1e999 a1=1", b"9a=1 a1=2"])  # fmt: skip
def test_what_is_no_pair_is_rejected(line: bytes) -> None:
    """Another unit than before, a word, a doubled name: the line is no sample."""
    _, block = decode("pairs", b"a0=1 a1=2\n" * 2 + line + b"\n# note\n" + b"a0=3 a1=4\n")
    assert block.numbers == [1, 2, 1, 2, 3, 4]
    assert len(block.rejected) == 2


@pytest.mark.parametrize(
    "line",
    ["Throttle: 512 V, Tilt: 3.5 deg", "Throttle = 512 V; Tilt = 3,5 deg",
     "I (12) adc: Throttle: 512, Tilt: 3.5", "\x1b[0mThrottle:512 V Tilt:3.5°",
     "[Throttle: 512] [Tilt: 3.5]", "Throttle=512 | Tilt=3.5", "adc: Throttle: 512 Tilt: 3.5",
     '{"Throttle":512,"Tilt":3.5}', "INFO Throttle: 512V Tilt: 3.5 deg"],
)  # fmt: skip
def test_labels_with_blanks_units_and_prefixes(line: str) -> None:
    """What people print for themselves has the same names and numbers."""
    decoder, block = decode("pairs", (line + "\n").encode() * 3)
    assert (decoder.names or ())[:2] == ("Throttle", "Tilt")
    assert values_of(block)[:, :2].tolist() == [[512, 3.5]] * 3
    assert block.rejected == []


def test_units_behind_numbers_are_kept_for_setup() -> None:
    """The unit of each name is known, and a switch's words are numbers."""
    decoder, block = decode("pairs", b"Gas pedal: 2.13 V, Brake: off, t=12:00:01.5\n" * 2)
    assert decoder.names == ("Gas pedal", "Brake", "t")
    assert decoder.units == {0: "V"}
    assert decoder.stamped == {2}
    assert block.rows[0] == "2.13,0,43201.500000"


@pytest.mark.parametrize(
    ("line", "row"),
    [(b'{"a": null, "b": 1}', ",1"), (b'{"a": NaN, "b": 1}', ",1"),
     (b'{"a": "2", "b": "on"}', "2,1"), (b'x> {"a": 5, "b": 6}', "5,6")],
)  # fmt: skip
def test_json_as_it_is_found(line: bytes, row: str) -> None:
    """Missing values, numbers and states in quotes, a prompt before the braces."""
    assert decode("json", b'{"a":1,"b":2}\n' * 2 + line + b"\n")[1].rows == ["1,2", "1,2", row]


def test_values_that_take_turns_make_one_sample_a_round() -> None:
    """One pair a line, line after line: a sample is whole when each name has come once."""
    _, block = decode("pairs", b"a0=1\na1=2\na0=3\na1=4\na0=5\na0=6\na1=7\n")
    assert block.numbers == [1, 2, 3, 4, 6, 7]
    assert kinds(block) == [Kind.COLUMNS]


def test_pairs_in_another_order_are_set_in_order() -> None:
    """Names decide, not places."""
    assert decode("pairs", b"a=1 b=2\nb=4 a=3\n")[1].numbers == [1, 2, 3, 4]


def test_json_lines_are_flattened_and_keep_their_digits() -> None:
    """Objects in objects get a dotted name, booleans are 0 and 1, words are left out."""
    line = b'{"t": 10, "id": "mule", "acc": {"x": -1.50, "y": 0}, "brake": true, "v": [1, 2]}\n'
    decoder, block = decode("json", line * 2)
    assert decoder.names == ("t", "acc.x", "acc.y", "brake", "v.0", "v.1")
    assert block.rows == ["10,-1.50,0,1,1,2"] * 2
    assert decode("json", b"[1,2]\n[3,4]\n")[1].numbers == [1, 2, 3, 4]


@pytest.mark.parametrize(
    "line",
    [b"[" * 3000, b'{"a":' * 500, b'{"a": null, "b": null}', b'{"a": NaN}', b'{"a": 1e999}',
     b'{"a": 1', b"5", b'"x"', b"null", b'{"=cmd()": 1}', b'{"a\\u001b[31m": 1}', b'{"\xff": 1}',
     b'{"a": {"a": {"a": {"a": {"a": 1}}}}}', b'{"a": ' + b"9" * 2000 + b"}", b"{}", b"[]"],
)  # fmt: skip
def test_hostile_json_is_rejected(line: bytes) -> None:
    """Depth, size, nothing but null, names that are formulas or escapes: no sample, no crash."""
    _, block = decode("json", b'{"a":1,"b":2}\n' * 2 + line + b'\n{"a":3,"b":4}\n')
    assert block.numbers == [1, 2, 1, 2, 3, 4]
    assert len(block.rejected) == 1


def test_transducer_sentences() -> None:
    """Groups of four by name; other sentences are no samples but no garbage; bad sums are."""
    xdr = sentence(b"IIXDR,A,-1.5,D,PTCH,A,0.25,D,ROLL,U,4.98,V,")
    other = sentence(b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,")
    decoder, block = decode("nmea", xdr + other + xdr + xdr.replace(b"1.5", b"1.6"))
    assert decoder.names == ("PTCH", "ROLL", "U2")
    assert block.numbers == [-1.5, 0.25, 4.98] * 2
    assert kinds(block) == [Kind.OTHER, Kind.CHECKSUM]


def test_a_transducer_without_a_value_is_rejected() -> None:
    """An empty measurement means that the transducer failed."""
    good = sentence(b"IIXDR,A,1,D,PTCH")
    _, block = decode("nmea", good * 2 + sentence(b"IIXDR,A,,D,PTCH") + sentence(b"IIXDR,A,1,D"))
    assert len(block.rows) == 2
    assert kinds(block) == [Kind.TEXT, Kind.COLUMNS]


DIRT = st.sampled_from(
    [b"a=1 b=2\n", b"a=1\n", b"b=2\r\n", b'{"a":1,"b":2}\n', b'{"a":[1,2]}\n', b"[1,2]\n", b"\x00",
     sentence(b"IIXDR,A,1,D,P"), sentence(b"IIXDR,A,1,D,P,A,2,D,R"), b"{", b"}", b"[", b":", b"=",
     b"9" * 400, b"*47\n", b"\n", b"\r", b'"', b"a" * MAX_LINE, b"1e400", b"null", b"\xff"]
)  # fmt: skip
STREAM = st.lists(DIRT | st.binary(max_size=5), max_size=30).map(b"".join)


@given(
    STREAM,
    st.lists(st.integers(0, 300), max_size=8),
    st.sampled_from(["pairs", "json", "nmea"]),
    st.booleans(),
)
@settings(max_examples=300, deadline=None)
def test_any_split_of_the_bytes_gives_the_same_samples(
    stream: bytes, cuts: list[int], layout: str, whole_start: bool
) -> None:
    """Where the reads fall changes nothing."""
    edges = [0, *sorted(min(cut, len(stream)) for cut in cuts), len(stream)]
    pieces = [stream[a:b] for a, b in pairwise(edges)]
    one, whole = decode(layout, stream, whole_start=whole_start)
    many, parts = decode(layout, *pieces, whole_start=whole_start)
    assert (parts.numbers, parts.rows) == (whole.numbers, whole.rows)
    assert sorted(kinds(parts)) == sorted(kinds(whole))
    assert one.names == many.names


def test_the_sentence_of_the_page_is_right() -> None:
    """The transducer sentence that `calib explain formats` shows is decoded, checksum and all."""
    shown = re.search(r"\$IIXDR[^`]*", page("formats"))
    assert shown is not None
    assert decode("nmea", shown[0].encode() + b"\n")[1].numbers == [1.5]


def test_a_wall_clock_that_comes_late_is_known_when_it_comes() -> None:
    """A network's or a satellite's time is empty at first; who reads a log asks before its end."""
    decoder = layout_for(Link(layout="json"), whole_start=True)
    decoder.feed(b'{"time":null,"a":1}\n{"time":null,"a":2}\n', 0.0)
    assert decoder.stamped == frozenset()
    decoder.feed(b'{"time":"12:00:01","a":3}\n', 0.1)
    assert decoder.stamped == {0}
