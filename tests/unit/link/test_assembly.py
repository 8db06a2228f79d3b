"""What becomes of decoded lines: their columns, their times, and what is told of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from calib.errors import UsageError
from calib.link.assembly import Assembler, column_names
from calib.link.layouts.rows import Block, Kind, Rejected
from calib.store.rig import Rig
from calib.store.samples import EventKind
from tests.hands import VOLT_RIG, make_rig

NOWHERE = frozenset[int]()


def rig_with(folder: Path, time: str = "", link: str = "") -> Rig:
    """A rig with one lever, and what is said of its clock and line."""
    return make_rig(folder, VOLT_RIG + f"[time]\n{time}\n[link]\n{link}\n")


def block(
    *rows: Sequence[float],
    arrival_s: float = 0.0,
    rejected: Sequence[Rejected] = (),
    remarks: Sequence[str] = (),
) -> Block:
    """So many lines that came in one read."""
    return Block(
        [number for row in rows for number in row],
        [",".join(f"{number:g}" for number in row) for row in rows],
        list(rejected),
        arrival_s,
        list(remarks),
    )


def test_columns_are_called_as_listed_else_as_in_the_header_else_by_number(tmp_path: Path) -> None:
    """A list of another length than the lines is refused."""
    listed = rig_with(tmp_path, link='columns = ["x", "y"]')
    assert column_names(("a", "b"), 2, listed) == ("x", "y")
    with pytest.raises(UsageError, match=r"lists 2 columns in \[link\], and the logger sends 3"):
        column_names(("a", "b", "c"), 3, listed)
    assert column_names(("a", "b"), 2, rig_with(tmp_path)) == ("a", "b")
    assert column_names(None, 3, rig_with(tmp_path)) == ("c0", "c1", "c2")


@pytest.mark.parametrize(
    ("time", "stamped", "live", "times_s"),
    [
        ('column = "t"\nunit = "ms"', NOWHERE, True, [0.0, 0.25, 0.5]),
        ('column = 1\nunit = "us"', NOWHERE, True, [0.0, 0.002, 0.003]),
        ('column = "t"\nunit = "ms"\nwrap = 700', NOWHERE, True, [0.0, 0.25, 0.5]),
        ('column = "d"\nunit = "text"', frozenset({1}), True, [0.0, 2000.0, 3000.0]),
        ("rate_hz = 4.0", NOWHERE, True, [0.0, 0.25, 0.5]),
        ("rate_hz = 4.0", frozenset({0, 1}), False, [0.0, 0.25, 0.5]),
        ("", NOWHERE, True, [0.0, 0.125, 0.375]),
        ("", frozenset({1}), True, [0.0, 0.125, 0.375]),
        ("", NOWHERE, False, [0.0, 0.01, 0.02]),
        ("", frozenset({1, 0}), False, [0.0, 250.0, 500.0]),
        ("", frozenset({1}), False, [0.0, 2000.0, 3000.0]),
    ],
)
def test_the_clock_that_is_named_or_else_the_first_that_there_is(
    tmp_path: Path,
    time: str,
    stamped: frozenset[int],
    live: bool,
    times_s: list[float],
) -> None:
    """A column in its unit, a stated rate; else arrival where lines came just now.

    Of a file the first wall clock serves, and without one the samples are only numbered.
    """
    clock = Assembler(rig_with(tmp_path, time), ("t", "d", "a0"), stamped=stamped, live=live)
    rows = [(0.0, 1000.0, 1.0), (250.0, 3000.0, 2.0), (500.0, 4000.0, 3.0)]
    reads_s = (7.0, 7.125, 7.375)
    samples = clock.take([block(row, arrival_s=at) for row, at in zip(rows, reads_s, strict=True)])
    assert samples.time_s.tolist() == pytest.approx(times_s)
    assert samples.values.tolist() == [list(row) for row in rows]


def test_a_line_is_live_where_nothing_else_is_said(tmp_path: Path) -> None:
    """So that arrival serves as its clock, and nobody says that there was none."""
    line = Assembler(rig_with(tmp_path), ("a0",), stamped=NOWHERE)
    samples = line.take([block((1.0,), arrival_s=3.0), block((2.0,), arrival_s=3.25)])
    assert samples.time_s.tolist() == [0.0, 0.25]
    assert samples.events == []


def test_a_clock_that_is_not_there_is_told(tmp_path: Path) -> None:
    """A column that the logger does not send, and one that holds no wall clock."""
    with pytest.raises(UsageError, match="the time column 't' is not sent by the logger; it sends"):
        Assembler(rig_with(tmp_path, 'column = "t"'), ("x", "a0"), stamped=NOWHERE)
    words = rig_with(tmp_path, 'column = "x"\nunit = "text"')
    with pytest.raises(UsageError, match="the time column 'x' holds no wall clock"):
        Assembler(words, ("x", "a0"), stamped=frozenset({1}))
    assert len(Assembler(words, ("x", "a0"), stamped=frozenset({0})).take([])) == 0


def test_arrival_counts_from_the_start_of_the_capture(tmp_path: Path) -> None:
    """A second capture counts both times from its own start."""
    line = Assembler(rig_with(tmp_path), ("a0",), stamped=NOWHERE)
    assert line.take([block((1.0,), arrival_s=0.5)]).arrival_s.tolist() == [0.5]
    line.restart(10.0)
    again = line.take([block((1.0,), arrival_s=10.25), block((2.0,), arrival_s=10.5)])
    assert again.arrival_s.tolist() == [0.25, 0.5]
    assert again.time_s.tolist() == [0.0, 0.25]


def header(after: int) -> Rejected:
    """The header line, after so many samples of its read."""
    return Rejected(Kind.HEADER, b"t,a0", after)


def test_a_header_after_samples_is_a_new_start_and_the_first_one_is_none(tmp_path: Path) -> None:
    """It has the time of the sample before it, whatever read that came in."""
    line = Assembler(rig_with(tmp_path, 'column = "t"\nunit = "s"'), ("t", "a0"), stamped=NOWHERE)
    first = line.take([block((5.0, 1.0), (6.0, 1.0), rejected=[header(0)])])
    assert first.events == []
    assert first.rejected == []
    text = Rejected(Kind.TEXT, b"boot", 1)
    later = line.take(
        [
            block((7.0, 1.0), rejected=[header(0)]),
            block((8.0, 1.0), (9.0, 1.0), rejected=[text, header(1)]),
        ]
    )
    assert [(each.kind, each.time_s) for each in later.events] == [
        (EventKind.BANNER, 1.0),
        (EventKind.BANNER, 3.0),
    ]
    assert [(each.raw, each.reason) for each in later.rejected] == [
        (b"boot", "not numbers in this layout")
    ]
    line.restart(0.0)
    assert line.take([block((5.0, 1.0), rejected=[header(0)])]).events == []
    assert [each.kind for each in line.take([block(rejected=[header(0)])]).events] == [
        EventKind.BANNER
    ]


def test_a_header_of_other_columns_is_told_once_a_capture(tmp_path: Path) -> None:
    """By the first line behind which everything is left out, at the last sample's time."""
    line = Assembler(rig_with(tmp_path, 'column = "t"\nunit = "s"'), ("t", "a0"), stamped=NOWHERE)
    other = [Rejected(Kind.CHANGED, b"t,b0", 2), Rejected(Kind.CHANGED, b"9,9", 2)]
    (cut,) = line.take([block((5.0, 1.0), (7.0, 1.0), rejected=other)]).events
    assert (cut.kind, cut.time_s) == (EventKind.CUT, 2.0)
    assert cut.text == "its header changed to t,b0; what came after is left out."
    assert line.take([block(rejected=other)]).events == []
    line.restart(0.0)
    assert [each.kind for each in line.take([block(rejected=other)]).events] == [EventKind.CUT]


def test_what_was_cleaned_is_told_in_order_and_each_once(tmp_path: Path) -> None:
    """At the time of the last sample so far."""
    line = Assembler(rig_with(tmp_path, 'column = "t"\nunit = "s"'), ("t", "a0"), stamped=NOWHERE)
    reads = [block((5.0, 1.0), remarks=["b", "a"]), block((6.5, 1.0), remarks=["b"])]
    assert [(each.kind, each.time_s, each.text) for each in line.take(reads).events] == [
        (EventKind.CLEANED, 1.5, "a"),
        (EventKind.CLEANED, 1.5, "b"),
    ]


def test_a_break_of_the_line_stands_at_the_last_sample(tmp_path: Path) -> None:
    """At nought where none came before; the new stretch is joined by arrival, and told once."""
    line = Assembler(rig_with(tmp_path, 'column = "t"\nunit = "s"'), ("t", "a0"), stamped=NOWHERE)
    line.interrupt("away", 0.5)
    (event,) = line.take([]).events
    assert (event.kind, event.time_s, event.duration_s) == (EventKind.REPLUG, 0.0, 0.5)
    line.take([block((5.0, 1.0), arrival_s=2.0), block((6.0, 1.0), arrival_s=3.0)])
    line.interrupt("away again", 4.0)
    back = line.take([block((0.5, 1.0), arrival_s=7.0)])
    (event,) = back.events
    assert (event.time_s, event.duration_s, event.text) == (1.0, 4.0, "away again")
    assert back.time_s == pytest.approx(np.array([5.0]))
    assert line.take([], final=True).events == []


@pytest.mark.parametrize("live", [True, False])
def test_a_clock_in_words_goes_on_past_midnight(tmp_path: Path, live: bool) -> None:
    """Of a line and of a file, where the rig file names it and where it does not."""
    time = 'column = "t"\nunit = "text"' if live else ""
    line = Assembler(rig_with(tmp_path, time), ("t",), stamped=frozenset({0}), live=live)
    samples = line.take([block((86_399.0,), (1.0,))])
    assert samples.time_s.tolist() == [0.0, 2.0]
