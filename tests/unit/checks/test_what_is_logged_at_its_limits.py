"""Captures as such, displays, thermistors and evenings at both sides of each limit."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calib.checks.capture import capture_findings, judge_record
from calib.checks.display import Motor, OnOff, Pack, judge_display
from calib.checks.limits import LIMITS, limit_of_all, limit_of_line, tilt_limit
from calib.checks.temperature import degrees, has_thermistor, ntc_degC, thermistor_ohms
from calib.checks.travel.evenings import Evening, evening_findings, evening_limits, over_evenings
from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.checks.travel.two_track import tracks_finding
from calib.controls.meter import MeterSpec
from calib.controls.travel import LevelMeasurement, measure_travel
from calib.store.capture import Capture
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.travel import TravelDocument
from calib.store.rig import Channel, Rig, read_rig
from calib.store.samples import Event, EventKind
from tests.hands import pressed
from tests.unit.evidence import level, travel
from tests.wheel_files import wheel_capture

THROTTLE = '[channels.throttle]\nrole = "control"\ncolumn = "a0"\nunit = "V"\n'


def _rig(text: str = THROTTLE) -> Rig:
    return read_rig(Path("rig.toml"), text.encode())


def _capture(count: int = 100, **changed: object) -> Capture:
    capture = wheel_capture(np.arange(count) / 100.0, a0=np.linspace(1.0, 3.0, count))
    return replace(capture, **changed)  # type: ignore[arg-type]


def _said(capture: Capture, code: str, rig: Rig | None = None) -> Finding | None:
    found = [each for each in capture_findings(capture, rig or _rig()) if each.code == code]
    assert len(found) <= 1
    return found[0] if found else None


def _event(kind: EventKind, duration_s: float = 0.0) -> Event:
    return Event(kind=kind, time_s=0.5, text="It went.", duration_s=duration_s)


@pytest.mark.parametrize(
    ("rejected", "count", "told"),
    [(0, 100, False), (1, 20, False), (2, 198, False), (2, 197, True), (50, 50, True)],
)
def test_one_line_in_a_hundred_may_be_rejected(rejected: int, count: int, told: bool) -> None:
    """And one of however few: a line that one came into in its middle."""
    found = _said(_capture(count, rejected_lines=rejected), "rejected-lines")
    assert (found is not None) is told
    if found is not None:
        lines = rejected + count
        assert (found.severity, found.limit) == (Severity.CAUTION, 1.0)
        assert found.value == pytest.approx(100.0 * rejected / lines)
        assert found.text == f"{rejected} of {lines} lines could not be decoded."
    assert _said(_capture(0), "rejected-lines") is None


def test_the_longest_gap_is_told_with_how_many_there_are() -> None:
    """Each reset too, and a line that broke off."""
    events = (_event(EventKind.GAP, 0.25), _event(EventKind.GAP, 1.5), _event(EventKind.RESET))
    found = _said(_capture(events=events), "samples-missed")
    assert found is not None
    assert (found.value, found.severity) == (1.5, Severity.CAUTION)
    assert found.text == "2 gaps in time; the longest lasted 1.50 s."
    reset = _said(_capture(events=events), "logger-reset")
    assert reset is not None
    assert reset.value == 1.0
    cut = _said(_capture(events=(_event(EventKind.CUT),)), "cut-short")
    assert cut is not None
    assert cut.text == "The line broke off: It went."
    assert _said(_capture(), "samples-missed") is None
    assert _said(_capture(), "logger-reset") is None


def test_times_that_only_number_the_samples_are_told() -> None:
    """And a capture that was changed since it was closed."""
    bare = _capture(events=(_event(EventKind.NO_CLOCK),))
    assert _said(bare, "no-clock") is not None
    assert _said(_capture(), "no-clock") is None
    changed = _said(_capture(noted_sha256="1" * 64), "capture-changed")
    assert changed is not None
    assert changed.severity is Severity.UNKNOWN
    assert _said(_capture(noted_sha256="0" * 64), "capture-changed") is None


@pytest.mark.parametrize(("late_s", "severity"), [(0.1, Severity.PASS), (0.101, Severity.CAUTION)])
def test_ragged_stamps_are_coarse_from_a_tenth_of_a_second_on(
    late_s: float, severity: Severity
) -> None:
    """Where an even time was laid along them; else nothing is said."""
    capture = _capture()
    laid = replace(capture.pace, laid=True, late_s=late_s)
    found = _said(_capture(found_pace=laid), "stamps-ragged")
    assert found is not None
    assert (found.severity, found.value, found.limit) == (severity, late_s, 0.1)
    assert "at 100 Hz" in found.text
    assert _said(capture, "stamps-ragged") is None
    no_rate = replace(laid, step_s=None)
    assert _said(_capture(found_pace=no_rate), "stamps-ragged") is None


def test_a_record_keeps_each_channels_range() -> None:
    """Lowest, middle and highest of what is there, in its unit; a column that is not is none."""
    values = np.array([1.0, 2.0, 4.0, np.nan, 8.0])
    capture = wheel_capture(np.arange(5) / 10.0, a0=values)
    text = THROTTLE + '[channels.other]\nrole = "other"\ncolumn = "a1"\nunit = "V"\n'
    document = judge_record(capture, _rig(text), ("mind",))
    ((name, found),) = document.channels.items()
    assert (name, found.low, found.median, found.high, found.unit) == (
        "throttle", 1.0, 3.0, 8.0, "V",
    )  # fmt: skip
    assert (document.verdict, document.cautions) == (Severity.PASS, ("mind",))


@pytest.mark.parametrize(
    ("own", "least"), [({}, 3.0), ({"a": 4.0}, 4.0), ({"a": 4.0, "b": 2.0}, 2.0)]
)
def test_a_limit_on_what_several_share_is_the_least_that_any_gives(
    own: dict[str, float], least: float
) -> None:
    """The table's only where none gives one."""
    name = "moved_pct"
    assert LIMITS[name].value == 3.0
    channels = [
        Channel(role="control", column=0, unit="V", limits={name: own[each]} if each in own else {})
        for each in "abc"
    ]
    assert limit_of_all(name, channels) == least


def test_a_limit_on_the_line_may_stand_with_any_channel() -> None:
    """One on the tilt sensor with any of its own, and with no other."""
    text = (
        f"{THROTTLE}[channels.throttle.limits]\nrejected_pct = 5.0\nlag_s = 0.1\n"
        '[channels.p]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n'
        "[channels.p.limits]\nrejected_pct = 4.0\nlag_s = 0.6\n"
    )
    rig = _rig(text)
    assert limit_of_line("rejected_pct", rig) == 4.0
    assert limit_of_line("repeated_pct", rig) == LIMITS["repeated_pct"].value
    assert tilt_limit("lag_s", rig) == 0.6


METER = MeterSpec(0.5, 2.0, 0.01)


@pytest.mark.parametrize("off", [-1.01, -0.99, 0.99, 1.01])
def test_pack_volts_are_off_beyond_what_both_explain(off: float) -> None:
    """One per cent of the display, the meter's own accuracy, and half a step of each."""
    explained_V = 1.959964 * math.sqrt(
        ((0.005 * 60.0 + 0.02) ** 2 + (0.01 * 60.0) ** 2) / 3.0 + 0.1**2 / 12.0
    )
    pack = Pack(60.0 + off * explained_V, 0.1, 60.0, METER, spec_assumed=True)
    document = judge_display(pack, None, None, _rig(), ("mind",))
    found = next(each for each in document.findings if each.code == "pack-shown")
    assert found.severity is (Severity.PASS if abs(off) < 1.0 else Severity.FAIL)
    assert found.value == pytest.approx(abs(off) * explained_V)
    assert found.limit == pytest.approx(explained_V)
    assert f"{off * explained_V:+.2f} V, and both accuracies" in found.text
    assumed = next(each for each in document.findings if each.code == "meter-assumed")
    assert "±(0.5 % + 2 digits of 0.01 V)" in assumed.text
    assert document.cautions == ("mind",)


@pytest.mark.parametrize("off", [-1.01, -0.99, 0.99, 1.01])
def test_a_cold_motor_is_as_warm_as_its_garage_within_two_sensors(off: float) -> None:
    """Three kelvin of both and one of the night, and half a step of the display."""
    explained_K = math.sqrt(3.0**2 + 1.0**2) + 0.25
    motor = Motor(15.0 + off * explained_K, 0.5, 15.0, "thermometer", 12.0)
    document = judge_display(None, motor, None, _rig(), ())
    (found,) = document.findings
    assert found.severity is (Severity.PASS if abs(off) < 1.0 else Severity.FAIL)
    assert found.value == pytest.approx(abs(off) * explained_K)
    assert found.limit == pytest.approx(explained_K)
    assert f"{off * explained_K:+.1f} K, and two sensors" in found.text
    (figure,) = document.figures
    assert (figure.figure, figure.true_from) == ("motor", "thermometer")


@pytest.mark.parametrize(
    ("cold_h", "code"),
    [(None, "motor-not-cold"), (7.9, "motor-not-cold"), (8.0, "motor-shown")],
)
def test_a_motor_that_stood_for_eight_hours_is_cold(cold_h: float | None, code: str) -> None:
    """What nobody said is not known."""
    motor = Motor(15.0, 0.5, 15.0, "thermometer", cold_h)
    (found,) = judge_display(None, motor, None, _rig(), ()).findings
    assert found.code == code
    if code == "motor-not-cold":
        assert (found.severity, found.value, found.limit) == (Severity.UNKNOWN, cold_h, 8.0)


def test_a_display_that_agrees_to_the_last_digit_passes() -> None:
    """Without any doubt of either."""
    exact = MeterSpec(0.0, 0.0, 0.0)
    own = f"{THROTTLE}[channels.throttle.limits]\npack_shown_pct = 0.0\n"
    document = judge_display(Pack(60.0, 0.0, 60.0, exact, spec_assumed=False), None, None,
                             _rig(own), ())  # fmt: skip
    assert document.figures[0].explained == 0.0
    assert document.verdict is Severity.PASS


@pytest.mark.parametrize("degC", [-20.0, 0.0, 25.0, 50.0, 120.0])
def test_a_thermistor_follows_its_beta(degC: float) -> None:
    """Ten kilohms at 25 degrees; shorted and open have their ends."""
    ohms = 10_000.0 * math.exp(3950.0 * (1.0 / (degC + 273.15) - 1.0 / 298.15))
    found = ntc_degC(np.array([ohms, 0.0, math.inf]), r25_ohm=10_000.0, beta_K=3950.0)
    assert found.tolist() == pytest.approx([degC, math.inf, -273.15], abs=1e-9)


NTC = Channel(
    role="temperature", column=0, unit="V", ntc_R25_ohm=10_000.0, ntc_beta_K=3950.0,
    pullup_ohm=10_000.0,
)  # fmt: skip


@pytest.mark.parametrize(("pullup_V", "fed_V"), [(None, 5.0), (3.3, 3.3)])
def test_a_thermistor_divides_what_feeds_its_pull_up(pullup_V: float | None, fed_V: float) -> None:
    """Five volts where nobody said; nothing at ground, and open at the whole."""
    channel = msgspec.structs.replace(NTC, pullup_V=pullup_V)
    volts = fed_V * np.array([-0.1, 0.0, 0.25, 0.5, 0.75, 1.0, 1.1])
    found = thermistor_ohms(channel, volts)
    expected = [0.0, 0.0, 10_000.0 / 3.0, 10_000.0, 30_000.0, math.inf, math.inf]
    assert found.tolist() == pytest.approx(expected)
    half = degrees(channel, np.array([fed_V / 2.0]))
    assert half is not None
    assert half[0] == pytest.approx(25.0)


@pytest.mark.parametrize("missing", ["ntc_R25_ohm", "ntc_beta_K", "pullup_ohm"])
def test_a_thermistor_of_which_a_figure_is_missing_gives_no_degrees(missing: str) -> None:
    """Degrees are degrees without any."""
    channel = msgspec.structs.replace(NTC, **{missing: None})
    assert has_thermistor(NTC)
    assert not has_thermistor(channel)
    assert degrees(channel, np.ones(2)) is None
    celsius = Channel(role="temperature", column=0, unit="degC")
    assert np.array_equal(degrees(celsius, np.array([1.0, 2.0])), [1.0, 2.0])  # type: ignore[arg-type]


def _tonight() -> tuple[LevelMeasurement, LevelMeasurement]:
    volts = pressed(noise_V=0.0) + np.resize([0.001, -0.001], len(pressed()))
    measured = measure_travel(np.arange(len(volts)) / 100.0, volts)
    assert measured.rest is not None
    assert measured.full is not None
    return measured.rest, measured.full


def _evening(rest_V: float = 1.05, plateaus: int = 5) -> TravelDocument:
    rest = msgspec.structs.replace(level(rest_V), plateaus=plateaus)
    return msgspec.structs.replace(travel("throttle"), rest=rest, full=level(4.2))


@pytest.mark.parametrize(
    ("earlier", "method"),
    [
        ([_evening()] * 2, "this-evening"),
        ([_evening()] * 3, "evenings"),
        ([_evening()] * 2 + [_evening(plateaus=1)], "this-evening"),
        ([_evening()] * 2 + [_evening(plateaus=2)], "evenings"),
        ([_evening()] * 2 + [msgspec.structs.replace(_evening(), full=None)], "this-evening"),
        ([_evening()] * 2 + [msgspec.structs.replace(_evening(), rest=None)], "this-evening"),
    ],
)
def test_four_evenings_hold_for_the_next_one(earlier: list[TravelDocument], method: str) -> None:
    """Tonight among them; each needs both ends, of two stays at least."""
    rest, full = over_evenings(*_tonight(), earlier)
    assert (rest.limits.method == "evenings") is (method == "evenings")
    assert (full.limits.method == "evenings") is (method == "evenings")
    (found,) = evening_findings(rest, earlier)
    assert (found.code, found.severity) == (method, Severity.PASS)


@pytest.mark.parametrize(("n_effective", "dof"), [(80.0, 75.0), (20.0, 15.0), (0.5, 1.0)])
def test_an_evening_on_file_counts_by_its_spreads(n_effective: float, dof: float) -> None:
    """Its means scatter by the stays and by the noise of each; readings that hang together less."""
    kept = msgspec.structs.replace(_evening(), rest=msgspec.structs.replace(
        level(1.06), n_effective=n_effective))  # fmt: skip
    tonight, _ = _tonight()
    noise_V = 0.002 * math.sqrt(5.0 / max(n_effective, 1.0))
    evening = Evening(1.06, 5, math.hypot(0.003, noise_V), 0.002, dof)
    rest, _ = over_evenings(*_tonight(), [kept] * 3)
    assert rest.limits == evening_limits(tonight, [evening] * 3)


def test_how_far_rest_moved_is_the_spread_of_the_evenings_means() -> None:
    """And how many there were is said in a word up to ten."""
    rests_V = (1.00, 1.03, 1.07)
    earlier = [_evening(rest_V) for rest_V in rests_V]
    rest, _ = over_evenings(*_tonight(), earlier)
    (found,) = evening_findings(rest, earlier)
    moved_V = float(np.std([*rests_V, rest.mean], ddof=1))
    assert found.value == pytest.approx(moved_V)
    assert found.text.startswith(f"Four evenings: rest moved by ±{1000.0 * moved_V:.0f} mV")
    for count, words in ((1, "one is on file"), (3, "three are on file")):
        (few,) = evening_findings(_tonight()[0], earlier[: count - 1])
        assert (few.value, few.limit) == (count, 4.0)
        assert words in few.text
    many = [_evening()] * 10
    (eleven,) = evening_findings(over_evenings(*_tonight(), many)[0], many)
    assert eleven.text.startswith("11 evenings: rest")
    (ten,) = evening_findings(over_evenings(*_tonight(), many[1:])[0], many[1:])
    assert ten.text.startswith("Ten evenings: rest")


@pytest.mark.parametrize(("apart_s", "fails"), [(0.09, False), (0.2, True)])
@pytest.mark.parametrize(("apart_pct", "large"), [(9.0, False), (11.0, True)])
def test_two_tracks_differ_by_a_tenth_for_a_tenth_of_a_second(
    apart_s: float, fails: bool, apart_pct: float, large: bool
) -> None:
    """Of travel; how far and how long is said, without a sample of skew at either end."""
    time_s = np.arange(300) / 100.0
    first = np.concatenate([np.linspace(0.0, 100.0, 150), np.linspace(100.0, 0.0, 150)])
    second = first.copy()
    at = 100
    second[at : at + round(100 * apart_s)] -= apart_pct + 100.0 / 149.0
    found = tracks_finding("b", _rig().channels["throttle"], time_s, first, second)
    assert found.severity is (Severity.FAIL if fails and large else Severity.PASS)
    assert found.value == pytest.approx(apart_pct, abs=0.01)
    assert (found.limit, found.channel) == (10.0, "b")
    if found.severity is Severity.FAIL:
        assert f"above 10 % for {1000.0 * apart_s - 20.0:.0f} ms" in found.text
        assert "after 100 ms" in found.text


def test_a_track_that_is_seldom_refreshed_cannot_be_judged() -> None:
    """Every fifth of a second; how far they were apart is said."""
    time_s = np.arange(300) / 100.0
    first = np.linspace(0.0, 100.0, 300)
    second = np.repeat(first[::20], 20)
    found = tracks_finding("b", _rig().channels["throttle"], time_s, first, second)
    assert found.severity is Severity.UNKNOWN
    assert "every 0.20 s" in found.text


SECOND = (
    THROTTLE + 'second_track = "b"\n[channels.b]\nrole = "control"\ncolumn = "a1"\nunit = "V"\n'
)


@pytest.mark.parametrize(
    ("rest_V", "full_V", "code"),
    [(0.5, 2.1, "tracks-agree"), (2.1, 0.5, "tracks-agree"), (1.0, 1.0, "second-track-unknown")],
)
def test_a_second_track_is_held_in_per_cent_of_its_own_travel(
    rest_V: float, full_V: float, code: str
) -> None:
    """Half the volts, or the other way round; one that never moved is unknown."""
    volts = pressed(rest_V=1.0, full_V=4.2, noise_V=0.0)
    flicker = np.resize([0.001, -0.001], len(volts))
    second = rest_V + (full_V - rest_V) * (volts - 1.0) / 3.2
    capture = wheel_capture(np.arange(len(volts)) / 100.0, a0=volts + flicker, a1=second + flicker)
    document = judge_travel(capture, _rig(SECOND), "throttle", TravelSettings(), ())
    found = [each for each in document.findings if each.channel == "b"]
    assert [each.code for each in found] == [code]
    if code == "tracks-agree":
        assert found[0].value == pytest.approx(0.0, abs=0.2)


@pytest.mark.parametrize(
    ("pulled", "free", "severity", "words"),
    [
        ("on", "off", Severity.PASS, "off with it free."),
        ("off", "on", Severity.FAIL, "it works the other way round"),
        ("on", "on", Severity.FAIL, "it never opens"),
        ("off", "off", Severity.FAIL, "it never closes"),
    ],
)
def test_a_brake_that_is_shown_wrong_says_how(
    pulled: OnOff, free: OnOff, severity: Severity, words: str
) -> None:
    """Each has a cause of its own."""
    document = judge_display(None, None, (pulled, free), _rig(), ())
    (found,) = document.findings
    assert found.severity is severity
    assert words in found.text
    assert document.brake is not None
    assert (document.brake.pulled, document.brake.free) == (pulled, free)


@pytest.mark.parametrize(("bow", "code"), [(0.08, "tracks-agree"), (0.13, "tracks-disagree")])
def test_a_second_track_that_bows_differs_in_per_cent_of_its_travel(bow: float, code: str) -> None:
    """Most in the middle of a slow press; it may by a tenth."""
    volts = pressed(rest_V=1.0, full_V=4.2, noise_V=0.0, work_s=2.0)
    flicker = np.resize([0.001, -0.001], len(volts))
    share = (volts - 1.0) / 3.2
    second = 0.5 + 1.6 * (share + 4.0 * bow * share * (1.0 - share))
    capture = wheel_capture(np.arange(len(volts)) / 100.0, a0=volts + flicker, a1=second + flicker)
    document = judge_travel(capture, _rig(SECOND), "throttle", TravelSettings(), ())
    found = next(each for each in document.findings if each.code.startswith("tracks-"))
    assert found.code == code
    assert found.value == pytest.approx(100.0 * bow, abs=1.0)
