from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from calib.errors import NoDataError
from calib.store.capture import is_capture, read_capture
from calib.store.capture_writer import CaptureWriter, capture_path, rejected_path
from calib.store.files import metadata_path
from calib.store.rig import Rig, load_rig
from calib.store.samples import Event, EventKind, RejectedLine, Samples

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    """A rig with one lever in volts on the second column."""
    path = tmp_path / "rig.toml"
    path.write_text(
        '[channels.lever]\nrole = "control"\ncolumn = "a1"\nunit = "V"\n', encoding="utf-8"
    )
    return load_rig(path)


def run(start: int, count: int, **more: object) -> Samples:
    """``count`` samples of two columns at 100 Hz."""
    index = np.arange(start, start + count, dtype=np.float64)
    values = np.column_stack([index, index / 8])
    return Samples(
        time_s=index / 100,
        arrival_s=index / 100 + 0.5,
        values=values,
        rows=[f"{a:g},{b:g}" for a, b in values],
        **more,  # type: ignore[arg-type]
    )


def record(path: Path, rig: Rig, *runs: Samples) -> Path:
    """A closed capture of ``runs``."""
    with CaptureWriter(path, rig, ["a0", "a1"], command="record", started=NOON) as writer:
        for samples in runs:
            writer.append(samples)
    return path


def test_a_capture_reads_back_as_it_was_received(tmp_path: Path, rig: Rig) -> None:
    """Numbers, times, counts and hash survive the disk."""
    path = record(capture_path(tmp_path, "record", NOON), rig, run(0, 5), run(5, 3))
    capture = read_capture(path)
    assert path.name == "20260301T120000Z-record.csv"
    assert capture.columns == ("a0", "a1")
    assert capture.values["a1"].tolist() == (np.arange(8) / 8).tolist()
    assert capture.rate_hz == pytest.approx(100)
    assert capture.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert capture.noted_sha256 == capture.sha256


def test_the_metadata_names_units_and_hash(tmp_path: Path, rig: Rig) -> None:
    """The file beside the CSV follows CSV on the Web: a table schema with units, and the hash."""
    path = record(tmp_path / "captures" / "a.csv", rig, run(0, 4))
    metadata = json.loads(metadata_path(path).read_text(encoding="utf-8"))
    columns = {entry["name"]: entry for entry in metadata["tableSchema"]["columns"]}
    assert metadata["@context"] == "http://www.w3.org/ns/csvw"
    assert columns["a1"]["calib:unit"] == "V"
    assert metadata["calib:sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert metadata["dc:created"] == "2026-03-01T12:00:00+00:00"


def test_a_capture_cut_off_in_mid_line_is_read_to_its_last_whole_line(
    tmp_path: Path, rig: Rig
) -> None:
    """What was written before the power went is evidence; half a line is not."""
    writer = CaptureWriter(tmp_path / "cut.csv", rig, ["a0", "a1"], command="x", started=NOON)
    writer.append(run(0, 6))
    with writer.path.open("ab") as file:
        file.write(b"0.060000,0.560000,6,0.")
    capture = read_capture(writer.path)
    assert len(capture) == 6
    assert capture.noted_sha256 is None
    writer.close()


def test_rejected_lines_are_kept_but_escaped(tmp_path: Path, rig: Rig) -> None:
    """A device cannot put escape sequences into a file that a person will open."""
    bad = RejectedLine(raw=b"\x1b]0;hello\x07,1", reason="not a number in field 1")
    path = record(tmp_path / "a.csv", rig, run(0, 2, rejected=[bad]))
    kept = rejected_path(path).read_text(encoding="utf-8")
    assert "\x1b" not in kept
    assert r"\x1b]0;hello\x07,1" in kept
    assert read_capture(path).rejected_lines == 1


def test_gaps_are_told_from_the_times(tmp_path: Path, rig: Rig) -> None:
    """What is missing shows in all times together, whatever was noted while they came."""
    noted = Event(kind=EventKind.GAP, time_s=0.02, text="a burst", duration_s=0.02)
    path = record(tmp_path / "a.csv", rig, run(0, 30, events=[noted]), run(80, 30))
    (gap,) = read_capture(path).events
    assert (gap.kind, gap.text) == (EventKind.GAP, "0.510 s without a sample")
    assert gap.time_s == pytest.approx(0.29)
    assert read_capture(path).gap_indices == [30]


def test_an_even_time_is_laid_through_bursts_and_notes_keep_their_place(
    tmp_path: Path, rig: Rig
) -> None:
    """Stamps in bursts of five read back evenly, and a restart stays between its two samples."""
    even = run(0, 300)
    burst = np.repeat(even.time_s[4::5], 5)
    reset = Event(kind=EventKind.RESET, time_s=float(burst[149]), text="it started again")
    path = record(tmp_path / "a.csv", rig, replace(even, time_s=burst, events=[reset]))
    capture = read_capture(path)
    assert capture.pace.laid
    assert np.diff(capture.time_s) == pytest.approx(np.full(299, 0.01), abs=1e-6)
    assert capture.gap_count == 0
    assert capture.gap_indices == [150]


def test_a_missing_field_is_missing_in_that_column_only(tmp_path: Path, rig: Rig) -> None:
    """An empty field reads back as NaN; rows are left out only for whoever needs that column."""
    rows = [f"{n}," if n in (3, 4, 5) else f"{n},{n / 8:g}" for n in range(20)]
    capture = read_capture(record(tmp_path / "a.csv", rig, replace(run(0, 20), rows=rows)))
    assert capture.values["a0"].tolist() == list(range(20))
    assert capture.where_present(["a0"]) is capture
    there = capture.where_present(["a1"])
    assert there.values["a0"].tolist() == [0, 1, 2, *range(6, 20)]
    assert np.isfinite(there.values["a1"]).all()
    assert there.gap_indices == [3]
    with pytest.raises(NoDataError, match="no line has a number in a1"):
        read_capture(
            record(tmp_path / "b.csv", rig, replace(run(0, 3), rows=["1,", "2,", "3,"]))
        ).where_present([1])


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "not a capture"),
        (b"a,b\n1,2\n", "not a capture"),
        (b"time_s,arrival_s,a0\r\n", "no sample"),
        (b"time_s,arrival_s,a0\r\n0,0,\x00\r\n", "damaged"),
        (b"time_s,arrival_s,a0\r\n0,0,1,2\r\n", "damaged"),
    ],
)
def test_what_is_no_capture_is_refused_in_one_line(
    tmp_path: Path, content: bytes, says: str
) -> None:
    """Never a traceback, always a next step."""
    path = tmp_path / "x.csv"
    path.write_bytes(content)
    with pytest.raises(NoDataError, match=says):
        read_capture(path)
    assert not is_capture(tmp_path / "missing.csv")
