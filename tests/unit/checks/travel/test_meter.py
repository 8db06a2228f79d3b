from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.checks.travel.meter import MeterReadings, judge_meter
from calib.controls.meter import MeterSpec
from calib.errors import UsageError
from calib.store.documents.finding import Severity
from calib.store.documents.meter import MeterDocument
from tests.hands import COUNT_RIG, as_capture, make_rig
from tests.unit.controls.test_meter import steps

SPEC = MeterSpec(pct=0.5, digits=2.0, step_V=0.001)


def judge(
    folder: Path,
    logger: tuple[float, ...],
    meter: tuple[float, ...],
    *,
    check_V: float | None = None,
    rig_text: str = COUNT_RIG,
) -> MeterDocument:
    """The document of a truing in which a 10-bit logger saw `logger` volts."""
    rig = make_rig(folder, rig_text)
    capture = as_capture(folder, rig, np.floor(steps(*logger) * 1024.0 / 5.0))
    return judge_meter(
        capture, rig, "throttle", MeterReadings(meter, SPEC, check_V=check_V), ("mind the leads",)
    )


def codes(document: MeterDocument) -> dict[str, Severity]:
    """Severity of every finding by its code."""
    return {finding.code: finding.severity for finding in document.findings}


def test_a_logger_is_trued(tmp_path: Path) -> None:
    """Three readings give gain, offset, covariance and residuals, all good."""
    document = judge(tmp_path, (0.9, 2.4, 4.0), (0.882, 2.352, 3.92))
    assert document.verdict is Severity.PASS
    assert document.gain == pytest.approx(0.98, abs=0.002)
    assert document.offset_V == pytest.approx(0.0, abs=0.004)
    assert len(document.residuals_V) == len(document.points) == 3
    assert document.cov is not None
    assert document.cov < 0.0


def test_a_count_that_does_not_fit(tmp_path: Path) -> None:
    """Fewer still voltages than readings leave the scale unknown, and none is given."""
    document = judge(tmp_path, (0.9, 4.0), (0.9, 2.4, 4.0))
    assert codes(document) == {"stretches-miscounted": Severity.UNKNOWN}
    assert document.gain is None
    assert document.points[0].meter == 0.9


def test_one_reading_is_no_scale(tmp_path: Path) -> None:
    """One reading fixes nothing."""
    assert codes(judge(tmp_path, (0.9,), (0.9,))) == {"one-reading": Severity.UNKNOWN}


def test_one_reading_typed_three_times_is_no_scale(tmp_path: Path) -> None:
    """A gain of nothing is no line, whatever the voltages were."""
    document = judge(tmp_path, (0.9, 2.5, 4.1), (1.2, 1.2, 1.2))
    assert codes(document) == {"one-reading": Severity.UNKNOWN}
    assert document.gain is None


def test_near_readings_are_warned_of(tmp_path: Path) -> None:
    """Readings that span less than 1.5 V give a caution with what the gain is worth."""
    document = judge(tmp_path, (0.9, 1.7), (0.9, 1.7))
    assert codes(document)["readings-near"] is Severity.CAUTION


def test_a_slip_leaves_it_unknown(tmp_path: Path) -> None:
    """Residuals beyond the meter's accuracy leave the truing unknown."""
    document = judge(tmp_path, (0.9, 2.4, 4.0), (0.9, 2.5, 4.0))
    assert codes(document)["residuals"] is Severity.UNKNOWN


def test_far_off_scales_point_to_the_rig_file_and_the_ground(tmp_path: Path) -> None:
    """Half the volts is a divider, a constant difference is a ground."""
    half = judge(tmp_path, (0.9, 2.4, 4.0), (1.8, 4.8, 8.0))
    assert codes(half)["scale-far-off"] is Severity.CAUTION


def test_a_constant_difference_is_a_ground(tmp_path: Path) -> None:
    """An offset of 0.2 V blames the ground."""
    shifted = judge(tmp_path, (0.9, 2.4, 4.0), (0.7, 2.2, 3.8))
    assert codes(shifted)["offset-far-off"] is Severity.CAUTION


@pytest.mark.parametrize(("check_V", "severity"), [(3.0, "pass"), (3.2, "fail")])
def test_check_reading(tmp_path: Path, check_V: float, severity: str) -> None:
    """A reading that the line has not seen passes within both uncertainties, and fails beyond."""
    document = judge(tmp_path, (0.9, 4.0, 3.0), (0.9, 4.0), check_V=check_V)
    assert codes(document)["check-reading"] == severity
    assert len(document.points) == 2


def test_an_earlier_truing_is_not_piled_upon(tmp_path: Path) -> None:
    """The logger's volts are taken as if the channel had never been trued."""
    trued = COUNT_RIG + (
        "[channels.throttle.scale]\ngain = 0.9\noffset_V = 0.1\nu_gain = 0.001\n"
        'u_offset_V = 0.001\ncov = 0.0\ndate = "2026-03-01"\n'
    )
    document = judge(tmp_path, (0.9, 2.4, 4.0), (0.9, 2.4, 4.0), rig_text=trued)
    assert document.gain == pytest.approx(1.0, abs=0.002)


def test_a_channel_without_volts_is_refused(tmp_path: Path) -> None:
    """An angle cannot be held against a voltmeter."""
    angle = '[channels.throttle]\nrole = "pitch"\ncolumn = "a0"\nunit = "deg"\n'
    with pytest.raises(UsageError, match="not volts"):
        judge(tmp_path, (0.9, 4.0), (0.9, 4.0), rig_text=angle)
