"""The whole judgement on captures of the simulated bench, which shares no constant with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from calib.checks.bench import CheckSettings, judge_check
from calib.mule import faults, hands
from calib.mule.bench import Bench, draw_bench
from calib.mule.stage import Stage
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Finding, Severity
from calib.store.records import Record
from tests.bench.mule_captures import capture_of, rig_for


def _recorded(document: CheckDocument) -> Record:
    return Record(
        id="20260301T120000Z-check", command="check", made_at="2026-03-01T12:00:00+00:00",
        tool="calib", rig_name="bench", rig_sha256="", inputs_sha256="", document=document,
    )  # fmt: skip


def _check(bench: Bench, folder: Path, *, earlier: Bench | None, seed: int = 2) -> CheckDocument:
    rig = rig_for(bench, folder)
    record = None
    if earlier is not None:
        record = _recorded(judge_check(capture_of(earlier, session=1), rig, ()))
    return judge_check(capture_of(bench, session=seed), rig, (), earlier=record)


def _lead(document: CheckDocument) -> Finding:
    return next(each for each in document.findings if each.severity is not Severity.PASS)


@pytest.mark.parametrize("make", ["quiet", "ordinary", "noisy"])
def test_a_sound_bench_with_a_record_passes(make: str, tmp_path: Path) -> None:
    """Every channel passes and both controls are where they were."""
    bench = draw_bench(41, make)
    document = _check(bench, tmp_path, earlier=bench)
    assert document.verdict is Severity.PASS
    assert set(document.channels) == set(rig_for(bench, tmp_path).channels)
    assert document.channels["throttle"].figures is not None
    assert document.compared_with == "20260301T120000Z-check"


def test_without_a_record_a_sound_bench_is_a_caution(tmp_path: Path) -> None:
    """No earlier record to compare with is a caution, and nothing else is said."""
    document = _check(draw_bench(42), tmp_path, earlier=None)
    assert document.verdict is Severity.CAUTION
    assert _lead(document).code == "no-record"
    assert document.compared_with is None


@pytest.mark.parametrize(
    ("fault", "target", "code"),
    [
        ("signal-to-ground", "throttle", "signal-at-ground"),
        ("ground-lost", "regen", "signal-at-supply"),
        ("controls-bridged", "throttle", "one-wire"),
        ("channels-swapped", "throttle", "channels-swapped"),
        ("cross-talk-ground", "throttle", "shared-ground"),
        ("ground-flexed", "throttle", "drop-outs-high"),
        ("supply-flexed", "regen", "drop-outs-low"),
        ("return-sticky", "throttle", "sticks"),
        ("return-slow", "regen", "return-slow"),
        ("rest-moved", "throttle", "rest-moved"),
        ("span-shrunk", "throttle", "span-shrunk"),
        ("control-reversed", "regen", "reversed"),
        ("spot-worn", "throttle", "travel-step"),
        ("noise-grown", "regen", "noise-grown"),
        ("supply-noise", "rail", "supply-noise"),
        ("rail-sagging", "rail", "supply-dips"),
        ("ntc-open", "motor", "temperature-open"),
        ("brake-stuck-open", "brake", "switch-never-changed"),
        ("value-frozen", "throttle", "frozen"),
        ("multiplexer-stuck", "rail", "multiplexer-stuck"),
        ("bit-stuck", "throttle", "stuck-bit"),
    ],
)
def test_a_plain_fault_leads_with_its_own_name(
    fault: str, target: str, code: str, tmp_path: Path
) -> None:
    """The first finding names the right channel and kind, whatever else follows from it."""
    sound = draw_bench(43)
    document = _check(faults.planted(fault, 1, target).on(sound), tmp_path, earlier=sound)
    lead = _lead(document)
    assert (lead.code, lead.channel) == (code, target)
    assert lead.text
    assert lead.action
    assert document.channels[target].verdict is not Severity.PASS


def test_what_follows_from_a_cause_says_so(tmp_path: Path) -> None:
    """A consequence is kept, behind its cause, and points to it."""
    sound = draw_bench(44)
    document = _check(faults.planted("rail-sagging", 1).on(sound), tmp_path, earlier=sound)
    assert document.findings[0].code == "supply-dips"
    followers = [each for each in document.findings if "May follow from" in each.action]
    for each in followers:
        assert "'supply-dips' of rail" in each.action


def test_a_quick_check_does_not_ask_for_the_switch(tmp_path: Path) -> None:
    """Rest and one press each is enough for --quick, against the record of a whole one."""
    bench = draw_bench(45)
    rig = rig_for(bench, tmp_path)
    record = _recorded(judge_check(capture_of(bench, session=1), rig, ()))

    def quick(stage: Stage) -> None:
        hands.bench_check(stage, quick=True)

    capture = capture_of(bench, quick, session=2)
    settings = CheckSettings(quick=True, condition="lights on")
    document = judge_check(capture, rig, (), earlier=record, settings=settings)
    assert document.verdict.is_good
    assert document.quick
    assert document.condition == "lights on"


def test_what_the_logger_cannot_see_is_said(tmp_path: Path) -> None:
    """At 50 Hz chatter and 50 Hz hum are beyond it, at 1 kHz nothing is."""
    noisy, quiet = draw_bench(46, "noisy"), draw_bench(46, "quiet")
    said = " ".join(_check(noisy, tmp_path, earlier=noisy).cannot_see)
    assert "chatter" in said
    assert "50, 100 Hz" in said
    assert _check(quiet, tmp_path, earlier=quiet).cannot_see == ()
