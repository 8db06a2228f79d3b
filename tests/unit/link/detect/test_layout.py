from __future__ import annotations

import pytest

from calib.link.detect.layout import Heard, Stated, best_layout
from calib.link.layouts.lines import checksum
from calib.link.spool import Chunk

ROWS = tuple((20 * n, 512 + n % 3, 300.5) for n in range(40))


def _with_sum(line: str) -> str:
    return f"{line}*{checksum(line.lstrip('$').encode()):02X}"


def _heard(lines: list[str], stated: Stated | None = None) -> Heard | None:
    """What is found in lines that come in reads of 37 bytes, the first line cut."""
    data = "\r\n".join(["garb1e", *lines, ""]).encode()[3:]
    chunks = [Chunk(data[i : i + 37], i / 1e3) for i in range(0, len(data), 37)]
    return best_layout(chunks, stated or Stated(), whole_start=False)


def _delimited(separator: str, point: str = ".") -> list[str]:
    return [separator.join(f"{v:g}" for v in row).replace(".", point) for row in ROWS]


NMEA = [_with_sum(f"$IIXDR,A,{a},D,PTCH,A,{b},D,ROLL") for _, a, b in ROWS]
CASES = {
    "delimited": _delimited(","),
    "pairs": [f"t={t} a0={a} a1={b}" for t, a, b in ROWS],
    "json": [f'{{"t":{t},"a0":{a},"a1":{b}}}' for t, a, b in ROWS],
    "nmea": NMEA,
}


@pytest.mark.parametrize("layout", CASES)
def test_each_layout_is_told(layout: str) -> None:
    """The layout in which the lines were written is found, and every number of them."""
    heard = _heard(CASES[layout])
    assert heard is not None
    assert heard.link.layout == layout
    assert heard.samples == len(ROWS)
    assert heard.values[-1, -1] == ROWS[-1][-1]


@pytest.mark.parametrize("layout", ["delimited", "pairs", "json"])
def test_a_checksum_is_told(layout: str) -> None:
    """Lines that end in a checksum are found to do so."""
    heard = _heard([_with_sum(line) for line in CASES[layout]])
    assert heard is not None
    assert (heard.link.layout, heard.link.checksum) == (layout, "xor")


@pytest.mark.parametrize(
    ("separator", "word"), [(",", "comma"), (";", "semicolon"), ("\t", "tab"), (" ", "blank")]
)
def test_each_separator_is_told(separator: str, word: str) -> None:
    """The separator goes by the rig file's word."""
    heard = _heard(_delimited(separator))
    assert heard is not None
    assert heard.link.separator == word


@pytest.mark.parametrize("separator", [";", "\t", " "])
def test_a_decimal_comma_is_told(separator: str) -> None:
    """A comma inside the digits is a decimal mark where it does not separate."""
    heard = _heard(_delimited(separator, ","))
    assert heard is not None
    assert heard.link.decimal == "comma"
    assert heard.values[0, 2] == 300.5


def test_whole_numbers_have_no_decimal_mark() -> None:
    """What was not met is not said."""
    heard = _heard([f"{t},{a}" for t, a, _ in ROWS])
    assert heard is not None
    assert heard.link.decimal is None


@pytest.mark.parametrize("header", [True, False])
def test_a_header_is_told(header: bool) -> None:
    """Names come from a header line, and are none where none was sent."""
    heard = _heard([*(["t_ms,a0,a1"] if header else []), *_delimited(",")])
    assert heard is not None
    assert heard.link.header is header
    assert heard.names == (("t_ms", "a0", "a1") if header else None)


def test_what_is_stated_is_not_looked_for() -> None:
    """Pairs are not found where JSON was stated."""
    assert _heard(CASES["pairs"], Stated(layout="json")) is None
    assert _heard(CASES["pairs"], Stated(checksum="xor")) is None


@pytest.mark.parametrize("between", [" ", " -> "])
def test_the_name_of_a_single_value_behind_a_stamp_is_kept(between: str) -> None:
    """A label reads as a prefix too, but then nobody knows what the number is."""
    lines = [f"14:02:{n:02}.010{between}Throttle: 2.1{n % 10} V" for n in range(40)]
    heard = _heard(lines)
    assert heard is not None
    assert heard.names == ("stamp", "Throttle")
    assert heard.units == {1: "V"}


@pytest.mark.parametrize("between", [", ", ";", " | ", "\t", " "])
@pytest.mark.parametrize(
    ("first", "name"), [("{n}", "unnamed"), ("{n}.250", "unnamed"), ("14:02:{n:02}.010", "stamp")]
)
def test_a_time_without_a_name_may_stand_before_values_that_have_one(
    first: str, name: str, between: str
) -> None:
    """A count or a wall clock, then labels; whatever separates them."""
    lines = [
        between.join([first.format(n=n), f"Throttle: 2.1{n % 10} V", "Tilt: -1.2 deg"])
        for n in range(10, 50)
    ]
    heard = _heard(lines)
    assert heard is not None
    assert heard.names == (name, "Throttle", "Tilt")
    assert heard.rejected == 0


def test_words_are_no_layout() -> None:
    """Messages for people decode in nothing."""
    assert _heard(["starting up", "sensor ok, all good", "voltage is fine"] * 10) is None


def test_share_counts_what_was_lost() -> None:
    """One garbled line in four lowers the share to three quarters."""
    lines = [
        line for n, row in enumerate(_delimited(",")) for line in [row, *["?x?"] * (n % 3 == 0)]
    ]
    heard = _heard(lines)
    assert heard is not None
    assert heard.share == pytest.approx(40 / 54, abs=0.02)
