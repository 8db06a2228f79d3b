"""A log played back: what its columns, its times and its first and last lines are."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calib.errors import NoDataError, UsageError
from calib.link.replay import READ_BYTES, Replay, gets_a_rate
from calib.store.capture_writer import CaptureWriter
from calib.store.rig import Rig, Time
from calib.store.samples import EventKind, Samples
from tests.hands import VOLT_RIG, make_rig

BEGUN = datetime(2026, 3, 1, tzinfo=UTC)


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    """A rig whose clock counts milliseconds."""
    return make_rig(tmp_path, VOLT_RIG.replace('"a0"', '"a"') + '[time]\ncolumn = "t"\n')


def log(folder: Path, text: str) -> Path:
    """A text log."""
    path = folder / "log.txt"
    path.write_text(text, encoding="utf-8")
    return path


def played(path: Path, rig: Rig) -> Samples:
    """All runs of a log as one."""
    runs = list(Replay(path, rig).blocks())
    return Samples(
        time_s=np.concatenate([run.time_s for run in runs]),
        arrival_s=np.concatenate([run.arrival_s for run in runs]),
        values=np.concatenate([run.values for run in runs]),
        rows=[row for run in runs for row in run.rows],
        rejected=[line for run in runs for line in run.rejected],
        events=[event for run in runs for event in run.events],
    )


def test_the_first_line_of_a_log_is_whole_and_a_last_one_without_end_is_not(
    tmp_path: Path, rig: Rig
) -> None:
    """A file begins with a line, where a port that was just opened falls into one."""
    listed = msgspec.structs.replace(
        rig, link=msgspec.structs.replace(rig.link, columns=("t", "a"))
    )
    samples = played(log(tmp_path, "10,1\n20,2\n30,3\n40,4"), listed)
    assert samples.rows == ["10,1", "20,2", "30,3"]
    assert samples.time_s.tolist() == pytest.approx([0.0, 0.01, 0.02])
    assert [line.reason for line in samples.rejected] == ["part of a line"]


def test_columns_without_names_are_numbered_and_the_wall_clock_of_a_log_is_its_clock(
    tmp_path: Path,
) -> None:
    """Without a header and without a clock that is named."""
    rig = make_rig(tmp_path, VOLT_RIG.replace('"a0"', "1"))
    path = log(tmp_path, "1,12:00:01\n2,12:00:03\n3,12:00:04\n")
    assert Replay(path, rig).columns == ("c0", "c1")
    assert played(path, rig).time_s.tolist() == [0.0, 2.0, 3.0]
    assert played(log(tmp_path, "1,2\n3,4\n"), rig).time_s.tolist() == [0.0, 0.01]


def test_a_long_log_comes_in_runs_and_none_of_it_is_lost(tmp_path: Path, rig: Rig) -> None:
    """Of the bytes of one read each; what was unsure of its clock is told at the end."""
    count = READ_BYTES // 60
    noughts = "0" * 60
    path = log(tmp_path, "t,a\n" + "".join(f"{10 * n},1.{noughts}\n" for n in range(count)))
    runs = list(Replay(path, rig).blocks())
    assert len(runs) > 2
    assert [len(run) for run in runs][-1] == 0
    samples = played(path, rig)
    assert samples.values[:, 0].tolist() == (10.0 * np.arange(count)).tolist()
    assert samples.arrival_s.tolist() == samples.time_s.tolist()
    brief = played(log(tmp_path, "t,a\n0,1\n10,1\n20,1\n90,1\n100,1\n"), rig)
    (gap,) = brief.events
    assert gap.kind is EventKind.GAP
    assert gap.duration_s == pytest.approx(0.07)


def test_the_first_line_that_was_lost_is_shown_where_none_is_a_sample(
    tmp_path: Path, rig: Rig
) -> None:
    """With what of it cannot be read."""
    with pytest.raises(
        NoDataError, match=r"in this layout: '1\.\.2,3', where field 1, '1\.\.2', is no"
    ):
        Replay(log(tmp_path, "1..2,3\n4..5,6\n"), rig)


def written(folder: Path, source: Path, rig: Rig) -> Path:
    """The capture of a log."""
    line = Replay(source, rig)
    path = folder / "own.csv"
    with CaptureWriter(path, rig, line.columns, command="record", started=BEGUN) as writer:
        for run in line.blocks():
            writer.append(replace(run, arrival_s=2.0 * run.time_s + 0.5))
    return path


def test_a_capture_keeps_both_its_times_whatever_the_rig_file_says(
    tmp_path: Path, rig: Rig
) -> None:
    """Its own two columns are no columns of the logger; a rate changes nothing."""
    path = written(tmp_path, log(tmp_path, "t,a\n0,1.50\n10,2\n30,3\n"), rig)
    rated = msgspec.structs.replace(rig, time=Time(rate_hz=4.0))
    for each in (rig, rated):
        samples = played(path, each)
        assert samples.time_s.tolist() == pytest.approx([0.0, 0.01, 0.03])
        assert samples.arrival_s.tolist() == pytest.approx([0.5, 0.52, 0.56])
        assert samples.rows == ["0,1.50", "10,2", "30,3"]
        assert samples.values.tolist() == [[0.0, 1.5], [10.0, 2.0], [30.0, 3.0]]
        assert not gets_a_rate(path, each)


def test_only_a_capture_without_a_clock_is_given_a_rate(tmp_path: Path, rig: Rig) -> None:
    """By the rig file that states one."""
    clockless = msgspec.structs.replace(rig, time=Time())
    path = written(tmp_path, log(tmp_path, "b,a\n5,1\n5,2\n5,3\n"), clockless)
    rated = msgspec.structs.replace(rig, time=Time(rate_hz=4.0))
    assert gets_a_rate(path, rated)
    assert not gets_a_rate(path, clockless)
    samples = played(path, rated)
    assert samples.time_s.tolist() == samples.arrival_s.tolist() == [0.0, 0.25, 0.5]
    assert samples.rows == ["5,1", "5,2", "5,3"]
    assert samples.values.tolist() == [[5.0, 1.0], [5.0, 2.0], [5.0, 3.0]]
    assert played(path, clockless).time_s.tolist() == pytest.approx([0.0, 0.01, 0.02])


def test_a_log_must_have_the_clock_of_the_rig_file(tmp_path: Path, rig: Rig) -> None:
    """And as many columns as it lists."""
    with pytest.raises(UsageError, match="the time column 't' is not sent"):
        Replay(log(tmp_path, "x,a\n1,2\n"), rig)
    link = msgspec.structs.replace(rig.link, columns=("t", "a", "b"))
    with pytest.raises(UsageError, match=r"lists 3 columns in \[link\], and the logger sends 2"):
        Replay(log(tmp_path, "1,2\n3,4\n"), msgspec.structs.replace(rig, link=link))
