from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from calib.errors import UsageError
from calib.store.documents.finding import Severity, worst
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
