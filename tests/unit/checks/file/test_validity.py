from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Literal

import msgspec
import pytest

from calib.checks.file.validity import Filed, State
from calib.store.asked import asking
from calib.store.documents.check import CheckDocument, PulledWire
from calib.store.documents.finding import Severity
from calib.store.documents.note import NoteDocument
from calib.store.documents.tilt import LevelDocument
from calib.store.documents.travel import TravelDocument
from calib.store.records import OnFile, Subject, save_record, supersede
from tests.unit.evidence import NOON, RIG, bench, travel


def test_nothing_on_file_is_missing(tmp_path: Path) -> None:
    """What was never measured is missing, and says so."""
    validity = bench(tmp_path).filed.validity(TravelDocument, channel="grip")
    assert validity.state is State.MISSING
    assert validity.record is None


@pytest.mark.parametrize(
    ("verdict", "state"),
    [
        (Severity.PASS, State.GOOD),
        (Severity.CAUTION, State.GOOD),
        (Severity.UNKNOWN, State.UNKNOWN),
        (Severity.FAIL, State.FAILED),
    ],
)
def test_a_fresh_record_stands_as_its_verdict(
    tmp_path: Path, verdict: Severity, state: State
) -> None:
    """Only pass and caution may be built upon."""
    here = bench(tmp_path)
    here.keep(travel(verdict=verdict), "grip")
    assert here.filed.validity(TravelDocument, channel="grip").state is state


def test_an_older_good_record_never_stands_in_for_a_newer_bad_one(tmp_path: Path) -> None:
    """The newest record speaks, unless it was superseded with a reason."""
    here = bench(tmp_path)
    good = here.keep(travel(), "grip", days=1)
    bad = here.keep(travel(verdict=Severity.FAIL), "grip")
    assert here.filed.validity(TravelDocument, channel="grip").record == bad
    supersede(tmp_path, bad.id, "the cable was caught", now=NOON)
    validity = here.filed.validity(TravelDocument, channel="grip")
    assert validity.is_good
    assert validity.record == good


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        (RIG.replace("5.0", "4.8"), "channels.grip.reference_V is 4.8, was 5.0"),
        (RIG.replace('column = "a0"', 'column = "a2"'), "channels.grip.column is a2, was a0"),
        (RIG.replace("[channels.grip]", "[channels.other]"), "no longer has the channel 'grip'"),
    ],
)
def test_a_change_of_what_is_read_makes_evidence_stale(
    tmp_path: Path, changed: str, why: str
) -> None:
    """Another reference, another column or no such channel: the old figures no longer hold."""
    here = bench(tmp_path)
    here.keep(travel(), "grip")
    (tmp_path / "rig.toml").write_text(changed, encoding="utf-8")
    validity = here.filed.validity(TravelDocument, channel="grip")
    assert validity.state is State.STALE
    assert why in validity.why


def test_a_check_of_every_channel_is_stale_once_there_is_one_more(tmp_path: Path) -> None:
    """A wheel's column that setup adds: nobody has looked at it yet."""
    here = bench(tmp_path)
    rig = asking(here.rig)
    assert list(rig.channels) == ["grip", "lever"]  # as a check goes through all of them
    save_record(tmp_path, rig, travel(), Subject("travel", "grip"), now=NOON)
    wheel = '[channels.wheel]\nrole = "wheel"\ncolumn = "w"\nunit = "level"\n'
    (tmp_path / "rig.toml").write_text(f"{RIG}\n{wheel}", encoding="utf-8")
    validity = here.filed.validity(TravelDocument, channel="grip")
    assert validity.state is State.STALE
    assert "the channel 'wheel' since" in validity.why


LINK = '[link]\nusb = "2341:0043 {}"\n\n'


@pytest.mark.parametrize(
    ("then", "now", "state"),
    [
        (LINK.format("A1"), LINK.format("A1"), State.GOOD),
        (LINK.format("A1"), LINK.format("B2"), State.STALE),
        ("", LINK.format("B2"), State.GOOD),
    ],
)
def test_another_loggers_evidence_is_stale(
    tmp_path: Path, then: str, now: str, state: State
) -> None:
    """Its volts were other volts; a logger that only becomes known is no other one."""
    here = bench(tmp_path)
    (tmp_path / "rig.toml").write_text(then + RIG, encoding="utf-8")
    here.keep(travel(), "grip")
    (tmp_path / "rig.toml").write_text(now + RIG, encoding="utf-8")
    validity = here.filed.validity(TravelDocument, channel="grip")
    assert validity.state is state
    assert ("another logger" in validity.why) == (state is State.STALE)


def test_another_machines_evidence_is_none_of_this_one(tmp_path: Path) -> None:
    """A second rig file in the same folder, by another name."""
    here = bench(tmp_path)
    here.keep(travel(), "grip")
    (tmp_path / "rig.toml").write_text(RIG.replace("barn mule", "other mule"), encoding="utf-8")
    validity = here.filed.validity(TravelDocument, channel="grip")
    assert validity.state is State.STALE
    assert "'barn mule'" in validity.why


@pytest.mark.parametrize(("days", "state"), [(29.9, State.GOOD), (30.1, State.STALE)])
def test_evidence_is_kept_for_thirty_days(tmp_path: Path, days: float, state: State) -> None:
    """Older evidence is stale even where nothing seems to have changed."""
    here = bench(tmp_path)
    here.keep(travel(), "grip", days=days)
    assert here.filed.validity(TravelDocument, channel="grip").state is state


def note(what: Literal["rewired", "remounted"]) -> NoteDocument:
    """Something happened to the machine."""
    return NoteDocument(verdict=Severity.CAUTION, what=what)


def check(verdict: Severity) -> CheckDocument:
    """A bench check."""
    return CheckDocument(verdict=verdict, channels={})


@pytest.mark.parametrize(
    ("later", "state"),
    [
        (Severity.PASS, State.GOOD),
        (Severity.CAUTION, State.GOOD),
        (Severity.UNKNOWN, State.STALE),
        (Severity.FAIL, State.STALE),
    ],
)
def test_a_rewire_makes_a_travel_stale_until_a_bench_check_is_good(
    tmp_path: Path, later: Severity, state: State
) -> None:
    """Re-check every input after each rewire: only a good check after it lifts the doubt."""
    here = bench(tmp_path)
    here.keep(travel(), "grip", days=3)
    here.keep(note("rewired"), None, "note", days=2)
    assert here.filed.validity(TravelDocument, channel="grip").state is State.STALE
    here.keep(check(later), None, "check", days=1)
    assert here.filed.validity(TravelDocument, channel="grip").state is state


@pytest.mark.parametrize("kind", ["quick", "pulled"])
def test_a_check_of_less_than_everything_lifts_no_doubt(tmp_path: Path, kind: str) -> None:
    """A quick check flexes no connector, and pulled wires are one control's alone."""
    wire = PulledWire(wire="signal", low=0.0, high=0.1, settle_s=0.0, inside=0, samples=90)
    document = msgspec.structs.replace(
        check(Severity.PASS),
        quick=kind == "quick",
        pulled=(wire,) if kind == "pulled" else (),
    )
    here = bench(tmp_path)
    here.keep(travel(), "grip", days=3)
    here.keep(note("rewired"), None, "note", days=2)
    here.keep(document, None, "check", days=1)
    assert here.filed.validity(TravelDocument, channel="grip").state is State.STALE


def test_tilt_evidence_outlives_neither_a_rewire_nor_a_remount(tmp_path: Path) -> None:
    """A good check does not prove a zero again; a remounted sensor says nothing of a grip."""
    here = bench(tmp_path)
    here.keep(travel(), "grip", days=3)
    here.keep(LevelDocument(verdict=Severity.PASS), None, "level", days=3, tilt=True)
    here.keep(note("remounted"), None, "note", days=2)
    here.keep(check(Severity.PASS), None, "check", days=1)
    assert here.filed.validity(LevelDocument).state is State.STALE
    assert here.filed.validity(TravelDocument, channel="grip").state is State.GOOD


def test_good_records_are_those_that_stand_beside_a_good_newest(tmp_path: Path) -> None:
    """Evenings of one control: same inputs, each good by itself, none beside a bad newest."""
    here = bench(tmp_path)
    here.keep(travel(), "grip", days=40)
    first = here.keep(travel(), "grip", days=9)
    here.keep(travel(verdict=Severity.FAIL), "grip", days=6)
    here.keep(travel("lever"), "lever", days=4)
    last = here.keep(travel(), "grip", days=1)
    found = here.filed.good(TravelDocument, channel="grip")
    assert [record.id for record, _ in found] == [first.id, last.id]
    here.keep(travel(verdict=Severity.UNKNOWN), "grip")
    assert here.filed.good(TravelDocument, channel="grip") == []


def test_a_log_of_no_known_age_can_be_compared_with_and_not_built_upon(tmp_path: Path) -> None:
    """What has moved since shows whenever it was measured; whether it still holds does not."""
    here = bench(tmp_path)
    record = msgspec.structs.replace(here.keep(travel(), "grip"), measured_at=None)
    filed = Filed(here.rig, OnFile((record,)), here.now)
    assert filed.validity(TravelDocument, channel="grip").state is State.ODD
    found = filed.comparable(TravelDocument, channel="grip")
    assert found is not None
    assert found[0].id == record.id
    earlier = Filed(here.rig, OnFile((record,)), here.now - timedelta(days=1))
    assert earlier.comparable(TravelDocument, channel="grip") is None
