"""Wall clocks, names and units: what a word of a line is, and what it is not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest

from calib.link.layouts.delimited import Delimited
from calib.link.layouts.dialect import (
    LONGEST_NAME,
    MAX_COLUMNS,
    is_name,
    is_units,
    read_header,
    separator_of,
)
from calib.link.layouts.stamps import stamp_s, stamp_text

SHORT = timezone(timedelta(hours=5, minutes=30))
NOON = datetime(2026, 11, 30, 12, 34, 56, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        (b"2026-11-30T12:34:56", NOON),
        (b"2026-11-30 12:34:56.25", NOON + 0.25),
        (b"2026/11/30_12:34:56,5", NOON + 0.5),
        (b"20261130 12:34:56", NOON),
        (b"20261130T123456Z", NOON),
        (b"20261130T123456.5+0530", NOON + 0.5 - 19_800.0),
        (b"2026-11-30T12:34:56+05:30", NOON - 19_800.0),
        (b"2026-11-30T12:34:56-0100", NOON + 3600.0),
        (b"2026-11-30T12:34:56 UTC", NOON),
        (b"2026-11-30T12:34", NOON - 56.0),
        (b"30.11.2026 12:34:56", NOON),
        (b"30.11.26, 12:34:56", NOON),
        (b"11/30/2026 12:34:56", 45_296.0),
        (b"30-Nov-2026 12:34:56", 45_296.0),
        (b"12:34:56", 45_296.0),
        (b"12:34:56.125", 45_296.125),
        (b"00:00:00", 0.0),
        (b"23:59:59", 86_399.0),
        (b"12:34:56 AM", 2096.0),
        (b"12:34:56 PM", 45_296.0),
        (b"1:00 pm", 46_800.0),
        (b"11:00 am", 39_600.0),
    ],
)
def test_stamps_in_seconds(text: bytes, seconds: float) -> None:
    """Since 1970 where a date is sure, else since midnight. Source: the standard library's own."""
    assert stamp_s(text) == seconds


@pytest.mark.parametrize(
    "text",
    [b"24:00:00", b"12:60:00", b"12:34", b"13:00 PM", b"0:30 AM", b"2026-13-01 00:00:00",
     b"2026-00-10 00:00:00", b"2026-01-00 00:00:00", b"2026-01-32 00:00:00", b"32.01.2026 00:00:00",
     b"12.34.56", b"2026-11-30", b"noon", b"", b"2026-11/30 12:34:56"],
)  # fmt: skip
def test_what_names_no_time_is_no_stamp(text: bytes) -> None:
    """No such hour, minute, month or day; hours and minutes alone; a date alone."""
    assert stamp_s(text) is None


@pytest.mark.parametrize(
    "moment",
    [
        datetime(2024, 2, 29, 23, 59, 59, tzinfo=UTC),
        datetime(2000, 12, 31, 0, 0, 1, tzinfo=UTC),
        datetime(2026, 1, 1, 4, 5, 6, tzinfo=SHORT),
    ],
)
def test_dates_agree_with_the_standard_library(moment: datetime) -> None:
    """Leap days, the last second of a year, and a zone that is half an hour off."""
    assert stamp_s(moment.isoformat().encode()) == moment.timestamp()


def test_seconds_are_kept_whole_or_to_the_microsecond() -> None:
    """As few characters as they need."""
    assert stamp_text(45_296.0) == b"45296"
    assert stamp_text(0.0) == b"0"
    assert stamp_text(45_296.125) == b"45296.125000"


@pytest.mark.parametrize(
    ("line", "separator", "units"),
    [
        (b"s,V,V", b",", True),
        (b"[ms];(mV);[deg/s]", b";", True),
        (b'"ms" , "count"', b",", True),
        (b"ms,", b",", True),
        (b"-,1", b",", True),
        (b"ms deg", b" ", True),
        (b"ms", b",", False),
        (b"ms,throttle", b",", False),
        (b"throttle,ms", b",", False),
        (b"bananas,apples", b",", False),
    ],
)
def test_a_line_of_units_names_one_below_each_column(
    line: bytes, separator: bytes, units: bool
) -> None:
    """Every field is a unit or empty, and there are two at least."""
    assert is_units(line, separator) is units


@pytest.mark.parametrize(
    ("name", "can"),
    [("a0", True), ("_x", True), ("\u00e9cart", True), ("a" * LONGEST_NAME, True),
     ("a" * (LONGEST_NAME + 1), False), ("", False), ("0a", False), ("-a", False),
     ("a\x1b[31m", False), ("a\ufffd", False)],
)  # fmt: skip
def test_a_name_begins_like_a_word_and_ends(name: str, can: bool) -> None:
    """It can be printed, and is no longer than anybody would read."""
    assert is_name(name) is can


@pytest.mark.parametrize(
    ("line", "separator"),
    [(b"1;2,5;3", b";"), (b"1\t2\t3", b"\t"), (b"1,2\t3", b"\t"), (b"1,2,3", b","),
     (b"1,5 2,25 3", b" "), (b"1, 2, 3", b","), (b"1,5", b","), (b"512", b","), (b"1 2", b" "),
     (b"+1,5 -2,5", b" "), (b"a,b c", b",")],
)  # fmt: skip
def test_the_separator_of_a_line(line: bytes, separator: bytes) -> None:
    """Blanks win over a comma where each part is a number with a decimal comma at most."""
    assert separator_of(line) == separator


@pytest.mark.parametrize(
    ("line", "names"),
    [
        (b"t,a0,a1", ("t", "a0", "a1")),
        (b"# t,a0", ("t", "a0")),
        (b"t,a0,", ("t", "a0")),
        (b",t,a0", ("c0", "t", "a0")),
        (b'"t","a, b"', ("t", "a, b")),
        (b"t,a0,a0", None),
        (b"t,,a0", None),
        (b"t,12", None),
        (b",".join(b"n%d" % place for place in range(MAX_COLUMNS)), "all"),
        (b",".join(b"n%d" % place for place in range(MAX_COLUMNS + 1)), None),
    ],
)
def test_what_reads_as_a_header(line: bytes, names: tuple[str, ...] | str | None) -> None:
    """Each field a name and none twice; one may be missing at the start, and one at the end."""
    header = read_header(line)
    if names == "all":
        names = tuple(f"n{place}" for place in range(MAX_COLUMNS))
    assert (None if header is None else header.names) == names


@pytest.mark.parametrize(
    ("header", "changed"),
    [
        (b"t,a0,b1,b2", True),
        (b"t,b0,b1,b2", False),
        (b"t,b0", True),
        (b"b,b0,b1,b2", False),
        (b"x,y,z", True),
    ],
)
def test_a_header_of_other_columns_is_known_by_half_of_them_or_by_its_width(
    header: bytes, changed: bool
) -> None:
    """Two known names of four, one of two; a line as wide as the samples that names as many.

    What comes after it is left out, for nobody knows what it is; behind another line it is not.
    """
    decoder = Delimited(whole_start=True)
    decoder.feed(b"t,a0,a1\n" + b"".join(b"%d,2,3\n" % place for place in range(6)), 0.0)
    decoder.feed(header + b"\n", 1.0)
    after = decoder.feed(b"7,2,3\n8,2,3\n", 2.0)
    last = decoder.finish(3.0)
    assert len(after.rows) + len(last.rows) == (0 if changed else 2)
