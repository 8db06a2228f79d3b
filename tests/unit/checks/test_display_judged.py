from __future__ import annotations

from typing import Any

import pytest

from calib.checks.display import Motor, Pack, judge_display
from calib.controls.meter import MeterSpec
from calib.store.documents.finding import Severity
from tests.wheel_files import wheel_rig

METER = MeterSpec(0.5, 2.0, 0.01)


def judged(**shown: Any) -> tuple[Severity, dict[str, Severity]]:
    """Verdict, and what was found."""
    pack, motor, brake = (shown.get(each) for each in ("pack", "motor", "brake"))
    document = judge_display(pack, motor, brake, wheel_rig(), ())
    return document.verdict, {each.code: each.severity for each in document.findings}


@pytest.mark.parametrize(
    ("shown_V", "verdict"),
    [(58.4, Severity.PASS), (57.9, Severity.PASS), (57.5, Severity.FAIL), (59.4, Severity.FAIL)],
)
def test_pack_volts_within_what_both_explain(shown_V: float, verdict: Severity) -> None:
    """One per cent of the display and half a per cent of the meter are 0.75 V at 58."""
    assert judged(pack=Pack(shown_V, 0.1, 58.4, METER, spec_assumed=False))[0] is verdict


def test_an_assumed_meter_is_said() -> None:
    """Whoever states no accuracy is told which one was taken."""
    _, codes = judged(pack=Pack(58.4, 0.1, 58.4, METER, spec_assumed=True))
    assert codes["meter-assumed"] is Severity.PASS


def test_a_cold_motor_in_its_garage() -> None:
    """55 °F in a garage at 59 °F is within what two sensors allow; ten degrees are not."""
    cold = Motor((55.0 - 32.0) / 1.8, 1.0 / 1.8, 15.0, "thermometer", 12.0)
    assert judged(motor=cold)[0] is Severity.PASS
    off = Motor(25.0, 1.0, 15.0, "thermometer", 12.0)
    assert judged(motor=off)[1]["motor-shown"] is Severity.FAIL


@pytest.mark.parametrize("cold_h", [None, 2.0])
def test_a_motor_that_may_be_warm_proves_nothing(cold_h: float | None) -> None:
    """However well they agree: it might be chance."""
    verdict, codes = judged(motor=Motor(15.0, 1.0, 15.0, "thermometer", cold_h))
    assert verdict is Severity.UNKNOWN
    assert "motor-shown" not in codes


@pytest.mark.parametrize(
    ("brake", "verdict"),
    [
        (("on", "off"), Severity.PASS),
        (("off", "on"), Severity.FAIL),
        (("on", "on"), Severity.FAIL),
        (("off", "off"), Severity.FAIL),
    ],
)
def test_the_brake_switch(brake: tuple[str, str], verdict: Severity) -> None:
    """On pulled and off free, and nothing else."""
    assert judged(brake=brake)[0] is verdict
