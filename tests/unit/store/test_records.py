from __future__ import annotations

import ntpath
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest

from calib.errors import UsageError
from calib.store.capture_writer import capture_path
from calib.store.documents.finding import CaptureRef, Severity, worst
from calib.store.documents.travel import TravelDocument
from calib.store.records import (
    Subject,
    find_record,
    load_records,
    save_record,
    supersede,
)
from calib.store.rig import Rig, load_rig

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
RIG = '[channels.lever]\nrole = "control"\ncolumn = "a1"\nunit = "V"\ndivider = 2.0\n'


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    """A rig with one lever behind a divider."""
    path = tmp_path / "rig.toml"
    path.write_text(RIG, encoding="utf-8")
    return load_rig(path)


def keep(folder: Path, rig: Rig, now: datetime) -> str:
    """Keep a travel record and give its id."""
    document = TravelDocument(verdict=Severity.PASS, channel="lever", presses=5)
    return save_record(folder, rig, document, Subject("travel", "lever"), now=now).id


def test_a_superseded_record_stays_on_file(tmp_path: Path, rig: Rig) -> None:
    """With its reason, and as whole as before."""
    first = keep(tmp_path, rig, NOON)
    second = keep(tmp_path, rig, NOON + timedelta(minutes=1))
    supersede(tmp_path, second, "the plug was loose", now=NOON + timedelta(minutes=2))
    records = load_records(tmp_path)
    assert [record.id for record in records] == [first, second]
    kept = find_record(tmp_path, second)
    assert kept.superseded is not None
    assert kept.superseded.reason == "the plug was loose"


def test_two_records_of_one_second_do_not_overwrite_each_other(tmp_path: Path, rig: Rig) -> None:
    """Evidence is never lost to a name."""
    assert keep(tmp_path, rig, NOON) != keep(tmp_path, rig, NOON)
    assert len(load_records(tmp_path)) == 2


@pytest.mark.parametrize("channel", ["lever", "a:b/c\\d", 'two "tracks"?*<|>', "nul", "Griff-Ä ."])
def test_what_is_kept_has_a_name_that_windows_takes(channel: str, tmp_path: Path, rig: Rig) -> None:
    """No mark that it forbids, no device's name, no blank or point at the end, no drive.

    Source: Microsoft, Naming Files, Paths, and Namespaces.
    """
    document = TravelDocument(verdict=Severity.PASS, channel=channel, presses=5)
    record = save_record(tmp_path, rig, document, Subject("travel", channel), now=NOON).id
    for name in (f"{record}.json", capture_path(tmp_path, "travel", NOON).name):
        assert not set(name) & set('<>:"/\\|?*')
        assert name.partition(".")[0].upper() not in {"CON", "PRN", "AUX", "NUL", "COM1", "LPT1"}
        assert not name.endswith((" ", "."))
        folder = "C:\\Users\\someone\\bench"
        assert ntpath.split(ntpath.join(folder, name)) == (folder, name)


def test_a_capture_of_another_system_is_found_by_its_name() -> None:
    """A folder that was moved from Windows still says which capture was judged."""
    whole = {"sha256": "0" * 64, "samples": 1, "rejected_lines": 0, "gaps": 0, "rate_hz": None}
    for path in ("C:\\bench\\captures\\a.csv", "/home/bench/captures/a.csv", "a.csv"):
        assert msgspec.convert({"path": path, **whole}, CaptureRef).name == "a.csv"


def test_an_unclear_id_is_refused(tmp_path: Path, rig: Rig) -> None:
    """The start of an id serves only where one record has it."""
    keep(tmp_path, rig, NOON)
    keep(tmp_path, rig, NOON)
    with pytest.raises(UsageError, match="2 records"):
        find_record(tmp_path, "2026")


def test_a_verdict_is_the_worst_finding() -> None:
    """Unknown is worse than caution, and nothing found is unknown."""
    assert worst([Severity.PASS, Severity.UNKNOWN, Severity.CAUTION]) is Severity.UNKNOWN
    assert worst([]) is Severity.UNKNOWN
