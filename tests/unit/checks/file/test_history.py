from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest

from calib.checks.file.history import compare, history_of
from calib.checks.file.validity import Filed, check_to_compare
from calib.errors import UsageError
from calib.store.documents.check import (
    ChannelCheck,
    CheckDocument,
    CheckFigures,
    CheckLevel,
    PulledWire,
)
from calib.store.documents.finding import Severity
from calib.store.records import Record, Superseded
from tests.hands import make_rig
from tests.records import on_file, record_of


def _record(
    day: int, rest_V: float, *, noise: float = 0.003, condition: str | None = None,
    verdict: Severity = Severity.PASS, supply_V: float | None = 5.0,
) -> Record:  # fmt: skip
    def level(mean: float) -> CheckLevel:
        return CheckLevel(mean=mean, sd=0.002, u=0.001, stays=4)

    figures = CheckFigures(
        unit="V", rest=level(rest_V), full=level(4.0), noise=noise, supply_V=supply_V
    )
    channel = ChannelCheck(verdict=verdict, role="control", figures=figures)
    document = CheckDocument(verdict=verdict, channels={"throttle": channel})
    made = datetime(2026, 3, day, 12, tzinfo=UTC)
    return msgspec.structs.replace(record_of(document, made), condition=condition)


def _evidence(folder: Path, records: Sequence[Record]) -> Filed:
    return Filed(make_rig(folder), on_file(records), datetime(2026, 4, 1, tzinfo=UTC))


def test_a_drifting_rest_is_told_before_it_leaves(tmp_path: Path) -> None:
    """4 mV a day leaves the 3 % margin of a 3 V span soon: a caution with the days left."""
    records = [_record(day, 1.0 + 0.004 * day) for day in range(1, 16, 2)]
    document = history_of(_evidence(tmp_path, records))
    rest = next(each for each in document.drifts if each.figure == "rest")
    assert rest.per_day == pytest.approx(0.004, rel=1e-3)
    assert rest.leaves_in_days == pytest.approx((0.03 * 2.996 - 0.004 * 14) / 0.004, abs=0.1)
    (finding,) = document.findings
    assert (finding.code, finding.severity) == ("drifts-on-record", Severity.CAUTION)
    assert len(document.records) == 8


def test_a_still_control_has_no_drift_to_tell(tmp_path: Path) -> None:
    """Equal figures pass."""
    document = history_of(_evidence(tmp_path, [_record(day, 1.0) for day in (1, 5, 9)]))
    assert document.verdict is Severity.PASS
    assert document.findings == ()


def test_records_under_a_condition_and_superseded_ones_are_left_out(tmp_path: Path) -> None:
    """Lights on is no drift, and a bad record is none either."""
    odd = msgspec.structs.replace(
        _record(7, 1.9), superseded=Superseded(reason="tap off", at="2026-03-08T00:00:00+00:00")
    )
    records = [_record(1, 1.0), _record(3, 1.0), _record(5, 1.5, condition="lights on"), odd]
    document = history_of(_evidence(tmp_path, [*records, _record(9, 1.0)]))
    rest = next(each for each in document.drifts if each.figure == "rest")
    assert len(rest.points) == 3
    assert document.records[3].superseded == "tap off"


def test_two_conditions_are_compared_with_spread_and_shift(tmp_path: Path) -> None:
    """Four times the noise and 150 mV of shift are both told, under the condition's name."""
    rig = make_rig(tmp_path)
    off, on = _record(1, 1.0), _record(2, 1.15, noise=0.012, condition="lights on")
    compared, findings = compare(rig, off, on)
    assert compared[0].spread_ratio == pytest.approx(4.0)
    assert compared[0].rest_shift == pytest.approx(0.15)
    assert compared[0].full_shift == pytest.approx(0.0)
    assert {finding.code for finding in findings} == {"noise-grown", "rest-moved"}
    assert all("'lights on'" in finding.text for finding in findings)


def test_a_moved_supply_is_taken_out_before_two_are_compared(tmp_path: Path) -> None:
    """Ratiometric volts are held side by side at one supply."""
    low = _record(2, 0.95, supply_V=4.75)
    compared, _ = compare(make_rig(tmp_path), _record(1, 1.0), low)
    assert compared[0].rest_shift == pytest.approx(0.0, abs=1e-9)


def test_records_without_a_common_control_cannot_be_compared(tmp_path: Path) -> None:
    """Said, with what to do."""
    empty = msgspec.structs.replace(
        _record(2, 1.0), document=CheckDocument(verdict=Severity.PASS, channels={})
    )
    with pytest.raises(UsageError, match="measured no control in common"):
        compare(make_rig(tmp_path), _record(1, 1.0), empty)


def test_the_last_good_check_is_compared_with(tmp_path: Path) -> None:
    """Never one that failed, was superseded, or was of pulled wires; a named one always."""
    good, failed = _record(1, 1.0), _record(5, 1.4, verdict=Severity.FAIL)
    gone = msgspec.structs.replace(
        _record(3, 1.2), superseded=Superseded(reason="wrong rig", at="2026-03-04T00:00:00+00:00")
    )
    wire = PulledWire(wire="signal", low=0.0, high=0.0, settle_s=0.0, inside=0, samples=10)
    pulled = msgspec.structs.replace(
        _record(4, 1.0),
        document=CheckDocument(verdict=Severity.PASS, channels={}, pulled=(wire,)),
    )
    found = check_to_compare(_evidence(tmp_path, [good, gone, pulled, failed]), None)
    assert found is not None
    assert found.id == good.id
    assert check_to_compare(_evidence(tmp_path, [failed]), None) is None
    assert check_to_compare(_evidence(tmp_path, [good, failed]), failed) is failed
