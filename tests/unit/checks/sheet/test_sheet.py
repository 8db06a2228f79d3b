from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from calib.checks.sheet import make_sheet
from calib.store.documents.check import CheckDocument, PulledWire
from calib.store.documents.finding import Severity
from calib.store.documents.travel import FaultWindow
from tests.unit.evidence import RIG, Bench, bench, travel

FULL = {
    "drive takes up at": 0.93,
    "full drive from": 3.66,
    "broken wire below": 0.41,
    "broken wire above": 4.3,
}


def both(here: Bench) -> None:
    """Keep a travel of each control."""
    here.keep(travel("grip"), "grip")
    here.keep(travel("lever"), "lever")


def test_good_travels_give_every_value_with_origin_and_time(tmp_path: Path) -> None:
    """Four values a control, each naming its record, its time and whose volts they are."""
    here = bench(tmp_path)
    both(here)
    sheet = make_sheet(here.filed)
    assert sheet.verdict is Severity.CAUTION  # nobody trued the volts or pulled a wire
    grip = {entry.name: entry for entry in sheet.entries if entry.channel == "grip"}
    assert {name: entry.value for name, entry in grip.items()} == FULL
    for entry in grip.values():
        assert entry.record is not None
        assert entry.measured_at is not None
        assert "logger's volts" in entry.origin


@pytest.mark.parametrize(
    ("verdict", "state", "worst"),
    [
        (Severity.FAIL, "failed", Severity.FAIL),
        (Severity.UNKNOWN, "unknown", Severity.UNKNOWN),
    ],
)
def test_a_failed_or_unknown_travel_prints_no_number(
    tmp_path: Path, verdict: Severity, state: str, worst: Severity
) -> None:
    """Even where figures are on file, a bad verdict gives none of them to the person."""
    here = bench(tmp_path)
    both(here)
    here.keep(travel("grip", verdict), "grip")
    sheet = make_sheet(here.filed)
    grip = [entry for entry in sheet.entries if entry.channel == "grip"]
    assert {(entry.state, entry.value, entry.u) for entry in grip} == {(state, None, None)}
    assert sheet.verdict is worst


def test_a_stale_travel_prints_no_number(tmp_path: Path) -> None:
    """After the logger's scale changed, the old volts are not to be typed in."""
    here = bench(tmp_path)
    both(here)
    (tmp_path / "rig.toml").write_text(RIG.replace("5.0", "4.8"), encoding="utf-8")
    states = {entry.channel: entry.state for entry in make_sheet(here.filed).entries}
    assert states == {"grip": "stale", "lever": "ready"}


def test_what_was_never_measured_is_named_with_its_command(tmp_path: Path) -> None:
    """The sheet says which values are not measured and how to get them."""
    sheet = make_sheet(bench(tmp_path).filed)
    assert {entry.state for entry in sheet.entries} == {"not measured"}
    assert "calib travel grip" in sheet.entries[0].origin
    assert sheet.verdict is Severity.UNKNOWN


def test_a_threshold_without_room_is_no_number(tmp_path: Path) -> None:
    """Where no safe fault threshold exists, the rest of the control is still given."""
    here = bench(tmp_path)
    both(here)
    window = FaultWindow(low=0.41, high=None)
    here.keep(msgspec.structs.replace(travel("grip"), fault_window=window), "grip")
    grip = [entry for entry in make_sheet(here.filed).entries if entry.channel == "grip"]
    assert [entry.value for entry in grip] == [0.93, 3.66, 0.41, None]
    assert "no room" in grip[3].origin


def test_a_rig_without_inputs_has_no_sheet(tmp_path: Path) -> None:
    """An empty sheet is unknown, never a pass."""
    sheet = make_sheet(bench(tmp_path, "").filed)
    assert sheet.verdict is Severity.UNKNOWN
    assert sheet.findings[0].code == "nothing-to-type-in"


@pytest.mark.parametrize(
    ("ground_V", "verdict", "said"),
    [
        (4.9, Severity.PASS, "proven by unplugging"),
        (4.9, Severity.CAUTION, "wires were pulled, but that proves nothing now"),
        (4.2, Severity.PASS, "wires were pulled, and one read between the two"),
    ],
)
def test_only_pulled_wires_prove_the_broken_wire_values(
    tmp_path: Path, ground_V: float, verdict: Severity, said: str
) -> None:
    """Every pulled wire must read beyond the window, and nothing about it may be open."""
    here = bench(tmp_path)
    both(here)
    unproven = {e.name: e for e in make_sheet(here.filed).entries if e.channel == "grip"}
    assert "not yet proven" in unproven["broken wire below"].origin
    wires = (
        PulledWire(wire="signal", low=0.0, high=0.02, settle_s=0.1, inside=0, samples=500),
        PulledWire(wire="ground", low=ground_V, high=4.95, settle_s=0.0, inside=0, samples=500),
    )
    here.keep(CheckDocument(verdict=verdict, channels={}, pulled=wires), "grip")
    proven = {e.name: e for e in make_sheet(here.filed).entries if e.channel == "grip"}
    assert said in proven["broken wire below"].origin


def test_the_second_track_of_a_control_has_no_values_of_its_own(tmp_path: Path) -> None:
    """It is held against the first track; nobody types in its dead band."""
    here = bench(tmp_path, RIG.replace('acts = "drive"', 'acts = "drive"\nsecond_track = "lever"'))
    here.keep(travel("grip"), "grip")
    sheet = make_sheet(here.filed)
    assert {entry.channel for entry in sheet.entries} == {"grip"}
    assert sheet.verdict.is_good


def test_a_share_stays_a_share_where_the_controller_works_in_per_cent(tmp_path: Path) -> None:
    """Per cent in the controller's own step, rounded into the travel; the sheet says of what."""
    here = bench(tmp_path)
    shares = RIG.replace('unit = "count"\nfull_scale = 1024', 'unit = "percent"').replace(
        "[rig]", "[rig]\nsetting_step_pct = 0.5"
    )
    (tmp_path / "rig.toml").write_text(shares, encoding="utf-8")
    both(here)
    entries = [e for e in make_sheet(here.filed).entries if e.channel == "grip"]
    assert {entry.unit for entry in entries} == {"%"}
    found = {entry.name: entry.value for entry in entries}
    assert found == {
        "drive takes up at": 19.0,  # 0.93 V of 5 V are 18.6 %
        "full drive from": 73.0,  # 3.66 V are 73.2 %
        "broken wire below": 8.0,  # 0.41 V are 8.2 %
        "broken wire above": 86.0,  # 4.30 V
    }
    assert "per cent of full scale, as it is sent: 100 % are 5 V" in entries[0].origin
    lever = {e.unit for e in make_sheet(here.filed).entries if e.channel == "lever"}
    assert lever == {"V"}
