"""Drift, comparison, the gate, the sheet and the display at both sides of each limit."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calib.checks.bench.unplug import WIRES
from calib.checks.display import Motor, Pack, garage_degC, judge_display
from calib.checks.file.history import Drift, history_of
from calib.checks.file.moved import compare_ends
from calib.checks.file.validity import Filed
from calib.checks.gate import judge_trust, rider_evidence, start_evidence
from calib.checks.sheet import make_sheet
from calib.checks.sheet.verify import Answers, verify
from calib.checks.wheel.judgement import WheelRun, judge_wheel
from calib.controls.meter import MeterSpec
from calib.measure.coverage import KNOWN_FACTOR
from calib.measure.uncertainty import coverage_factor
from calib.store.documents.check import (
    ChannelCheck,
    CheckDocument,
    CheckFigures,
    CheckLevel,
    PulledWire,
)
from calib.store.documents.finding import Severity
from calib.store.documents.note import NoteDocument
from calib.store.documents.tilt import AxisZeroFigures, LevelDocument, StillDocument, SurgeDocument
from calib.store.documents.travel import FaultWindow
from calib.store.records import Record
from calib.store.rig import Rig, read_rig
from tests.hands import make_rig
from tests.records import on_file, record_of
from tests.unit.evidence import bench, travel
from tests.wheel_files import hand, levels, ring, wheel_capture, wheel_rig

PASS = Severity.PASS


def _checked(day: int, rest_V: float, full_V: float = 4.0, supply_V: float | None = None) -> Record:
    def level(mean: float) -> CheckLevel:
        return CheckLevel(mean=mean, sd=0.002, u=0.001, stays=4)

    figures = CheckFigures(unit="V", rest=level(rest_V), full=level(full_V), noise=0.003,
                           supply_V=supply_V)  # fmt: skip
    channel = ChannelCheck(verdict=PASS, role="control", figures=figures)
    document = CheckDocument(verdict=PASS, channels={"throttle": channel})
    return record_of(document, datetime(2026, 3, day, 12, tzinfo=UTC))


def test_a_drift_is_held_against_the_first_record(tmp_path: Path) -> None:
    """Three per cent of the first span, either way from where each end was then."""
    records = [_checked(day, 1.0 + 0.01 * day, 4.01 - 0.01 * day) for day in (1, 3, 5)]
    filed = Filed(make_rig(tmp_path), on_file(records), datetime(2026, 4, 1, tzinfo=UTC))
    rest, full = history_of(filed).drifts
    margin_V = 0.03 * (4.0 - 1.01)
    assert (rest.low, rest.high) == pytest.approx((1.01 - margin_V, 1.01 + margin_V))
    assert (full.low, full.high) == pytest.approx((4.0 - margin_V, 4.0 + margin_V))
    assert [point.value for point in rest.points] == pytest.approx([1.01, 1.03, 1.05])


TILT = "[tilt]\naid_starts_deg = {}\ndive_deg = 2.0\n"
ZERO = AxisZeroFigures(
    reading=0.5, zero=-0.3, u=0.1, u95=0.25, floor_slope=0.8, floor_slope_u=0.1,
    rider_tilt=-2.5, rider_tilt_u=0.5,
)  # fmt: skip
LEVEL = LevelDocument(verdict=PASS, pitch=ZERO, method="turned", standings=4)
STILL = StillDocument(verdict=PASS, noise=0.25, drift_per_h=0.1, drift_u_per_h=0.05, unit="deg")
SURGE = SurgeDocument(
    verdict=PASS, false_pitch_deg=0.6, fused=True, launch_false_pitch_deg=4.0, launch_m_s2=2.0,
    shake_g=0.15, gain=0.03,
)  # fmt: skip


def _tilt_rig(starts_deg: float) -> Rig:
    return read_rig(Path("rig.toml"), TILT.format(starts_deg).encode())


@pytest.mark.parametrize(
    ("starts_deg", "verdict"), [(11.5, PASS), (11.4375, Severity.FAIL), (9.5, Severity.FAIL)]
)
def test_the_aid_starts_a_degree_above_all_that_is_no_rising_nose(
    starts_deg: float, verdict: Severity
) -> None:
    """0.25 of zero, 2.5 and twice 0.5 of the rider, 2 of dive, 3 x 0.25 of noise, 4 of a push."""
    found = start_evidence(LEVEL, LEVEL, SURGE, STILL, _tilt_rig(starts_deg))
    assert found.verdict is verdict
    assert "10.5" in found.text


def test_a_rider_whose_tilt_is_known_without_an_uncertainty_counts_with_its_tilt() -> None:
    """Two and a half degrees, whichever way; and one who was never seen is unknown."""
    pitch = msgspec.structs.replace(ZERO, rider_tilt_u=None)
    rider = msgspec.structs.replace(LEVEL, pitch=pitch)
    assert start_evidence(LEVEL, rider, SURGE, STILL, _tilt_rig(10.5)).verdict is PASS
    assert start_evidence(LEVEL, rider, SURGE, STILL, _tilt_rig(10.4375)).verdict is Severity.FAIL
    unseen = msgspec.structs.replace(LEVEL, pitch=msgspec.structs.replace(ZERO, rider_tilt=None))
    assert rider_evidence(unseen).verdict is Severity.UNKNOWN
    found = start_evidence(LEVEL, unseen, SURGE, STILL, _tilt_rig(20.0))
    assert found.verdict is Severity.UNKNOWN
    assert "the rider's tilt" in found.text


def test_evidence_that_does_not_speak_for_today_says_what_it_was() -> None:
    """After a remount; what was never measured was nothing."""
    rig = _tilt_rig(14.0)
    noted = NoteDocument(verdict=Severity.CAUTION, what="remounted")
    records = on_file([record_of(LEVEL, rig=rig, tilt=True), record_of(noted, rig=rig)])
    filed = Filed(rig, records, datetime(2026, 3, 1, 14, tzinfo=UTC))
    pieces = {each.name: each for each in judge_trust(filed, ()).evidence}
    assert pieces["zero"].text.startswith("Stale. ")
    assert "It was: " in pieces["zero"].text
    assert pieces["zero"].verdict is Severity.UNKNOWN
    assert "It was: " not in pieces["axis"].text


@pytest.mark.parametrize(("step_V", "start_V", "agrees"), [
    (0.05, 0.95, True), (0.05, 0.96, False), (None, 0.934, True), (None, 0.94, False),
])  # fmt: skip
def test_a_setting_agrees_within_half_of_the_step_that_it_was_typed_in(
    step_V: float | None, start_V: float, agrees: bool, tmp_path: Path
) -> None:
    """The step of the travel on file; where that names none, the rig file's of 0.01 V."""
    document = travel()
    assert document.dead_band is not None
    band = msgspec.structs.replace(document.dead_band, step=step_V)
    here = bench(tmp_path)
    here.keep(msgspec.structs.replace(document, dead_band=band), "grip")
    shown = Answers(rest_V=0.81, full_V=3.72, start_V=start_V, end_V=3.66, creep="still")
    found = verify(here.filed, "grip", shown)
    start = next(each for each in found.comparisons if each.figure == "start")
    assert start.agrees is agrees


@pytest.mark.parametrize(("start_V", "end_V", "verdicts"), [
    (0.82, 3.71, (PASS, PASS)), (0.81, 3.72, (Severity.FAIL, Severity.FAIL)),
])  # fmt: skip
def test_rest_lies_before_the_start_and_full_travel_beyond_the_end(
    start_V: float, end_V: float, verdicts: tuple[Severity, Severity], tmp_path: Path
) -> None:
    """Not on them: there the slightest movement acts, or full travel never comes."""
    here = bench(tmp_path)
    here.keep(travel(), "grip")
    shown = Answers(rest_V=0.81, full_V=3.72, start_V=start_V, end_V=end_V, creep="still")
    found = {each.code: each for each in verify(here.filed, "grip", shown).findings}
    assert found["rest-before-start"].severity is verdicts[0]
    assert found["full-beyond-end"].severity is verdicts[1]
    assert found["rest-before-start"].value == pytest.approx(start_V - 0.81)
    assert found["full-beyond-end"].value == pytest.approx(3.72 - end_V)


def test_pulses_a_turn_say_over_how_many_turns_they_were_counted() -> None:
    """Sixty over ten; where nobody counted, nothing is said of turns."""
    rig = wheel_rig()
    time_s, turns = hand(10.0)
    capture = wheel_capture(time_s, w=levels(ring(6), turns))
    counted = judge_wheel(WheelRun("wheel", capture, 10), rig, ())
    assert counted.turned is not None
    uncounted = msgspec.structs.replace(
        counted, turned=msgspec.structs.replace(counted.turned, turns=None)
    )
    for document, origin in (
        (counted, "60 pulses over 10 turns by hand"),
        (uncounted, "60 pulses by hand"),
    ):
        record = record_of(document, command="wheel", rig=rig)
        filed = Filed(rig, on_file([record]), datetime(2026, 3, 1, 13, tzinfo=UTC))
        entry = next(each for each in make_sheet(filed).entries if each.name == "pulses a turn")
        assert (entry.value, entry.origin) == (6, origin)


@pytest.mark.parametrize(
    ("cold_h", "code"), [(7.9375, "motor-not-cold"), (8.0, "motor-shown"), (9.0, "motor-shown")]
)
def test_a_motor_is_cold_after_eight_hours(cold_h: float, code: str) -> None:
    """From then on, and not before."""
    motor = Motor(15.0, 1.0, 15.0, "thermometer", cold_h)
    document = judge_display(None, motor, None, wheel_rig(), ())
    assert document.findings[0].code == code


def test_pack_volts_are_explained_by_three_rectangles() -> None:
    """The display's per cent, the meter's accuracy and the step, JCGM 100, 4.3.7."""
    spec = MeterSpec(0.5, 2.0, 0.01)
    pack = Pack(58.0, 0.1, 60.0, spec, spec_assumed=False)
    document = judge_display(pack, None, None, wheel_rig(), ())
    (figure,) = document.figures
    half_V = 0.005 * 60.0 + 2.0 * 0.01
    expected_V = KNOWN_FACTOR * math.sqrt((half_V**2 + 0.6**2) / 3.0 + 0.1**2 / 12.0)
    assert figure.explained == pytest.approx(expected_V, rel=0.01)
    assert figure.difference == pytest.approx(-2.0)


def test_the_garage_has_the_mean_of_what_its_sensor_logged() -> None:
    """Missing readings aside; a sensor that gives no temperature gives none here."""
    text = '[channels.air]\nrole = "ambient"\ncolumn = "t"\nunit = "degC"\n'
    rig = read_rig(Path("rig.toml"), text.encode())
    capture = wheel_capture(np.arange(4) / 10.0, t=np.array([14.0, 16.0, np.nan, 18.0]))
    assert garage_degC(capture, rig, "air") == pytest.approx(16.0)
    volts = read_rig(Path("rig.toml"), text.replace("degC", "V").encode())
    assert garage_degC(capture, volts, "air") is None
    open_wire = text.replace("degC", "V") + (
        "ntc_R25_ohm = 10000.0\nntc_beta_K = 3950.0\npullup_ohm = 10000.0\npullup_V = 5.0\n"
    )
    shorted = replace(capture, values={"t": np.zeros(4)})
    known = read_rig(Path("rig.toml"), open_wire.encode())
    assert garage_degC(shorted, known, "air") is None


def test_a_drift_is_drawn_at_the_supply_of_the_first_record(tmp_path: Path) -> None:
    """Levels and what they are known to; where a supply was not logged, as they were read."""
    records = [
        _checked(1, 1.0, supply_V=5.0), _checked(3, 0.8, 3.2, supply_V=4.0), _checked(5, 1.0)
    ]  # fmt: skip
    filed = Filed(make_rig(tmp_path), on_file(records), datetime(2026, 4, 1, tzinfo=UTC))
    rest, full = history_of(filed).drifts
    assert [point.value for point in rest.points] == pytest.approx([1.0, 1.0, 1.0])
    assert [point.u for point in rest.points] == pytest.approx([0.001, 0.00125, 0.001])
    assert [point.value for point in full.points] == pytest.approx([4.0, 4.0, 4.0])


def test_the_spreads_of_both_checks_are_pooled_at_one_supply() -> None:
    """Three stays of 8 mV at 4 V are 10 mV at 5 V; with five of 20 mV: 17.3 mV with six degrees."""

    def figures(scale: float, sd: float, stays: int) -> CheckFigures:
        def level(mean: float) -> CheckLevel:
            return CheckLevel(mean=mean * scale, sd=sd, u=sd / stays**0.5, stays=stays)

        return CheckFigures(unit="V", rest=level(1.0), full=level(4.0), supply_V=5.0 * scale)

    found = compare_ends(figures(0.8, 0.008, 3), figures(1.0, 0.02, 5))
    assert found is not None
    pooled_V = math.sqrt((2.0 * 0.01**2 + 4.0 * 0.02**2) / 6.0)
    for each in (found.rest, found.full):
        assert each.value == pytest.approx(0.0, abs=1e-12)
        assert each.u == pytest.approx(pooled_V * math.sqrt(1.0 / 3.0 + 1.0 / 5.0))
        assert each.margin == pytest.approx(0.09)
    # one press each, without a spread: a thousandth of the span is the least
    once = compare_ends(figures(1.0, 0.0, 1), figures(1.0, 0.0, 1))
    assert once is not None
    assert once.rest.u == pytest.approx(0.003 * math.sqrt(2.0))
    assert math.isinf(once.rest.dof)


@pytest.mark.parametrize("dof", [None, 4.0])
def test_live_volts_agree_within_what_the_level_and_the_display_are_known_to(
    dof: float | None, tmp_path: Path
) -> None:
    """JCGM 100, G.4, with the scatter from press to press and a step of 0.01 V."""
    document = travel()
    assert document.rest is not None
    assert document.full is not None
    rest, full = (msgspec.structs.replace(e, dof=dof) for e in (document.rest, document.full))
    here = bench(tmp_path)
    here.keep(msgspec.structs.replace(document, rest=rest, full=full), "grip")
    shown = Answers(rest_V=0.81, full_V=3.72, start_V=0.93, end_V=3.66, creep="still")
    found = {e.figure: e for e in verify(here.filed, "grip", shown).comparisons}
    factor = coverage_factor(math.inf if dof is None else dof)
    allowed_V = factor * math.hypot(0.004, 0.003, 0.01 / math.sqrt(12.0))
    assert set(found) == {"start", "end", "rest", "full"}
    assert found["rest"].allowed == pytest.approx(allowed_V)
    assert found["full"].allowed == pytest.approx(allowed_V)
    assert (found["rest"].expected, found["full"].expected) == (0.81, 3.72)
    half = msgspec.structs.replace(document, full=None)
    here.keep(half, "grip")
    less = {e.figure for e in verify(here.filed, "grip", shown).comparisons}
    assert less == {"start", "end", "rest"}


@pytest.mark.parametrize(
    ("low", "high", "read_V", "proven"),
    [
        (0.41, 4.3, 0.41, True),
        (0.41, 4.3, 0.42, False),
        (0.41, 4.3, 4.3, True),
        (0.41, 4.3, 4.29, False),
        (None, 4.3, 0.0, False),
        (None, 4.3, 4.4, True),
        (0.41, None, 4.9, False),
        (0.41, None, 0.2, True),
    ],
)
def test_pulled_wires_prove_a_window_where_each_read_beyond_it(
    low: float | None, high: float | None, read_V: float, proven: bool, tmp_path: Path
) -> None:
    """Where a window has no lower threshold nothing lies below it, and above it likewise."""
    here = bench(tmp_path)
    window = FaultWindow(low=low, high=high)
    here.keep(msgspec.structs.replace(travel(), fault_window=window), "grip", days=1)
    wires = tuple(
        PulledWire(wire=wire, low=read_V, high=read_V, settle_s=0.0, inside=0, samples=90)
        for wire in WIRES
    )
    pulled = CheckDocument(verdict=PASS, channels={}, pulled=wires)
    here.keep(pulled, "grip", "check")
    entries = [each for each in make_sheet(here.filed).entries if each.channel == "grip"]
    words = {words for each in entries for words in each.warnings}
    assert ("wires were pulled, and one read between the two" in words) is not proven


@pytest.mark.parametrize(
    ("low", "high", "days"),
    [(1.0, 2.0, 100.0), (0.5, 1.0, 0.0), (1.01, 2.0, 0.0), (0.5, 1.5, 50.0)],
)
def test_a_line_on_its_limit_is_still_within_it(low: float, high: float, days: float) -> None:
    """A hundredth a day, and now at one."""
    drift = Drift(slope=0.01, u_slope=0.001, dof=1, last=1.0, sure=True)
    assert drift.days_until(low, high) == pytest.approx(days)
