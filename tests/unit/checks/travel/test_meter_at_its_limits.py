"""A truing at both sides of each limit, by a table of exact readings; and which end is rest."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calib.checks.travel.judgement import direction_findings
from calib.checks.travel.meter import MeterReadings, judge_meter
from calib.controls.meter import MeterSpec
from calib.controls.travel import measure_travel
from calib.store.documents.finding import Severity
from calib.store.documents.meter import MeterDocument
from calib.store.rig import read_rig
from tests.hands import pressed
from tests.wheel_files import wheel_capture

RIG = (
    '[channels.throttle]\nrole = "control"\ncolumn = "a0"\nunit = "V"\n'
    '[channels.truth]\nrole = "other"\ncolumn = "m"\nunit = "V"\n'
)
SPEC = MeterSpec(pct=0.5, digits=2.0, step_V=0.001)


def _trued(logger: tuple[float, ...], meter: tuple[float, ...]) -> MeterDocument:
    """A table of pairs."""
    capture = wheel_capture(np.arange(len(logger)) / 10.0, a0=np.array(logger), m=np.array(meter))
    readings = MeterReadings((), SPEC, true_channel="truth")
    rig = read_rig(Path("rig.toml"), RIG.encode())
    return judge_meter(capture, rig, "throttle", readings, ())


@pytest.mark.parametrize(("to_V", "span_V"), [(2.5, None), (2.484375, 1.484375)])
def test_readings_are_near_below_a_volt_and_a_half(to_V: float, span_V: float | None) -> None:
    """From the lowest to the highest that the logger read."""
    document = _trued((1.0, to_V), (1.0, to_V))
    near = [each.value for each in document.findings if each.code == "readings-near"]
    assert near == ([] if span_V is None else [span_V])


def test_a_row_of_a_table_in_volts_has_no_step() -> None:
    """What the logger sends in volts is known to no step; a row is one pair and no stretch."""
    document = _trued((1.0, 2.0, 4.0), (1.0, 2.0, 4.0))
    assert [each.u_logger for each in document.points] == [0.0, 0.0, 0.0]
    assert [each.logger for each in document.points] == [1.0, 2.0, 4.0]


@pytest.mark.parametrize(("fell_V", "told"), [(0.04, False), (0.05, True)])
def test_readings_fall_where_both_of_the_meters_allowances_do_not_explain_it(
    fell_V: float, told: bool
) -> None:
    """At 4 V each is half a per cent and two digits, 22 mV; at half a volt it was 4.5."""
    document = _trued((0.5, 3.75, 4.25), (0.5, 4.0, 4.0 - fell_V))
    codes = {each.code: each.severity for each in document.findings}
    assert ("readings-fall" in codes) is told
    if told:
        assert codes["readings-fall"] is Severity.UNKNOWN


def test_no_end_is_rest_where_one_was_not_seen() -> None:
    """Neither end missing, nor a press: else nothing is said of the direction."""
    volts = pressed(rest_V=4.0, full_V=1.0)
    measured = measure_travel(np.arange(len(volts)) / 100.0, volts)
    about = read_rig(Path("rig.toml"), RIG.encode()).channels["throttle"]
    assert measured.hand.reversed
    assert list(direction_findings(measured, None, about))
    none = replace(measured.hand, presses=())
    for less in (
        replace(measured, rest=None),
        replace(measured, full=None),
        replace(measured, hand=none),
    ):
        assert list(direction_findings(less, None, about)) == []
