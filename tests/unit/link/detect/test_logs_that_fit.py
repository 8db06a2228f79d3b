"""Which layout a log is read in, and from which share of its lines on it fits one."""

from __future__ import annotations

from pathlib import Path

import pytest

from calib.errors import NoDataError
from calib.link.detect.layout import Heard, Stated, best_layout, decode, likeliest, read_log
from calib.link.layouts.lines import checksum
from calib.link.spool import Chunk
from calib.store.rig import Link


def log(folder: Path, data: bytes) -> Heard:
    """What is read from a log with these bytes."""
    path = folder / "log.txt"
    path.write_bytes(data)
    return read_log(path, Stated())


@pytest.mark.parametrize(("lost", "fits"), [(4, True), (5, False)])
def test_half_of_the_lines_must_be_understood(tmp_path: Path, lost: int, fits: bool) -> None:
    """Of a log, and of what comes on a line."""
    data = b"1,512\n" * 4 + b"?!\n" * lost
    chunks = [Chunk(data, 0.0)]
    found = best_layout(chunks, Stated(), whole_start=True)
    assert (found is not None) is fits
    share = likeliest(chunks, Stated(), whole_start=True).share
    assert share == pytest.approx(4 / (4 + lost))
    if fits:
        assert log(tmp_path, data).share == share
    else:
        with pytest.raises(
            NoDataError, match=r"No layout fits .*where field 1, '\?!', is no number"
        ):
            log(tmp_path, data)


@pytest.mark.parametrize(("samples", "fits"), [(1, False), (2, True)])
def test_a_log_has_two_samples(tmp_path: Path, samples: int, fits: bool) -> None:
    """One may be a line of anything; the last one counts though its end is missing."""
    data = b"t,a0\n" + b"\n".join([b"1,512"] * samples)
    if fits:
        heard = log(tmp_path, data)
        assert (heard.samples, heard.names, heard.lines) == (2, ("t", "a0"), 3)
    else:
        with pytest.raises(NoDataError, match="No layout fits"):
            log(tmp_path, data)


def test_what_holds_no_sample_has_no_columns_and_no_share() -> None:
    """Nothing at all, and words."""
    for chunks in ([], [Chunk(b"hello\n", 0.0)]):
        heard = decode(Link(), chunks, whole_start=True)
        assert heard.values.shape == (0, 0)
        assert (heard.samples, heard.share) == (0, 0.0)
        assert heard.lines == len(chunks)


def test_a_log_is_told_by_its_first_lines_and_read_in_that_layout_to_its_end(
    tmp_path: Path,
) -> None:
    """By 32 kB: what comes behind them in another layout is lost, and counted so."""
    head = b"".join(b"t=%d %s=512\n" % (number, b"a" * 80) for number in range(400))
    assert len(head) > 2**15
    heard = log(tmp_path, head + b"1,2,3\n" * 100)
    assert heard.link.layout == "pairs"
    assert (heard.samples, heard.rejected, heard.lines) == (400, 100, 500)
    assert heard.first_lost == b"1,2,3"
    assert heard.values[-1].tolist() == [399.0, 512.0]


def test_of_a_log_four_megabytes_are_looked_at(tmp_path: Path) -> None:
    """What they cut off is not counted, nor what comes behind it."""
    notes = (b"#" + b"x" * 4000 + b"\n") * 1048
    rest = 4 * 1024 * 1024 - len(notes) - 5 * 6
    data = b"1,512\n" * 4 + notes + b"#" * (rest - 1) + b"\n" + b"2,512\n"
    assert len(data) == 4 * 1024 * 1024
    assert log(tmp_path, data + b"3,512\n" * 9).values[:, 0].tolist() == [1.0] * 4 + [2.0]


def test_a_part_of_a_line_and_what_does_no_harm_are_not_lost() -> None:
    """Comments, a header and a first line that was cut; blank lines are none."""
    data = b"5,6\n# note\nt,a0\n\n1,2\n3,4\n?!\n5"
    heard = decode(Link(), [Chunk(data, 7.0)], whole_start=False)
    assert (heard.lines, heard.rejected, heard.first_lost) == (7, 1, b"?!")
    assert heard.share == pytest.approx(6 / 7)
    assert heard.arrival_s.tolist() == [7.0, 7.0]
    assert heard.link.header is True


def test_what_waits_for_a_second_line_has_the_time_of_the_last_read() -> None:
    """It came with the last read, and no second line did."""
    heard = decode(Link(), [Chunk(b"1,", 3.0), Chunk(b"2\n", 4.0)], whole_start=True)
    assert heard.arrival_s.tolist() == [4.0]
    assert heard.values.tolist() == [[1.0, 2.0]]


@pytest.mark.parametrize(
    ("line", "layout"),
    [(b"Throttle: 2.5 V", "pairs"), (b"2.5 V", "delimited"), (b'{"a": 1, "b": 2}', "json"),
     (b"a: 1", "pairs"), (b"1;2", "delimited")],
)  # fmt: skip
def test_of_layouts_that_fit_as_well_the_one_that_keeps_names_is_taken(
    line: bytes, layout: str
) -> None:
    """And the one that has to take least off the lines."""
    found = best_layout([Chunk((line + b"\n") * 9, 0.0)], Stated(), whole_start=True)
    assert found is not None
    assert (found.link.layout, found.share) == (layout, 1.0)


@pytest.mark.parametrize(("stated", "fits"), [(None, True), ("xor", True), ("none", False)])
def test_a_checksum_that_is_said_not_to_be_there_is_not_looked_for(
    stated: str | None, fits: bool
) -> None:
    """Its star then stands in the last number's way."""
    line = b"a0=1,a1=512"
    data = (line + b"*%02X\n" % checksum(line)) * 9
    found = best_layout([Chunk(data, 0.0)], Stated(checksum=stated), whole_start=True)  # type: ignore[arg-type]
    assert (found is not None and found.samples == 9) is fits


@pytest.mark.parametrize(
    ("stated", "row"),
    [(Stated(separator="semicolon"), [1.5, 2.0]), (Stated(separator="comma"), None),
     (Stated(layout="delimited", decimal="comma"), [1.5, 2.0]),
     (Stated(layout="delimited", decimal="point"), None)],
)  # fmt: skip
def test_a_dialect_that_is_stated_is_kept_to(stated: Stated, row: list[float] | None) -> None:
    """Though another would fit."""
    found = best_layout([Chunk(b"1,5;2\n" * 9, 0.0)], stated, whole_start=True)
    assert (None if found is None else found.values[0].tolist()) == row
