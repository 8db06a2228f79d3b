"""Pieces of the gate's evidence, evenings and times of a capture at both sides of each limit."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calib.checks.bench.judgement import clock_findings
from calib.checks.gate import (
    axis_evidence,
    end_evidence,
    loss_evidence,
    scale_evidence,
    sign_evidence,
    start_evidence,
    surge_evidence,
    zero_evidence,
)
from calib.checks.travel.evenings import evenings_before
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.tilt import (
    AxisZeroFigures,
    Convention,
    LevelDocument,
    SignsDocument,
    StillDocument,
    SurgeDocument,
)
from calib.store.documents.travel import TravelDocument
from calib.store.rig import Rig, read_rig
from calib.tilt.geometry import balance_angle_deg
from tests.records import record_of
from tests.unit.evidence import travel

PASS, FAIL, UNKNOWN = Severity.PASS, Severity.FAIL, Severity.UNKNOWN
ZERO = AxisZeroFigures(reading=0.5, zero=-0.3, u=0.1, u95=0.25, floor_slope=0.8, floor_slope_u=0.1)
LEVEL = LevelDocument(verdict=PASS, pitch=ZERO, method="turned", standings=4)
SCALE = Finding(code="scale", severity=PASS, text="scale is right")
SIGNS = SignsDocument(
    verdict=PASS, findings=(SCALE,), convention="nose-up-positive", pitch_sign=1, axis_ok=True,
    scale_ratio=1.0, gravity_ratio=1.0, cross_share=0.03, lag_s=0.05,
)  # fmt: skip
SURGE = SurgeDocument(
    verdict=PASS, false_pitch_deg=0.6, fused=True, launch_false_pitch_deg=4.0, launch_m_s2=2.0,
    shake_g=0.15, gain=0.03,
)  # fmt: skip


def _rig(text: str = "") -> Rig:
    return read_rig(Path("rig.toml"), f"[tilt]\n{text}\n".encode())


@pytest.mark.parametrize(("below_deg", "verdict"), [(0.001, PASS), (-0.001, FAIL)])
def test_the_aid_has_ended_below_the_balance_angle(below_deg: float, verdict: Severity) -> None:
    """By the margin of the table and by what the zero is known to."""
    margin_deg = 2.0
    ended = balance_angle_deg(600.0, 700.0) - 0.25 - margin_deg - below_deg
    text = (
        f"aid_starts_deg = 5.0\naid_ended_deg = {ended}\ncg_ahead_of_rear_axle_mm = 600\n"
        "cg_height_mm = 700"
    )
    found = end_evidence(LEVEL, _rig(text))
    assert found is not None
    assert found.verdict is verdict


@pytest.mark.parametrize(("ended", "entry"), [(14.0, FAIL), (14.5, PASS)])
def test_the_aid_ends_after_it_starts(ended: float, entry: Severity) -> None:
    """Not where it starts: then it takes all power at once."""
    text = (
        f"aid_starts_deg = 14.0\naid_ended_deg = {ended}\ncg_ahead_of_rear_axle_mm = 600\n"
        "cg_height_mm = 600"
    )
    found = end_evidence(LEVEL, _rig(text))
    assert found is not None
    assert found.verdict is entry


@pytest.mark.parametrize(
    ("text", "verdict"),
    [
        ("", None),
        ("cg_height_mm = 700", UNKNOWN),
        ("aid_ended_deg = 20.0\ncg_height_mm = 700", UNKNOWN),
        ("aid_ended_deg = 20.0\ncg_ahead_of_rear_axle_mm = 700", UNKNOWN),
    ],
)
def test_without_a_whole_centre_of_gravity_there_is_no_end_to_judge(
    text: str, verdict: Severity | None
) -> None:
    """None given asks nothing; half of it is unknown; and so is all of it without a zero."""
    found = end_evidence(LEVEL, _rig(text))
    assert (None if found is None else found.verdict) is verdict
    whole = "aid_ended_deg = 20.0\ncg_ahead_of_rear_axle_mm = 700\ncg_height_mm = 700"
    unzeroed = end_evidence(None, _rig(whole))
    assert unzeroed is not None
    assert unzeroed.verdict is UNKNOWN


@pytest.mark.parametrize(
    ("expects", "sign", "shown", "verdict"),
    [
        ("nose-up-positive", 1, 1, PASS),
        ("nose-up-positive", -1, 1, FAIL),
        ("nose-up-positive", 1, -1, FAIL),
        ("nose-up-positive", 1, None, UNKNOWN),
        ("nose-up-positive", None, 1, UNKNOWN),
        ("nose-down-positive", -1, -1, PASS),
        ("nose-down-positive", 1, -1, FAIL),
        (None, 1, 1, UNKNOWN),
    ],
)
def test_the_sign_is_proven_of_both_sensors_as_the_controller_expects_it(
    expects: Convention | None, sign: int | None, shown: int | None, verdict: Severity
) -> None:
    """Of the logger's and of what the controller shows, where it has one of its own."""
    document = msgspec.structs.replace(
        SIGNS,
        pitch_sign=sign,
        shown_pitch_sign=shown,
        convention="nose-up-positive" if sign == 1 else "nose-down-positive",
    )
    rig = _rig('sensor = "both"' + ("" if expects is None else f'\nexpects = "{expects}"'))
    assert sign_evidence(document, rig).verdict is verdict
    alone = _rig('sensor = "logger"' + ("" if expects is None else f'\nexpects = "{expects}"'))
    told = sign_evidence(document, alone).verdict
    assert told is (verdict if sign is None or expects is None or shown == 1 else told)


@pytest.mark.parametrize(("lag_s", "verdict"), [(0.4, PASS), (0.401, FAIL), (None, UNKNOWN)])
def test_a_sensor_may_come_four_tenths_of_a_second_late(
    lag_s: float | None, verdict: Severity
) -> None:
    """No later; and where nobody measured it, nobody knows."""
    signs = msgspec.structs.replace(SIGNS, lag_s=lag_s)
    rig = _rig()
    assert surge_evidence(SURGE, signs, rig).verdict is verdict
    assert surge_evidence(msgspec.structs.replace(SURGE, fused=False), signs, rig).verdict is FAIL
    assert surge_evidence(msgspec.structs.replace(SURGE, fused=None), signs, rig).verdict is UNKNOWN
    assert surge_evidence(SURGE, None, rig).verdict is UNKNOWN
    assert surge_evidence(None, signs, rig).verdict is UNKNOWN


@pytest.mark.parametrize(
    ("answer", "verdict"),
    [("power off", PASS), (" Aid OFF ", PASS), ("goes on", FAIL), ("unknown", UNKNOWN),
     ("not tried", UNKNOWN), ("", UNKNOWN)],
)  # fmt: skip
def test_what_a_lost_signal_does_must_be_tried(answer: str, verdict: Severity) -> None:
    """Two answers are safe to know about."""
    assert loss_evidence(_rig(f'on_signal_loss = "{answer}"')).verdict is verdict


def test_axis_and_scale_are_as_good_as_what_was_found_of_them() -> None:
    """What was never leaned or raised is unknown; a fault of the capture spoils both."""
    assert axis_evidence(SIGNS).verdict is PASS
    assert scale_evidence(SIGNS).verdict is PASS
    assert axis_evidence(msgspec.structs.replace(SIGNS, axis_ok=None)).verdict is UNKNOWN
    assert axis_evidence(msgspec.structs.replace(SIGNS, axis_ok=False)).verdict is FAIL
    assert scale_evidence(msgspec.structs.replace(SIGNS, scale_ratio=None)).verdict is UNKNOWN
    assert scale_evidence(msgspec.structs.replace(SIGNS, findings=())).verdict is UNKNOWN
    frozen = Finding(code="frozen", severity=FAIL, text="it froze")
    spoilt = msgspec.structs.replace(SIGNS, findings=(SCALE, frozen))
    assert axis_evidence(spoilt).verdict is FAIL
    assert scale_evidence(spoilt).verdict is FAIL


def test_a_zero_is_none_of_one_standing_and_none_without_a_pitch() -> None:
    """Nor of a document that was never made."""
    rig = _rig('sensor = "logger"')
    assert zero_evidence(LEVEL, rig).verdict is PASS
    assert zero_evidence(msgspec.structs.replace(LEVEL, method="single"), rig).verdict is UNKNOWN
    assert zero_evidence(msgspec.structs.replace(LEVEL, pitch=None), rig).verdict is FAIL
    assert zero_evidence(None, rig).verdict is UNKNOWN


def test_an_evening_begins_six_hours_after_the_last() -> None:
    """Of each evening the newest counts; tonight is none of them, and a condition is another."""
    tonight = datetime(2026, 3, 9, 20, 0, tzinfo=UTC)
    hours = (48.0, 42.0, 36.01, 6.0, 5.99)
    documents = [travel(rest_V=0.8 + 0.01 * place) for place in range(len(hours))]
    found = [
        (record_of(document, tonight - timedelta(hours=before)), document)
        for before, document in zip(hours, documents, strict=True)
    ]
    assert _rests(evenings_before(found, tonight, None)) == pytest.approx([0.8, 0.82, 0.83])
    assert evenings_before(found, tonight, "lights on") == ()
    lit = [(msgspec.structs.replace(r, condition="lights on"), d) for r, d in found[:1]]
    assert evenings_before(lit, tonight, None) == ()
    assert len(evenings_before(lit, tonight, "lights on")) == 1


def _rests(documents: tuple[TravelDocument, ...]) -> list[float]:
    return [each.rest.mean for each in documents if each.rest is not None]


@pytest.mark.parametrize(("left_out", "missed"), [(0, 0), (1, 1), (4, 4)])
def test_samples_that_did_not_come_are_counted_by_the_time_they_left(
    left_out: int, missed: int
) -> None:
    """In per cent of those that were due; the longest silence beside them."""
    kept = [place for place in range(200) if not 100 <= place < 100 + left_out]
    time_s = np.array(kept) / 100.0
    told = list(clock_findings(time_s, time_s, missed_pct=0.0, jump_s=0.05))
    assert [each.code for each in told] == ["samples-missed"] * bool(missed)
    for each in told:
        assert each.value == pytest.approx(100.0 * missed / 200.0)
        assert f"{missed} of 200 samples" in each.text
        assert f"{(1 + left_out) / 100.0:g} s" in each.text


@pytest.mark.parametrize(
    ("jump_s", "seen_s", "jumps"),
    [(0.2, 0.0, [0.2]), (0.2, 0.2, []), (0.04, 0.0, []), (-0.2, 0.0, [-0.19]), (-0.04, 0.0, [])],
)
def test_a_clock_jumps_where_the_host_saw_no_such_time_pass(
    jump_s: float, seen_s: float, jumps: list[float]
) -> None:
    """By more than 0.05 s; back, whatever the host saw."""
    time_s, arrival_s = np.arange(200) / 100.0, np.arange(200) / 100.0
    time_s[100:] += jump_s
    arrival_s[100:] += seen_s
    told = list(clock_findings(time_s, arrival_s, missed_pct=100.0, jump_s=0.05))
    assert [each.code for each in told] == ["clock-jumps"] * bool(jumps)
    assert [each.value for each in told] == pytest.approx([abs(each) for each in jumps])


@pytest.mark.parametrize(("share", "told"), [(0.6, "60 %"), (0.03, "3 %"), (None, "0 %")])
def test_the_gate_says_how_much_of_a_lean_shows_as_pitch(share: float | None, told: str) -> None:
    """In whole per cent."""
    found = axis_evidence(msgspec.structs.replace(SIGNS, cross_share=share))
    assert found.text == f"{told} of a lean shows as pitch."


@pytest.mark.parametrize(("lag_s", "told"), [(0.25, "0.25 s late"), (-0.02, "0.00 s late")])
def test_an_angle_is_never_early(lag_s: float, told: str) -> None:
    """What is measured below nought is chance."""
    found = surge_evidence(SURGE, msgspec.structs.replace(SIGNS, lag_s=lag_s), _rig())
    assert found.verdict is PASS
    assert told in found.text


@pytest.mark.parametrize(
    ("shown", "verdict"), [(0.74, PASS), (-0.74, PASS), (0.76, FAIL), (-0.76, FAIL)]
)
def test_a_controller_shows_level_as_nought(shown: float, verdict: Severity) -> None:
    """Within half a degree and what its zero is known to, a quarter."""
    document = msgspec.structs.replace(
        LEVEL, shown=msgspec.structs.replace(ZERO, zero=shown), shown_method="turned"
    )
    found = zero_evidence(document, _rig('sensor = "both"'))
    assert found.verdict is verdict
    assert ("must show zero within 0.75" in found.text) is (verdict is FAIL)


def test_an_aid_that_starts_too_soon_is_told_where_to_start() -> None:
    """A degree above all that is no rising nose: 0.25, 2.5, 2, 0.6 and 4 degrees are 9.35."""
    rider = msgspec.structs.replace(
        LEVEL, pitch=msgspec.structs.replace(ZERO, rider_tilt=2.5, rider_tilt_u=0.0)
    )
    still = StillDocument(verdict=PASS, noise=0.2, drift_per_h=0.1, drift_u_per_h=0.05, unit="deg")
    rig = _rig("aid_starts_deg = 8.0\ndive_deg = 2.0")
    found = start_evidence(LEVEL, rider, SURGE, still, rig)
    assert found.verdict is FAIL
    assert "8.0 degrees; 9.3" in found.text
    assert "most of it a launch's false pitch" in found.text
    assert found.action.startswith("Let it start at 10 degrees or more")
