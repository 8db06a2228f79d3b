"""Zones, daylight saving and midnight, by a clock that the test sets."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.fake_clock import FakeClock
from tests.tilt_evening import judged
from tests.tilt_files import ACCEL, HEAD, PITCH, TILT

EUROPE = "CET-1CEST,M3.5.0,M10.5.0/3"
PACIFIC = "NZST-12NZDT,M9.5.0,M4.1.0/3"
ISLANDS = "<-0930>9:30"
FALL_BACK = datetime(2026, 10, 25, 0, 50, tzinfo=UTC)  # 02:50 in Europe, and an hour later again
NEW_YEAR = datetime(2026, 12, 31, 23, 50, tzinfo=UTC)
SPRING_ON = datetime(2026, 3, 29, 0, 50, tzinfo=UTC)  # 01:50, then 03:00


@pytest.fixture
def clock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[FakeClock]:
    """A folder with a rig file, and a clock in Europe."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rig.toml").write_text(HEAD + ACCEL + PITCH + TILT, encoding="utf-8")
    found = FakeClock(monkeypatch, FALL_BACK)
    found.live_in(EUROPE)
    yield found
    monkeypatch.delenv("TZ")
    time.tzset()


def level(capsys: pytest.CaptureFixture[str], shown: str = "0.1") -> None:
    """Keep a typed level zero."""
    judged(capsys, "level", "--shown-level", shown, "--shown-turned", f"-{shown}")


def age_h(capsys: pytest.CaptureFixture[str]) -> float:
    """How old the gate says that the zero is."""
    document = judged(capsys, "trust")[1]
    found = next(each for each in document["evidence"] if each["name"] == "zero")
    assert isinstance(found["age_h"], float)
    return found["age_h"]


@pytest.mark.parametrize("moment", [FALL_BACK, SPRING_ON, NEW_YEAR])
def test_an_age_is_counted_in_time_that_passed(
    clock: FakeClock, capsys: pytest.CaptureFixture[str], moment: datetime
) -> None:
    """Not in what a clock on the wall shows: an hour that comes twice, or never, or a new year."""
    clock.at = moment
    level(capsys)
    clock.pass_by(hours=2)
    assert age_h(capsys) == pytest.approx(2.0, abs=0.01)


def test_order_and_names_stay_right_where_an_hour_comes_twice(
    clock: FakeClock, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """02:50 in summer time, then 02:20 in winter time: the later one is the later one."""
    level(capsys, "0.1")
    clock.pass_by(minutes=30)
    level(capsys, "0.2")
    names = sorted(path.name for path in (tmp_path / "records").glob("*-level.json"))
    assert names == ["20261025T005000Z-level.json", "20261025T012000Z-level.json"]
    stamps = [json.loads((tmp_path / "records" / name).read_text())["judged_at"] for name in names]
    assert stamps == ["2026-10-25T02:50:00.000+02:00", "2026-10-25T02:20:00.000+01:00"]
    history = judged(capsys, "history")[1]
    assert [entry["made_at"][11:16] for entry in history["records"]] == ["02:50", "02:20"]


@pytest.mark.parametrize("zone", [PACIFIC, ISLANDS])
def test_a_journey_to_another_zone_changes_no_age_and_no_order(
    clock: FakeClock, capsys: pytest.CaptureFixture[str], zone: str
) -> None:
    """A laptop that is carried round the world: a local date may go back by a day."""
    level(capsys)
    clock.live_in(zone)
    clock.pass_by(hours=5)
    assert age_h(capsys) == pytest.approx(5.0, abs=0.01)
    level(capsys, "0.2")
    document = judged(capsys, "history")[1]
    made = [datetime.fromisoformat(entry["made_at"]) for entry in document["records"]]
    assert made == sorted(made)


def test_thirty_days_are_thirty_times_a_day(
    clock: FakeClock, capsys: pytest.CaptureFixture[str]
) -> None:
    """Through a change of the clocks too: stale a minute after, not a minute before."""
    level(capsys)
    began = clock.at
    clock.at = began + timedelta(days=30, minutes=-1)
    assert "days old" not in str(judged(capsys, "trust")[1]["evidence"])
    clock.at = began + timedelta(days=30, minutes=1)
    assert "30 days old" in str(judged(capsys, "trust")[1]["evidence"])


def test_a_clock_that_is_minutes_ahead_is_no_harm(
    clock: FakeClock, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two computers, or one that was just set: a few minutes are nothing, a quarter is odd."""
    level(capsys)
    clock.pass_by(minutes=-4)
    assert "future" not in str(judged(capsys, "trust")[1]["evidence"])
    clock.pass_by(minutes=-11)
    assert "future" in str(judged(capsys, "trust")[1]["evidence"])
