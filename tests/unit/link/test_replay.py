from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calib.errors import NoDataError, UsageError
from calib.link.replay import Replay
from calib.store.capture import read_capture
from calib.store.capture_writer import CaptureWriter, capture_path
from calib.store.rig import Rig, Time, load_rig
from calib.store.samples import EventKind


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    """A rig with a millisecond clock and one lever."""
    path = tmp_path / "rig.toml"
    path.write_text(
        '[time]\ncolumn = "t"\n[channels.lever]\nrole = "control"\ncolumn = "a"\nunit = "V"\n',
        encoding="utf-8",
    )
    return load_rig(path)


def log(tmp_path: Path, text: str) -> Path:
    """A text log."""
    path = tmp_path / "log.txt"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_foreign_log_goes_through_the_same_decoder_and_clock(tmp_path: Path, rig: Rig) -> None:
    """Comments, decimal commas and a gap in a log are what they are on a line."""
    rows = "".join(f"{1000 + 10 * n + (500 if n > 30 else 0)};{n},5\n" for n in range(60))
    replay = Replay(log(tmp_path, f"# a garage\nt;a\n{rows}"), rig)
    runs = list(replay.blocks())
    assert replay.columns == ("t", "a")
    assert np.concatenate([run.values for run in runs])[:, 1] == pytest.approx(np.arange(60) + 0.5)
    assert next(row for run in runs for row in run.rows) == "1000,0.5"
    assert [line.reason for run in runs for line in run.rejected] == ["comment line"]
    (gap,) = [event for run in runs for event in run.events]
    assert gap.kind is EventKind.GAP
    assert gap.duration_s == pytest.approx(0.51)
    times = np.concatenate([run.time_s for run in runs])
    assert np.concatenate([run.arrival_s for run in runs]).tolist() == times.tolist()


def test_a_capture_replays_as_it_was(tmp_path: Path, rig: Rig) -> None:
    """A capture of ours keeps both its times, and its rows."""
    first = Replay(log(tmp_path, "t,a\n" + "".join(f"{10 * n},{n}\n" for n in range(50))), rig)
    path = capture_path(tmp_path, "record", datetime(2026, 3, 1, tzinfo=UTC))
    with CaptureWriter(
        path, rig, first.columns, command="record", started=datetime(2026, 3, 1, tzinfo=UTC)
    ) as writer:
        for run in first.blocks():
            writer.append(run)
    again = Replay(path, rig)
    runs = list(again.blocks())
    assert again.columns == ("t", "a")
    assert [row for run in runs for row in run.rows] == [f"{10 * n},{n}" for n in range(50)]
    assert np.concatenate([run.time_s for run in runs]) == pytest.approx(np.arange(50) / 100)


@pytest.mark.parametrize("text", ["", "\n\n", "hello\nworld\n", "t,a\n"])
def test_a_log_without_a_sample_is_told(tmp_path: Path, rig: Rig, text: str) -> None:
    """An empty file and one in another layout end with what was seen."""
    with pytest.raises(NoDataError, match="holds no sample in this layout"):
        Replay(log(tmp_path, text), rig)


def test_a_missing_log_is_told(tmp_path: Path, rig: Rig) -> None:
    """The system's own word is given."""
    with pytest.raises(NoDataError, match="No such file"):
        Replay(tmp_path / "none.csv", rig)


def test_a_log_without_the_time_column_is_told(tmp_path: Path, rig: Rig) -> None:
    """A log whose header names no time column is not in the rig's layout."""
    with pytest.raises(UsageError, match="time column 't'"):
        Replay(log(tmp_path, "x,a\n1,2\n3,4\n"), rig)


def test_a_capture_without_a_clock_takes_its_rate_afterwards(tmp_path: Path, rig: Rig) -> None:
    """Its samples were only numbered; with a rate they are so many a second, and none is lost."""
    clockless = msgspec.structs.replace(rig, time=Time())
    first = Replay(log(tmp_path, "a,b\n" + "".join(f"{n},7\n" for n in range(50))), clockless)
    path = capture_path(tmp_path, "record", datetime(2026, 3, 1, tzinfo=UTC))
    with CaptureWriter(path, clockless, first.columns, command="record", started=None) as writer:
        for run in first.blocks():
            writer.append(run)
    assert not read_capture(path).has_clock
    runs = list(Replay(path, msgspec.structs.replace(rig, time=Time(rate_hz=20.0))).blocks())
    assert [row for run in runs for row in run.rows] == [f"{n},7" for n in range(50)]
    assert np.concatenate([run.time_s for run in runs]) == pytest.approx(np.arange(50) / 20.0)
    assert not [event for run in runs for event in run.events]
