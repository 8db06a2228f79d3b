"""Each limit of the table is asked of its channel, and the user's own figure decides."""

from __future__ import annotations

import ast
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import msgspec
import numpy as np
import pytest

import calib
from calib.checks.bench.judgement import judge_check
from calib.checks.bench.signals import signals_of
from calib.checks.bench.switches import standing_findings
from calib.checks.bench.unplug import Travel, judge_pulled, judge_unplug
from calib.checks.display import Motor, Pack, judge_display
from calib.checks.file.history import compare
from calib.checks.limits import LIMITS, limit
from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.checks.wheel.judgement import Tape, WheelRun, judge_wheel
from calib.controls.meter import MeterSpec
from calib.mule import faults
from calib.mule.bench import draw_bench
from calib.mule.hands import bench_check
from calib.mule.stage import Stage
from calib.store.capture import Capture
from calib.store.documents.finding import Finding
from calib.store.records import Record
from calib.store.rig import Rig
from tests.bench.mule_captures import capture_of, rig_for
from tests.flows.bench.test_scale_limits_hold import NAMES as SCALE_NAMES
from tests.flows.bench.test_tilt_limits_hold import CASES as TILT_CASES
from tests.flows.bench.test_tilt_limits_hold import ELSEWHERE as TILT_ELSEWHERE
from tests.hands import COUNT_RIG, as_capture, make_rig, pressed
from tests.records import record_of
from tests.wheel_files import hand, levels, ring, wheel_capture, wheel_rig

SOURCES = Path(calib.__file__).parent
SEED = 43
Told = set[tuple[str, str, str | None]]
ASKED = ("limit", "limit_of_all", "limit_of_line", "tilt_limit")


def _names(node: ast.expr) -> set[str]:
    return {each.value for each in ast.walk(node) if isinstance(each, ast.Constant)}  # type: ignore[misc]


def _names_read() -> set[str]:
    """Names that a call asks of a channel, or of all of them."""
    calls = (
        node
        for path in SOURCES.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and ast.unparse(node.func).rpartition(".")[2] in ASKED
        and (len(node.args) == 2 or isinstance(node.func, ast.Attribute))
        and ast.unparse(node.args[-1]) != "None"
    )
    return {name for call in calls for name in _names(call.args[0])}


def test_every_limit_is_asked_of_its_channel() -> None:
    """A limit that nothing asks of a channel would not be the user's, whatever the file says."""
    assert set(LIMITS) - _names_read() == set()


@dataclass(frozen=True)
class Case:
    """What a limit decides.

    Attributes:
        fault: What is wrong with the simulated bench; empty for a sound one.
        channels: Whose limit is set.
        value: The user's own figure.
        make: Which make of bench.
        base: Other limits, in both checks.
        recorded: Whether there is a record to compare with.
    """

    fault: str
    channels: tuple[str, ...]
    value: float
    make: str = "ordinary"
    base: Mapping[str, float] = field(default_factory=dict)
    recorded: bool = True


CONTROLS = ("throttle", "regen")
CASES = {
    "supply_low_V": Case("", ("rail",), 5.2),
    "supply_high_V": Case("", ("rail",), 4.8),
    "supply_dead_low_V": Case("rail-low:2", ("rail",), 4.0),
    "supply_dead_high_V": Case("rail-high:2", ("rail",), 6.0),
    "supply_dip_pct": Case("rail-sagging:3", ("rail",), 50.0),
    "wire_at_ground_pct": Case("signal-to-ground", ("throttle",), 0.0),
    "wire_at_supply_pct": Case("ground-lost", ("throttle",), 99.9),
    "span_low_V": Case("", ("throttle",), 4.5),
    "pressed_pct": Case("control-reversed", ("throttle",), 1.0, recorded=False),
    "moved_pct": Case("rest-moved:3", ("throttle",), 20.0),
    "two_rests_pct": Case("rest-double", ("throttle",), 50.0),
    "play_pct": Case("play:2", ("throttle",), 50.0),
    "rest_scatter_pct": Case("play:2", ("throttle",), 50.0, base={"play_pct": 50.0}),
    "flat_pct": Case("spot-flat", ("throttle",), 90.0),
    "step_pct": Case("spot-worn:2", ("throttle",), 90.0),
    "return_slow_s": Case("return-slow:4", ("throttle",), 5.0),
    "return_fail_s": Case("return-slow", ("throttle",), 9.0),
    "cross_talk_pct": Case("cross-talk-damp", CONTROLS, 95.0),
    "one_wire_pct": Case("controls-bridged", CONTROLS, 101.0),
    "ground_shift_mV": Case("cross-talk-ground", CONTROLS, 2000.0),
    "noise_ratio": Case("noise-grown:4", ("throttle",), 100.0),
    "noise_fail_ratio": Case("noise-grown", ("throttle",), 1e4),
    "noise_pct": Case("noise-grown", ("throttle",), 90.0, recorded=False),
    "hum_mV": Case("hum-pickup", ("throttle",), 5000.0, make="quiet"),
    "hum_ratio": Case("hum-pickup", ("throttle",), 1e6, make="quiet"),
    "common_pct": Case("hum-pickup", ("throttle",), 101.0, make="quiet"),
    "glitch_pct": Case("drop-outs-flexed", ("throttle",), 500.0),
    "missed_pct": Case("samples-missed", ("throttle",), 90.0),
    "jump_s": Case("time-jumps:5", ("throttle",), 5.0),
    "check_short_s": Case("", ("throttle",), 100.0),
    "repeated_pct": Case("samples-twice:3", ("throttle",), 99.0),
    "scale_moved_pct": Case("reference-off:2", ("rail",), 90.0),
    "renumbered_pct": Case("columns-off", ("throttle",), 1000.0),
    "frozen_s": Case("value-frozen:3", ("throttle",), 1000.0),
    "clipped_pct": Case("adc-clipping:2", ("throttle",), 101.0),
    "switch_gap_pct": Case("brake-crept:3", ("brake",), 5.0),
    "switch_gap_fail_pct": Case("brake-crept:2", ("brake",), 1.0),
    "temperature_open_degC": Case("ntc-open", ("motor",), -400.0),
    "temperature_short_degC": Case("ntc-short:3", ("motor",), 5000.0),
    "temperature_apart_K": Case("temperature-off", ("motor", "ambient"), 500.0),
    "bounce_ms": Case("brake-bounces", ("brake",), 5000.0),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the rig files of the module lie."""
    return tmp_path_factory.mktemp("limits")


@cache
def _rig(folder: Path, make: str) -> Rig:
    return rig_for(draw_bench(SEED, make), folder)


@cache
def _record(folder: Path, make: str) -> Record:
    sound = capture_of(draw_bench(SEED, make), session=0)
    return record_of(judge_check(sound, _rig(folder, make), ()))


@cache
def _capture(make: str, fault: str) -> Capture:
    bench = draw_bench(SEED, make)
    return capture_of(faults.parse(fault).on(bench) if fault else bench, session=1)


def _with_limits(rig: Rig, channels: tuple[str, ...], limits: Mapping[str, float]) -> Rig:
    own = {
        name: msgspec.structs.replace(channel, limits={**channel.limits, **limits})
        if name in channels
        else channel
        for name, channel in rig.channels.items()
    }
    return msgspec.structs.replace(rig, channels=own)


def _told(findings: tuple[Finding, ...]) -> Told:
    return {(each.code, each.severity.value, each.channel) for each in findings}


@pytest.mark.parametrize("name", CASES)
def test_the_user_s_own_figure_changes_what_a_check_says(name: str, folder: Path) -> None:
    """For each limit: another figure for the channel, another finding or another severity."""
    case = CASES[name]
    rig = _rig(folder, case.make)
    record = _record(folder, case.make) if case.recorded else None
    capture = _capture(case.make, case.fault)
    said = [
        _told(
            judge_check(
                capture, _with_limits(rig, case.channels, limits), (), earlier=record
            ).findings
        )
        for limits in (case.base, {**case.base, name: case.value})
    ]
    assert said[0] != said[1]


def test_how_far_a_press_must_go_to_be_one_is_the_user_s(folder: Path) -> None:
    """``answer_pct``: presses that were not held are half presses, or none at all."""

    def flicked(stage: Stage) -> None:
        stage.wait(6.0)
        for _ in range(3):
            stage.press("throttle", push_s=0.06, hold_s=0.0, reach=0.7)
            stage.wait(2.0)

    capture = capture_of(draw_bench(SEED), flicked, session=1)
    rig, record = _rig(folder, "ordinary"), _record(folder, "ordinary")
    codes = [
        {each.code for each in judge_check(capture, own, (), earlier=record).findings}
        for own in (rig, _with_limits(rig, ("throttle",), {"answer_pct": 90.0}))
    ]
    assert "half-pressed" in codes[0]
    assert "half-pressed" not in codes[1]


def test_how_many_lines_may_be_rejected_is_the_user_s(folder: Path) -> None:
    """``rejected_pct``: of the whole line, so the least that any channel gives."""
    rig, record = _rig(folder, "ordinary"), _record(folder, "ordinary")
    capture = replace(_capture("ordinary", ""), rejected_lines=500)
    codes = [
        {each.code for each in judge_check(capture, own, (), earlier=record).findings}
        for own in (rig, _with_limits(rig, ("pitch",), {"rejected_pct": 50.0}))
    ]
    assert "rejected-lines" in codes[0]
    assert "rejected-lines" not in codes[1]


@pytest.mark.parametrize(("name", "value"), [("tracks_apart_pct", 40.0), ("tracks_apart_s", 2.0)])
def test_how_far_two_tracks_may_differ_is_the_user_s(name: str, value: float, folder: Path) -> None:
    """A track that runs 20 % ahead for 0.4 s on the way in."""
    plain = _rig(folder, "ordinary")
    throttle = msgspec.structs.replace(plain.channels["throttle"], second_track="regen")
    channels = {**plain.channels, "throttle": throttle}
    rig = msgspec.structs.replace(plain, channels=channels)
    capture = _capture("ordinary", "")
    first = capture.values["a0"]
    second = np.floor(0.5 * first)
    middle = int(np.argmax(first > 0.5 * (first.min() + first.max())))
    second[middle - 20 : middle + 20] += 0.1 * (first.max() - first.min())
    capture = replace(capture, values={**capture.values, "a1": second})
    codes = [
        {each.code for each in judge_check(capture, own, ()).findings}
        for own in (rig, _with_limits(rig, ("regen",), {name: value}))
    ]
    assert "tracks-disagree" in codes[0]
    assert "tracks-agree" in codes[1]
    assert "span-short" not in codes[0]


def test_how_soon_a_pulled_wire_must_leave_the_travel_is_the_user_s(folder: Path) -> None:
    """``unplug_settle_s``: a wire that takes a second is too late, or in time."""
    time_s = np.arange(400) / 100.0
    volts = np.where(time_s < 1.0, 2.0, 0.1)
    said = []
    for limits in ({}, {"unplug_settle_s": 2.0}):
        rig = _with_limits(_rig(folder, "ordinary"), ("throttle",), limits)
        settle_s = limit("unplug_settle_s", rig.channels["throttle"])
        travel = Travel(1.0, 4.0, settle_s)
        pulled = judge_pulled("signal", time_s, volts, travel)
        said.append(_told(judge_unplug(rig, "throttle", travel, [pulled], ()).findings))
    assert said[0] != said[1]


def test_how_much_noisier_a_condition_may_be_is_the_user_s(folder: Path) -> None:
    """``condition_ratio``: two checks held side by side."""
    rig, first = _rig(folder, "ordinary"), _record(folder, "ordinary")
    noisy = _capture("ordinary", "noise-grown:3")
    second = record_of(judge_check(noisy, rig, (), earlier=first))
    said = [
        {each.code for each in compare(own, first, second)[1] if each.channel == "throttle"}
        for own in (rig, _with_limits(rig, ("throttle",), {"condition_ratio": 1000.0}))
    ]
    assert "noise-grown" in said[0]
    assert "noise-grown" not in said[1]


TRAVEL_LIMITS = (
    "dead_travel_pct", "dead_travel_most_pct", "start_most_pct", "start_scatter_pct",
    "end_most_pct",
)  # fmt: skip


@pytest.mark.parametrize("name", TRAVEL_LIMITS)
def test_how_much_travel_may_be_given_up_is_the_user_s(name: str, tmp_path: Path) -> None:
    """A travel that passes, or not where a tenth of a per cent is all that may go."""
    said = []
    for place, text in enumerate(("", f"[channels.throttle.limits]\n{name} = 0.1\n")):
        folder = tmp_path / str(place)
        folder.mkdir()
        rig = make_rig(folder, COUNT_RIG + text)
        capture = as_capture(folder, rig, np.floor(pressed() * 1024.0 / 5.0))
        said.append(_told(judge_travel(capture, rig, "throttle", TravelSettings(), ()).findings))
    assert said[0] != said[1]


EVEN = ring(8)
WEAK = [*EVEN[:3], (EVEN[3][0], 0.7 * EVEN[3][1]), *EVEN[4:]]
ASKEW = [*EVEN[:3], (EVEN[3][0] + 0.03, EVEN[3][1]), *EVEN[4:]]
WHEEL_LIMITS = {
    "wheel_gap_ratio": (ASKEW, 1.1, ()),
    "wheel_pair_ratio": (ASKEW, 0.95, ()),
    "wheel_weak_pct": (WEAK, 90.0, ()),
    "wheel_odd_pct": (EVEN, 9.0, (17, 41)),
    "wheel_stay_samples": (EVEN, 1000.0, ()),
    "wheel_standing_pulses": (EVEN, 500.0, ()),
    "wheel_least_mm": (EVEN, 2000.0, ()),
    "wheel_most_mm": (EVEN, 1500.0, ()),
}
"""Magnets, the user's own figure, and pulses that are taken out."""


@pytest.mark.parametrize("name", WHEEL_LIMITS)
def test_what_a_wheel_may_do_is_the_user_s(name: str) -> None:
    """Ten turns of eight magnets, nearly even, and a way of 1.8 m a turn along a tape."""
    magnets, value, left_out = WHEEL_LIMITS[name]
    time_s, turns = hand(10.0)
    level = levels(magnets, turns)
    rises = np.flatnonzero(np.diff(level) > 0.5) + 1
    for pulse in left_out:
        level[rises[pulse] : rises[pulse] + 80] = 0.0
    capture = wheel_capture(time_s, w=level)
    said = []
    for text in ("", f"[channels.wheel.limits]\n{name} = {value}\n"):
        rig = wheel_rig(more=text)
        run = WheelRun("wheel", capture, 10, Tape((18.0,), 10))
        told = judge_wheel(run, rig, ()).findings
        standing = standing_findings(signals_of(capture, rig).by_name["wheel"])
        said.append(_told((*told, *standing)))
    assert said[0] != said[1]


DISPLAY_LIMITS = {"pack_shown_pct": 0.01, "motor_cold_h": 20.0}


@pytest.mark.parametrize("name", DISPLAY_LIMITS)
def test_how_far_a_display_may_be_off_is_the_user_s(name: str) -> None:
    """Half a volt of 58, and a motor that stood for twelve hours."""
    pack = Pack(57.9, 0.1, 58.4, MeterSpec(0.3, 1.0, 0.01), spec_assumed=False)
    motor = Motor(13.0, 1.0, 15.0, "thermometer", 12.0)
    own = (
        f'[channels.motor]\nrole = "temperature"\ncolumn = "t"\nunit = "degC"\n'
        f"[channels.motor.limits]\n{name} = {DISPLAY_LIMITS[name]}\n"
    )
    rigs = (wheel_rig(more=text) for text in ("", own))
    said = [_told(judge_display(pack, motor, None, rig, ()).findings) for rig in rigs]
    assert said[0] != said[1]


def test_every_limit_has_such_a_case() -> None:
    """A new limit comes with a case in which the user's own figure decides."""
    elsewhere = {
        "answer_pct", "rejected_pct", "tracks_apart_pct", "tracks_apart_s", "unplug_settle_s",
        "condition_ratio", *TRAVEL_LIMITS, *WHEEL_LIMITS, *DISPLAY_LIMITS,
    }  # fmt: skip
    tilt = TILT_CASES.keys() | TILT_ELSEWHERE
    assert set(LIMITS) ^ (CASES.keys() | elsewhere | tilt | SCALE_NAMES) == set()


def test_the_script_works_every_input() -> None:
    """The cases rest on a check that works both controls and the switch."""
    stage = Stage(draw_bench(SEED), 1)
    bench_check(stage)
    assert stage.cursor_s > 30.0
