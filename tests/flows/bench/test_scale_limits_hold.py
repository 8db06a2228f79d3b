"""The limits on a travel's scale, on the meter and on what is on file are the user's."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from calib.checks.capture import capture_findings
from calib.checks.file.history import history_of
from calib.checks.file.validity import Filed
from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.meter import MeterReadings, judge_meter
from calib.checks.travel.numbers import TravelSettings
from calib.controls.meter import MeterSpec
from calib.measure.pace import Pace
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures, CheckLevel
from calib.store.documents.finding import Finding, Severity
from tests.hands import COUNT_RIG, VOLT_RIG, as_capture, make_rig, pressed
from tests.records import on_file, record_of
from tests.unit.controls.test_meter import steps

TRUED = """[channels.throttle.scale]
gain = 1.0
offset_V = 0.0
u_gain = 0.001
u_offset_V = 0.002
cov = 0.0
from_V = 1.2
to_V = 3.9
date = "2026-03-01"
"""
HELD_FIRST = pressed(presses=6, work_s=0.6, return_s=0.12)[185:-130]
WARMING = pressed() + np.linspace(0.0, 0.08, pressed().size)
SHOWN = TravelSettings(shown_rest_V=0.5, shown_full_V=3.5)
TRAVELS = {
    "fewest_presses": (pressed(), VOLT_RIG, TravelSettings(), 100.0),
    "spring_ratio": (HELD_FIRST, VOLT_RIG, TravelSettings(), 100.0),
    "wander_pct": (WARMING, VOLT_RIG, TravelSettings(), 50.0),
    "scales_far_pct": (pressed(rest_V=1.0, full_V=4.0), VOLT_RIG, SHOWN, 100.0),
    "taped_end_V": (pressed(rest_V=1.196, full_V=3.88), VOLT_RIG + TRUED, TravelSettings(), 1e-9),
    "outside_trued_V": (pressed(), VOLT_RIG + TRUED, TravelSettings(), 9.0),
}
METERED = {
    "meter_span_V": ((0.9, 1.7), (0.9, 1.7), None, 0.1),
    "meter_gain_pct": ((0.9, 2.4, 4.0), (1.8, 4.8, 8.0), None, 200.0),
    "meter_offset_V": ((0.9, 2.4, 4.0), (0.7, 2.2, 3.8), None, 2.0),
    "check_reading_u": ((0.9, 4.0, 3.0), (0.9, 4.0), 3.2, 1000.0),
}
ELSEWHERE = {"stamps_late_s", "drifts_soon_days"}
NAMES = {*TRAVELS, *METERED, *ELSEWHERE}


def _own(name: str, value: float) -> str:
    return f"[channels.throttle.limits]\n{name} = {value}\n"


def _told(findings: tuple[Finding, ...]) -> set[tuple[str, str]]:
    return {(each.code, each.severity.value) for each in findings}


@pytest.mark.parametrize("name", TRAVELS)
def test_what_a_travel_is_held_against_is_the_user_s(name: str, tmp_path: Path) -> None:
    """Another figure for the control, another finding or another severity."""
    volts, text, settings, value = TRAVELS[name]
    said = []
    for place, own in enumerate(("", _own(name, value))):
        folder = tmp_path / str(place)
        folder.mkdir()
        rig = make_rig(folder, text + own)
        document = judge_travel(as_capture(folder, rig, volts), rig, "throttle", settings, ())
        said.append(_told(document.findings))
    assert said[0] != said[1]


@pytest.mark.parametrize("name", METERED)
def test_what_a_truing_is_held_against_is_the_user_s(name: str, tmp_path: Path) -> None:
    """Another figure for the control, another finding or another severity."""
    logger, meter, check_V, value = METERED[name]
    readings = MeterReadings(meter, MeterSpec(0.5, 2.0, 0.001), check_V=check_V)
    said = []
    for place, own in enumerate(("", _own(name, value))):
        folder = tmp_path / str(place)
        folder.mkdir()
        rig = make_rig(folder, COUNT_RIG + own)
        capture = as_capture(folder, rig, np.floor(steps(*logger) * 1024.0 / 5.0))
        said.append(_told(judge_meter(capture, rig, "throttle", readings, ()).findings))
    assert said[0] != said[1]


def test_how_ragged_stamps_may_be_is_the_user_s(tmp_path: Path) -> None:
    """``stamps_late_s``: of the whole line; stamps that come up to a fifth of a second late."""
    said = []
    for place, own in enumerate(("", _own("stamps_late_s", 5.0))):
        folder = tmp_path / str(place)
        folder.mkdir()
        rig = make_rig(folder, VOLT_RIG + own)
        capture = as_capture(folder, rig, pressed())
        late = Pace(capture.time_s, 0.01, laid=True, late_s=0.2)
        said.append(_told(tuple(capture_findings(replace(capture, found_pace=late), rig))))
    assert ("stamps-ragged", "caution") in said[0]
    assert ("stamps-ragged", "caution") not in said[1]


def test_how_soon_a_drift_may_leave_its_limits_is_the_user_s(tmp_path: Path) -> None:
    """``drifts_soon_days``: one that leaves them in eight days is none for who rides for a week."""
    records = []
    for day in range(1, 16, 2):
        rest = CheckLevel(mean=1.0 + 0.004 * day, sd=0.002, u=0.001, stays=4)
        full = CheckLevel(mean=4.0, sd=0.002, u=0.001, stays=4)
        figures = CheckFigures(unit="V", rest=rest, full=full, noise=0.003, supply_V=5.0)
        channel = ChannelCheck(verdict=Severity.PASS, role="control", figures=figures)
        document = CheckDocument(verdict=Severity.PASS, channels={"throttle": channel})
        records.append(record_of(document, datetime(2026, 3, day, 12, tzinfo=UTC)))
    said = []
    for place, own in enumerate(("", _own("drifts_soon_days", 1.0))):
        folder = tmp_path / str(place)
        folder.mkdir()
        now = datetime(2026, 4, 1, tzinfo=UTC)
        file = Filed(make_rig(folder, VOLT_RIG + own), on_file(records), now)
        said.append(_told(history_of(file).findings))
    assert ("drifts-on-record", "caution") in said[0]
    assert ("drifts-on-record", "caution") not in said[1]
