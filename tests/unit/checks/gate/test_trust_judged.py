"""The gate: trusted only when every required piece of evidence passes and is fresh."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest

from calib.checks.file.validity import Filed
from calib.checks.gate import STATEMENT, judge_trust
from calib.store.asked import asking
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.kinds import AnyDocument
from calib.store.documents.note import Happening, NoteDocument
from calib.store.documents.tilt import (
    AxisZeroFigures,
    LevelDocument,
    SignsDocument,
    StillDocument,
    SurgeDocument,
    TrustDocument,
)
from calib.store.records import OnFile, Record
from calib.store.rig import Rig
from tests.records import on_file, record_of
from tests.tilt_files import ACCEL, PITCH, TILT, tilt_rig

EVENING = datetime(2026, 3, 1, 20, 0, tzinfo=UTC)
PASS = Severity.PASS
ZERO = AxisZeroFigures(
    reading=0.5, zero=-0.3, u=0.1, u95=0.2, floor_slope=0.8, floor_slope_u=0.1,
    rider_tilt=2.4, rider_tilt_u=0.5,
)  # fmt: skip
SCALE = Finding(code="scale", severity=PASS, text="scale is right")
LEVEL = LevelDocument(verdict=PASS, pitch=ZERO, method="turned", standings=4)
SIGNS = SignsDocument(
    verdict=PASS, findings=(SCALE,), convention="nose-up-positive", pitch_sign=1, axis_ok=True,
    scale_ratio=1.01, gravity_ratio=1.0, cross_share=0.03, lag_s=0.05,
)  # fmt: skip
SURGE = SurgeDocument(
    verdict=PASS, false_pitch_deg=0.6, fused=True, launch_false_pitch_deg=4.0, launch_m_s2=2.0,
    shake_g=0.15, gain=0.03,
)  # fmt: skip
STILL = StillDocument(verdict=PASS, noise=0.05, drift_per_h=0.1, drift_u_per_h=0.05, unit="deg")


@dataclass
class File:
    """Evidence on file for a rig, complete and sound until something is changed."""

    rig: Rig
    documents: dict[str, AnyDocument] = field(
        default_factory=lambda: {"level": LEVEL, "signs": SIGNS, "surge": SURGE, "still": STILL}
    )
    after: list[AnyDocument] = field(default_factory=list)
    now: datetime = EVENING + timedelta(hours=2)

    def judged(self, rig_now: Rig | None = None) -> TrustDocument:
        """What the gate says."""
        made = [*self.documents.values(), *self.after]
        asked = _asked(self.rig)
        records = [
            _record(asked, document, EVENING + timedelta(minutes=index))
            for index, document in enumerate(made)
        ]
        return judge_trust(Filed(rig_now or self.rig, on_file(records), self.now), ("mind",))


def _asked(rig: Rig) -> Rig:
    """The rig, asked for all that evidence about tilt rests on."""
    asked = asking(rig)
    for name in rig.tilt_channels:
        asked.note_below(f"channels.{name}")
    for key in ("tilt.mounting", "tilt.sensor", "tilt.truing"):
        asked.note_below(key)
    return asked


def _record(asked: Rig, document: AnyDocument, made: datetime) -> Record:
    return record_of(document, made, rig=asked, tilt=True)


@pytest.fixture
def file(tmp_path: Path) -> File:
    """Complete, sound evidence."""
    return File(tilt_rig(tmp_path, ACCEL + PITCH))


def _why(document: TrustDocument) -> dict[str, Severity]:
    return {e.name: e.verdict for e in document.evidence if e.verdict is not PASS}


def test_complete_and_fresh_evidence_is_trusted(file: File) -> None:
    """And says what that means: the inputs are proven, the aid itself is not tested."""
    document = file.judged()
    assert document.trusted, _why(document)
    assert document.verdict is PASS
    assert document.statement == STATEMENT
    assert "not tested" in document.statement
    assert any("climb" in caution for caution in document.cautions)
    assert len(document.evidence) == 10


@pytest.mark.parametrize("name", ["level", "signs", "surge", "still"])
def test_anything_missing_is_unknown_and_not_trusted(file: File, name: str) -> None:
    """One document less: at best unknown, with what to run."""
    del file.documents[name]
    document = file.judged()
    assert not document.trusted
    assert document.verdict is Severity.UNKNOWN
    assert all(e.action for e in document.evidence if e.verdict is not PASS)


def test_nothing_on_file_is_unknown(tmp_path: Path) -> None:
    """An empty folder is not a fail and not a pass."""
    rig = tilt_rig(tmp_path, ACCEL, "")
    document = judge_trust(Filed(rig, OnFile(), EVENING), ())
    assert not document.trusted
    assert document.verdict is Severity.UNKNOWN
    assert all(e.verdict is Severity.UNKNOWN for e in document.evidence)
    assert all(e.age_h is None for e in document.evidence)


@pytest.mark.parametrize(
    "key",
    [
        "expects", "aid_starts_deg", "aid_ended_deg", "dive_deg", "cg_ahead_of_rear_axle_mm",
        "cg_height_mm", "on_signal_loss",
    ],
)  # fmt: skip
def test_an_answer_that_the_person_has_not_given_is_unknown(tmp_path: Path, key: str) -> None:
    """Every answer in the rig file is required."""
    lines = [line for line in TILT.splitlines() if not line.startswith(key)]
    file = File(tilt_rig(tmp_path, ACCEL + PITCH, "\n".join(lines) + "\n"))
    document = file.judged()
    assert not document.trusted
    assert document.verdict is Severity.UNKNOWN


def _changed(name: str, **change: object) -> Callable[[File], None]:
    def apply(file: File) -> None:
        file.documents[name] = msgspec.structs.replace(file.documents[name], **change)

    return apply


@pytest.mark.parametrize(
    ("change", "piece", "verdict"),
    [
        (_changed("level", method="single"), "zero", "unknown"),
        (_changed("level", verdict=Severity.CAUTION), "zero", "caution"),
        (_changed("level", pitch=None, verdict=Severity.FAIL), "zero", "fail"),
        (_changed("signs", pitch_sign=-1, convention="nose-down-positive"), "sign", "fail"),
        (_changed("signs", pitch_sign=None, convention=None), "sign", "unknown"),
        (_changed("signs", axis_ok=None), "axis", "unknown"),
        (_changed("signs", axis_ok=False), "axis", "fail"),
        (_changed("signs", scale_ratio=None), "scale", "unknown"),
        (_changed("signs", findings=()), "scale", "unknown"),
        (_changed("signs", lag_s=None), "surge", "unknown"),
        (_changed("signs", lag_s=1.2), "surge", "fail"),
        (_changed("surge", fused=None, verdict=Severity.UNKNOWN), "surge", "unknown"),
        (_changed("surge", fused=False), "surge", "fail"),
        (_changed("surge", launch_false_pitch_deg=None), "surge", "unknown"),
        (_changed("surge", launch_false_pitch_deg=9.5), "angle where the aid starts", "fail"),
        (_changed("still", drift_per_h=None), "noise and drift", "unknown"),
        (_changed("still", verdict=Severity.FAIL), "noise and drift", "fail"),
        (_changed("still", noise=3.0), "angle where the aid starts", "fail"),
        (_changed("still", unit="V"), "noise and drift", "unknown"),
    ],
)  # fmt: skip
def test_each_odd_piece_of_evidence_shuts_the_gate(
    file: File, change: Callable[[File], None], piece: str, verdict: str
) -> None:
    """One document that is odd in one way: that piece of evidence says so."""
    change(file)
    document = file.judged()
    assert not document.trusted
    assert document.verdict in (Severity.UNKNOWN, Severity.FAIL)
    assert _why(document)[piece] == verdict


@pytest.mark.parametrize("what", ["rewired", "remounted", "dropped", "tyre", "fork", "spring"])
def test_a_noted_change_makes_evidence_stale(file: File, what: Happening) -> None:
    """Stale after each of them, until it is measured again."""
    file.after.append(NoteDocument(verdict=PASS, what=what))
    document = file.judged()
    assert not document.trusted
    assert document.verdict is Severity.UNKNOWN
    assert "Stale" in document.evidence[0].text
    file.after += [LEVEL, SIGNS, SURGE, STILL]
    assert file.judged().trusted


def test_evidence_is_stale_after_thirty_days(file: File) -> None:
    """Thirty days and an hour are too old; a day less is not."""
    file.now = EVENING + timedelta(days=29)
    assert file.judged().trusted
    file.now = EVENING + timedelta(days=30, hours=2)
    document = file.judged()
    assert not document.trusted
    assert document.verdict is Severity.UNKNOWN
    assert document.evidence[0].age_h == pytest.approx(722, abs=1)


def test_evidence_from_the_future_is_odd(file: File) -> None:
    """A clock that was set back must not keep evidence young for ever."""
    file.now = EVENING - timedelta(days=2)
    document = file.judged()
    assert not document.trusted
    assert "future" in document.evidence[0].text


@pytest.mark.parametrize(
    ("text", "tilt"),
    [
        (ACCEL + PITCH.replace('column = "p"', 'column = "q"'), TILT),
        (ACCEL + PITCH.replace('unit = "deg"', 'unit = "rad"'), TILT),
        (ACCEL.replace("range_g = 4.0", "range_g = 2.0") + PITCH, TILT),
        (ACCEL + PITCH, TILT + 'mounting = "under the seat"\n'),
        (ACCEL + PITCH, TILT + '[tilt.truing]\nbias = [0.0, 0.0, 0.1]\nmatrix = [[1.0,0.0,0.0],'
         '[0.0,1.0,0.0],[0.0,0.0,1.0]]\nu = 0.001\ndate = "2026-03-01"\n'),
    ],
)  # fmt: skip
def test_a_changed_tilt_input_makes_evidence_stale(
    file: File, tmp_path: Path, text: str, tilt: str
) -> None:
    """Column, unit, range, mounting or truing changed in the rig file since."""
    other = tmp_path / "other"
    other.mkdir()
    document = file.judged(tilt_rig(other, text, tilt))
    assert not document.trusted
    assert "Stale" in document.evidence[0].text


def test_a_changed_answer_leaves_evidence_fresh_but_is_judged(file: File, tmp_path: Path) -> None:
    """The angle at which the aid starts is no input of the sensor; a too small one fails."""
    other = tmp_path / "other"
    other.mkdir()
    rig = tilt_rig(other, ACCEL + PITCH, TILT.replace("starts_deg = 14.0", "starts_deg = 6.0"))
    document = file.judged(rig)
    assert _why(document) == {"angle where the aid starts": Severity.FAIL}
    assert document.verdict is Severity.FAIL


@pytest.mark.parametrize(
    ("change", "verdict"),
    [
        (("aid_ended_deg = 30.0", "aid_ended_deg = 42.0"), Severity.FAIL),
        (("aid_ended_deg = 30.0", "aid_ended_deg = 13.0"), Severity.FAIL),
        (("cg_height_mm = 650", "cg_height_mm = 1200"), Severity.FAIL),
    ],
)
def test_the_aid_must_have_ended_below_the_balance_angle(
    tmp_path: Path, change: tuple[str, str], verdict: Severity
) -> None:
    """atan(600/650) is 42.7 degrees: 42 is too late; 13 would be before it starts."""
    file = File(tilt_rig(tmp_path, ACCEL + PITCH, TILT.replace(*change)))
    assert _why(file.judged())["angle where it has ended"] is verdict


def test_without_a_centre_of_gravity_the_end_is_not_judged_and_that_is_said(
    tmp_path: Path,
) -> None:
    """It is held against the balance angle where one can be known; else a caution says so."""
    lines = [line for line in TILT.splitlines() if not line.startswith("cg_")]
    document = File(tilt_rig(tmp_path, ACCEL + PITCH, "\n".join(lines) + "\n")).judged()
    assert document.trusted
    assert "angle where it has ended" not in {each.name for each in document.evidence}
    assert any("centre of gravity" in caution for caution in document.cautions)


@pytest.mark.parametrize(
    ("answer", "verdict"),
    [("aid off", None), ("goes on", Severity.FAIL), ("not known", Severity.UNKNOWN)],
)
def test_what_happens_when_the_signal_dies_is_part_of_the_evidence(
    tmp_path: Path, answer: str, verdict: Severity | None
) -> None:
    """The person's answer decides: an aid that goes on with a dead angle is not trusted."""
    text = TILT.replace('"power off"', f'"{answer}"')
    file = File(tilt_rig(tmp_path, ACCEL + PITCH, text))
    assert _why(file.judged()).get("signal loss") == verdict


class TestOwnSensorOfTheController:
    """Sign and zero must hold as the controller shows them when it has its own."""

    @pytest.fixture
    def own(self, tmp_path: Path) -> File:
        """A controller with its own sensor, everything typed and sound."""
        file = File(tilt_rig(tmp_path, ACCEL + PITCH, TILT + 'sensor = "both"\n'))
        shown = AxisZeroFigures(reading=0.9, zero=0.1, u=0.1, u95=0.2, floor_slope=0.8)
        _changed("level", shown=shown, shown_method="turned")(file)
        _changed("signs", shown_pitch_sign=1)(file)
        return file

    def test_typed_and_sound_is_trusted(self, own: File) -> None:
        """Zero near zero, sign as expected, on the controller's own display."""
        assert own.judged().trusted

    @pytest.mark.parametrize(
        ("change", "piece", "verdict"),
        [
            (_changed("level", shown=None), "zero", Severity.UNKNOWN),
            (_changed("level", shown_method="single"), "zero", Severity.UNKNOWN),
            (
                _changed("level", shown=AxisZeroFigures(reading=2.0, zero=1.5, u=0.1, u95=0.2)),
                "zero",
                Severity.FAIL,
            ),
            (_changed("signs", shown_pitch_sign=None), "sign", Severity.UNKNOWN),
            (_changed("signs", shown_pitch_sign=-1), "sign", Severity.FAIL),
        ],
    )
    def test_what_was_not_typed_or_is_wrong_shuts_the_gate(
        self, own: File, change: Callable[[File], None], piece: str, verdict: Severity
    ) -> None:
        """The logger's own good sensor does not stand in for the controller's."""
        change(own)
        assert _why(own.judged())[piece] is verdict


def test_a_newer_failed_zero_is_not_hidden_by_an_older_good_one(file: File) -> None:
    """The newest attempt counts."""
    file.after.append(LevelDocument(verdict=Severity.FAIL, pitch=None, method="turned"))
    assert _why(file.judged())["zero"] is Severity.FAIL


def test_a_later_seated_run_does_not_take_the_zeros_place(file: File) -> None:
    """`level --seated` alone gives the rider's tilt, and leaves the turned zero."""
    file.documents["level"] = msgspec.structs.replace(
        LEVEL, pitch=msgspec.structs.replace(ZERO, rider_tilt=None, rider_tilt_u=None)
    )
    assert _why(file.judged())["rider's tilt"] is Severity.UNKNOWN
    file.after.append(
        LevelDocument(verdict=Severity.CAUTION, pitch=ZERO, method="single", standings=1)
    )
    assert file.judged().trusted


def test_a_superseded_record_does_not_count(file: File) -> None:
    """Bad records are superseded with a reason; the gate looks past them."""
    from calib.store.records import Superseded

    asked = _asked(file.rig)
    good = [_record(asked, d, EVENING) for d in file.documents.values()]
    bad = _record(asked, msgspec.structs.replace(SIGNS, pitch_sign=-1), EVENING)
    marked = msgspec.structs.replace(bad, superseded=Superseded(reason="typo", at="x"))
    for last, trusted in ((marked, True), (bad, False)):
        document = judge_trust(Filed(file.rig, on_file([*good, last]), file.now), ())
        assert document.trusted is trusted
