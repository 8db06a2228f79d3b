"""How long a line that gives nothing usable is borne, and in which words it is given up."""

from __future__ import annotations

import pytest

import calib.link.health
from calib.errors import PortError
from calib.link.health import Health, unprintable
from calib.link.layouts.rows import Block, Kind, Rejected


def lines(samples: int, *lost: Kind) -> Block:
    """So many samples, and lines that were rejected for these reasons."""
    rejected = [Rejected(kind, f"line {place}".encode(), 0) for place, kind in enumerate(lost)]
    return Block([], ["1"] * samples, rejected, 0.0)


def problem(health: Health, now_s: float) -> str:
    """Why the line is given up; empty where it is not."""
    try:
        health.judge(now_s)
    except PortError as error:
        return f"{error.what} {error.hint}"
    return ""


@pytest.mark.parametrize("begun_s", [0.0, 100.0])
def test_five_seconds_without_a_sample_end_a_line(begun_s: float) -> None:
    """From its begin, and from each sample on; the rate in use is told."""
    health = Health("loop://", 9600, begun_s)
    assert problem(health, begun_s + 4.99) == ""
    assert problem(health, begun_s + 5.0).startswith("Port loop://: silent for 5 s at 9600 baud.")
    health.saw(b"1\n", lines(1), begun_s + 4.0)
    assert problem(health, begun_s + 8.99) == ""
    health.saw(b"hm\n", lines(0, Kind.TEXT), begun_s + 8.995)
    assert "no sample in 5 s, though text comes" in problem(health, begun_s + 9.0)
    health.restart(begun_s + 20.0)
    assert problem(health, begun_s + 24.99) == ""
    assert "silent for 5 s" in problem(health, begun_s + 25.0)


def test_text_without_a_sample_is_shown_by_its_last_line() -> None:
    """What a sound logger sends beside its samples is not shown as lost."""
    health = Health("loop://", 9600, 0.0)
    health.saw(b"hello\n" * 3, lines(0, Kind.TEXT, Kind.COLUMNS, Kind.HEADER), 1.0)
    health.saw(b"# note\n", lines(0, Kind.COMMENT, Kind.OTHER), 2.0)
    text = problem(health, 5.0)
    assert "no sample in 5 s, though text comes; the last line was: line 1." in text
    assert "'calib setup' finds it" in text
    halves = Health("loop://", 9600, 0.0)
    halves.saw(b"no end", lines(0), 1.0)
    assert "though text comes. The layout" in problem(halves, 5.0)


@pytest.mark.parametrize(("odd", "garbled"), [(15, False), (16, True)])
def test_of_a_hundred_bytes_sixteen_that_no_text_has_are_a_wrong_rate(
    odd: int, garbled: bool
) -> None:
    """Fifteen are text in another layout."""
    health = Health("loop://", 9600, 0.0)
    health.saw(b"\x80" * odd + b"a" * (60 - odd), lines(0, Kind.TEXT), 1.0)
    health.saw(b"b" * 40, lines(0, Kind.TEXT), 2.0)
    text = problem(health, 5.0)
    assert (f"mostly garbage at 9600 baud, {odd} of 100 bytes unprintable" in text) is garbled
    assert ("though text comes" in text) is not garbled
    assert unprintable(b"a1,\r\n\t~ \x00\x7f\x80\xff") == 4


def test_mostly_garbage_is_told_at_the_end_of_each_five_seconds() -> None:
    """Not before, though samples come all the while; the share of lost lines is one stretch's."""
    health = Health("loop://", 9600, 0.0)
    for second in range(1, 5):
        health.saw(b"\x80" * 50, lines(1, *[Kind.TEXT] * 4), float(second))
        assert problem(health, float(second)) == ""
    assert problem(health, 4.99) == ""
    assert "mostly garbage" in problem(health, 5.0)
    mended = Health("loop://", 9600, 0.0)
    mended.saw(b"1\n" * 50, lines(50), 4.9)
    assert problem(mended, 5.0) == ""
    mended.saw(b"\x80" * 50, lines(1, *[Kind.TEXT] * 4), 9.8)
    assert problem(mended, 9.9) == ""
    assert "mostly garbage" in problem(mended, 10.0)


@pytest.mark.parametrize(("lost", "told"), [(0, False), (1, True)])
def test_another_program_is_looked_for_where_lines_were_lost(
    lost: int, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One lost line is enough; a line without loss is not looked into."""
    other = PortError("Port x: another program reads it too.", "")
    monkeypatch.setattr(calib.link.health, "shared_port_error", lambda _: other)
    health = Health("loop://", 9600, 0.0)
    health.saw(b"1\n" * 50, lines(50, *[Kind.TEXT] * lost), 4.9)
    assert ("another program" in problem(health, 5.0)) is told


def test_a_line_that_has_just_gone_silent_is_quiet_for_as_long_as_is_waited() -> None:
    """Not one that never gave a sample, nor one whose bytes go on without any."""
    health = Health("loop://", 9600, 0.0)
    assert not health.is_quiet(0.1, 60.0)
    health.saw(b"1\n", lines(1), 2.0)
    assert health.is_quiet(61.9, 60.0)
    assert not health.is_quiet(62.0, 60.0)
    health.restart(3.0)
    assert not health.is_quiet(3.1, 60.0)


@pytest.mark.parametrize(("more", "quiet"), [(63, True), (64, False)])
def test_part_of_a_line_may_be_left_of_one_that_was_cut(more: int, quiet: bool) -> None:
    """Less than 64 bytes since the last sample, in however many reads."""
    health = Health("loop://", 9600, 0.0)
    health.saw(b"x" * 500, lines(0), 0.5)
    health.saw(b"1\n", lines(1), 1.0)
    health.saw(b"x" * 30, lines(0), 1.1)
    health.saw(b"x" * (more - 30), lines(0), 1.2)
    assert health.is_quiet(2.0, 60.0) is quiet
    health.saw(b"1\n", lines(1), 3.0)
    assert health.is_quiet(4.0, 60.0)


def test_a_line_that_was_waited_for_in_vain_is_silent_and_no_text_of_another_layout() -> None:
    """However much came before its last sample: the advice is to look at the logger's power."""
    health = Health("loop://", 9600, 0.0)
    health.saw(b"0,0\n1,2\n", lines(2, Kind.PARTIAL), 0.1)
    assert health.is_quiet(20.0, 30.0)
    assert problem(health, 30.1).startswith("Port loop://: silent for 5 s at 9600 baud.")


@pytest.mark.parametrize(
    ("rest", "lost", "silent"),
    [
        (b"12,3", (), True),
        (b"9" * 63, (), True),
        (b"9" * 64, (), False),
        (b"hm\n", (Kind.TEXT,), False),
    ],
)
def test_the_rest_of_a_line_that_was_cut_is_no_text(
    rest: bytes, lost: tuple[Kind, ...], silent: bool
) -> None:
    """A cable that comes off in the middle of a line: power and plug, and not another layout."""
    health = Health("loop://", 9600, 0.0)
    health.saw(b"1,2\n", lines(1), 4.0)
    health.saw(rest, lines(0, *lost), 4.1)
    assert problem(health, 5.0) == ""
    told = problem(health, 9.1)
    assert ("silent for 5 s" in told) is silent
    assert ("though text comes" in told) is not silent
