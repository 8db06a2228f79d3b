"""The whole judgement on captures of the simulated bench, which shares no constant with it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calib.checks.bench.judgement import CheckSettings, judge_check
from calib.mule import faults, hands
from calib.mule.bench import Bench, draw_bench
from calib.mule.stage import Stage
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Finding, Severity
from calib.store.records import Record
from tests.bench.mule_captures import capture_of, rig_for
from tests.records import record_of
from tests.second_track import planted_on_any, with_second_track


def _recorded(document: CheckDocument) -> Record:
    return record_of(document)


def _check(
    bench: Bench, folder: Path, *, earlier: Bench | None, seed: int = 2, then: int = 1
) -> CheckDocument:
    rig = rig_for(bench, folder)
    record = None
    if earlier is not None:
        record = _recorded(judge_check(capture_of(earlier, session=then), rig, ()))
    document = judge_check(capture_of(bench, session=seed), rig, (), earlier=record)
    assert msgspec.json.encode(document), "what was judged must be kept, whatever was found"
    return document


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
        ("play", "throttle", "play"),
        ("rest-double", "throttle", "two-rests"),
        ("span-shrunk", "throttle", "span-shrunk"),
        ("control-reversed", "regen", "direction-changed"),
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


@pytest.mark.parametrize(
    ("make", "seed", "fault", "degree", "target", "codes"),
    [
        # steps of a quarter volt hide full travel: no wire is open
        ("ordinary", 3, "bit-stuck", 2, "regen", {"stuck-bit"}),
        # the other lever's snap looks like a drop-out, and lifts this one's ground
        ("quiet", 6, "cross-talk-ground", 1, "throttle", {"shared-ground", "cross-talk"}),
        # four standard deviations of one reading hide the fall, those of a mean do not
        ("noisy", 4, "second-track-worn", 2, "throttle_b", {"travel-step", "tracks-disagree"}),
        # its presses drown in noise, and still it follows the hand
        ("noisy", 12, "second-track-noisy", 1, "throttle_b", {"noise-grown"}),
    ],
)
def test_a_fault_that_hides_behind_another_keeps_its_name(
    make: str, seed: int, fault: str, degree: int, target: str, codes: set[str], tmp_path: Path
) -> None:
    """What the campaign found misnamed or not at all, each by its own seed."""
    bench = draw_bench(seed, make)
    sound = with_second_track(bench) if fault.startswith("second") else bench
    broken = planted_on_any(fault, degree, target).on(sound)
    assert _lead(_check(broken, tmp_path, earlier=sound, seed=1, then=0)).code in codes


@pytest.mark.parametrize("make", ["quiet", "ordinary", "noisy"])
def test_a_check_that_began_in_the_hand_is_not_taken_for_a_reversed_control(
    make: str, tmp_path: Path
) -> None:
    """What stood at one end while the others were worked rests there, whatever came first."""
    bench = draw_bench(1, make)
    whole = capture_of(bench)
    rig = rig_for(bench, tmp_path)
    volts = whole.values[str(rig.channels["throttle"].column)]
    held = int(np.argmax(volts > 0.9 * volts.max())) + int(0.4 * bench.logger.rate_hz)
    begun = replace(
        whole,
        time_s=whole.time_s[held:],
        values={name: column[held:] for name, column in whole.values.items()},
        arrival=lambda: whole.arrival()[held:],
    )
    told = {each.code: each for each in judge_check(begun, rig, ()).findings}
    assert told["which-end-is-rest"].channel == "throttle"
    assert told["which-end-is-rest"].severity is Severity.UNKNOWN
    assert "reversed" not in told


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


def test_a_backward_control_is_said_once_and_then_known(tmp_path: Path) -> None:
    """Legal, but it must be said; against a record of the same direction it passes."""
    backward = faults.planted("control-reversed", 1, "regen").on(draw_bench(47))
    first = _check(backward, tmp_path, earlier=None)
    said = [each for each in first.findings if each.code == "reversed"]
    assert [each.severity for each in said] == [Severity.CAUTION]
    assert _check(backward, tmp_path, earlier=backward).verdict is Severity.PASS


@pytest.mark.parametrize("samples", [1, 2, 3, 7, 20, 50, 300, 900])
def test_a_cut_capture_is_never_good_and_never_a_crash(samples: int, tmp_path: Path) -> None:
    """However little there is, the verdict says that it is not enough."""
    bench = draw_bench(48)
    rig = rig_for(bench, tmp_path)
    whole = capture_of(bench)
    record = _recorded(judge_check(whole, rig, ()))
    cut = replace(
        whole,
        time_s=whole.time_s[:samples],
        arrival=lambda: whole.arrival_s[:samples],
        values={name: values[:samples] for name, values in whole.values.items()},
    )
    for earlier in (None, record):
        document = judge_check(cut, rig, (), earlier=earlier)
        assert not document.verdict.is_good
        codes = {each.code for each in document.findings}
        assert ("too-short" in codes) == (samples < 500)
        assert "frozen" not in codes


@pytest.mark.parametrize("code", [0.0, 512.0, 1023.0])
def test_a_dead_line_of_equal_codes_fails(code: float, tmp_path: Path) -> None:
    """Every input at one value is never good, and is told without a crash."""
    bench = draw_bench(49)
    rig = rig_for(bench, tmp_path)
    whole = capture_of(bench)
    record = _recorded(judge_check(whole, rig, ()))
    dead = replace(
        whole, values={name: np.full_like(values, code) for name, values in whole.values.items()}
    )
    document = judge_check(dead, rig, (), earlier=record)
    assert document.verdict is Severity.FAIL
    assert document.channels["throttle"].verdict is Severity.FAIL


def test_a_moved_rail_that_is_not_logged_is_said_to_be_unseen(tmp_path: Path) -> None:
    """Without a supply channel the controls' volts cannot be told from the supply's."""
    bench = draw_bench(50)
    rig = rig_for(bench, tmp_path)

    channels = {
        name: msgspec.structs.replace(channel, supply=None)
        for name, channel in rig.channels.items()
        if name != "rail"
    }
    document = judge_check(capture_of(bench), msgspec.structs.replace(rig, channels=channels), ())
    assert "No supply is logged" in document.cannot_see[-1]
