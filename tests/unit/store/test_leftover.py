from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import msgspec

from calib.store.capture import read_capture
from calib.store.leftover import left_over
from calib.store.records import load_records
from tests.unit.evidence import bench, pressed, travel, write_capture


def names(folder: Path) -> list[str]:
    """Names of captures that are left over."""
    return [each.path.name for each in left_over(folder, load_records(folder))]


def test_a_capture_whose_flow_broke_off_is_left_over(tmp_path: Path) -> None:
    """Nothing was judged after it, so it can be taken up again."""
    here = bench(tmp_path)
    path = write_capture(here, pressed(presses=1))
    assert names(tmp_path) == [path.name]


def test_a_record_after_it_settles_every_capture_of_the_flow(tmp_path: Path) -> None:
    """A flow of several captures names one of them; none of the others is left over."""
    here = bench(tmp_path)
    write_capture(here, pressed(presses=1))
    write_capture(here, pressed(presses=1))
    here.now += timedelta(seconds=30)
    here.keep(travel(), "grip")
    assert names(tmp_path) == []
    here.now += timedelta(seconds=30)
    later = write_capture(here, pressed(presses=1))
    assert names(tmp_path) == [later.name]


def test_a_plain_recording_is_no_flow(tmp_path: Path) -> None:
    """What was recorded to be kept did not break off."""
    here = bench(tmp_path)
    write_capture(here, pressed(presses=1), command="record")
    assert names(tmp_path) == []


def test_a_capture_without_metadata_is_left_alone(tmp_path: Path) -> None:
    """Nobody knows which flow it belonged to."""
    here = bench(tmp_path)
    path = write_capture(here, pressed(presses=1))
    path.with_name(path.name + "-metadata.json").write_text("{", encoding="utf-8")
    assert names(tmp_path) == []


def test_a_folder_that_comes_from_windows_is_no_flow_that_broke_off(tmp_path: Path) -> None:
    """A record names its capture in the way of the system that wrote it."""
    here = bench(tmp_path)
    path = write_capture(here, pressed(presses=1))
    ref = msgspec.structs.replace(
        read_capture(path).ref(), path="C:\\garage\\captures\\" + path.name
    )
    here.now -= timedelta(days=1)  # judged by a clock that was behind
    here.keep(msgspec.structs.replace(travel(), capture=ref), "grip")
    assert names(tmp_path) == []
