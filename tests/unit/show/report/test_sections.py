from __future__ import annotations

import html
from pathlib import Path

import pytest

from calib.show.report import write_report
from calib.store.documents.check import (
    ChannelCheck,
    CheckDocument,
    CheckFigures,
    CheckLevel,
    PulledWire,
)
from calib.store.documents.finding import BudgetLine, Finding, Severity
from calib.store.documents.kinds import AnyDocument
from calib.store.documents.meter import MeterDocument, MeterPoint
from calib.store.documents.tilt import (
    AxisZeroFigures,
    Evidence,
    LevelDocument,
    PoseFigures,
    PosesDocument,
    SignsDocument,
    StillDocument,
    SurgeDocument,
    TrustDocument,
)
from tests.unit.evidence import bench

LOOK = (Finding(code="x", severity=Severity.CAUTION, text="It wandered.", action="Wait."),)
PITCH = AxisZeroFigures(
    reading=1.31,
    zero=0.42,
    u=0.06,
    u95=0.12,
    floor_slope=0.89,
    floor_slope_u=0.05,
    rider_tilt=-1.7,
    rider_tilt_u=0.2,
    budget=(BudgetLine(source="settling of the springs", u=0.05, type="A", dof=3),),
)
FULL: dict[str, tuple[AnyDocument, tuple[str, ...]]] = {
    "level": (
        LevelDocument(verdict=Severity.PASS, findings=LOOK, pitch=PITCH, method="turned"),
        ("+0.42° ± 0.12", "floor slopes by +0.89°", "settling of the springs", "It wandered."),
    ),
    "signs": (
        SignsDocument(
            verdict=Severity.PASS,
            convention="nose-up-positive",
            pitch_sign=1,
            axis_ok=True,
            scale_ratio=0.98,
            poses=(PoseFigures(pose="front raised", pitch=2.7, pitch_change=2.3),),
        ),
        ("nose-up-positive", "front raised", "+2.30°", "0.98"),
    ),
    "surge": (
        SurgeDocument(verdict=Severity.PASS, false_pitch_deg=1.4, fused=True),
        ("1.4°", "tells tilt from push"),
    ),
    "still": (
        StillDocument(
            verdict=Severity.PASS,
            channel="pitch",
            tau_s=(0.1, 1.0, 10.0),
            sigma=(0.3, 0.1, 0.2),
            average_s=1.0,
        ),
        ("Allan deviation of pitch", "Lowest 0.1 deg at 1 s"),
    ),
    "poses": (
        PosesDocument(
            verdict=Severity.PASS,
            claim="full",
            bias=(0.01, -0.02, 0.003),
            matrix=((1.0, 0.0, 0.0), (0.0, 1.01, 0.0), (0.0, 0.0, 0.99)),
            poses=14,
            distinct=9,
        ),
        ("bias + scale", "-0.0200 g", "+1.0100"),
    ),
    "meter": (
        MeterDocument(
            verdict=Severity.PASS,
            channel="grip",
            gain=0.9712,
            u_gain=0.0004,
            offset_V=0.003,
            u_offset_V=0.001,
            points=(MeterPoint(logger=2.06, u_logger=0.001, meter=2.0, u_meter=0.004),),
            residuals_V=(-0.0021,),
        ),
        ("0.9712", "2.060 V", "-2.1 mV"),
    ),
    "check": (
        CheckDocument(
            verdict=Severity.CAUTION,
            channels={
                "grip": ChannelCheck(
                    verdict=Severity.CAUTION,
                    role="control",
                    findings=LOOK,
                    figures=CheckFigures(
                        unit="V",
                        rest=CheckLevel(mean=0.813, sd=0.001, u=0.001, stays=3),
                        noise=0.004,
                    ),
                )
            },
            findings=LOOK,
            cannot_see=("Bounces below 10 ms.",),
        ),
        ("0.813 V", "nothing to compare with", "It wandered.", "Bounces below 10 ms."),
    ),
    "trust": (
        TrustDocument(
            verdict=Severity.UNKNOWN,
            evidence=(
                Evidence(
                    name="zero", verdict=Severity.UNKNOWN, age_h=2.0, text="Single.", action="Turn."
                ),
            ),
            statement="Not trusted.",
        ),
        ("Not trusted.", "Single.", "Turn."),
    ),
}
EMPTY: dict[str, AnyDocument] = {
    "level": LevelDocument(verdict=Severity.UNKNOWN),
    "signs": SignsDocument(verdict=Severity.UNKNOWN),
    "surge": SurgeDocument(verdict=Severity.UNKNOWN),
    "still": StillDocument(verdict=Severity.UNKNOWN),
    "poses": PosesDocument(verdict=Severity.UNKNOWN),
    "check": CheckDocument(verdict=Severity.UNKNOWN, channels={}),
    "meter": MeterDocument(verdict=Severity.UNKNOWN, channel="grip"),
    "trust": TrustDocument(verdict=Severity.UNKNOWN),
}


def page_with(folder: Path, command: str, document: AnyDocument) -> str:
    """The text of a report about one record."""
    here = bench(folder)
    here.keep(document, None, command)
    path = write_report(folder, here.filed, folder / "report.html")
    return html.unescape(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("command", FULL)
def test_a_section_says_what_its_record_holds(tmp_path: Path, command: str) -> None:
    """Every figure that a person would ask for is in the section of its kind."""
    document, expected = FULL[command]
    page = page_with(tmp_path, command, document)
    for words in expected:
        assert words in page


@pytest.mark.parametrize("command", EMPTY)
def test_an_empty_record_makes_a_whole_page_without_a_figure(tmp_path: Path, command: str) -> None:
    """What was not measured is told as not measured: no None, no made-up zero."""
    page = page_with(tmp_path, command, EMPTY[command])
    assert "None" not in page
    assert "UNKNOWN" in page


def test_a_check_stands_beside_the_one_it_was_compared_with(tmp_path: Path) -> None:
    """Before and now, figure by figure."""
    here = bench(tmp_path)

    def check(rest_V: float, against: str | None) -> CheckDocument:
        figures = CheckFigures(unit="V", rest=CheckLevel(mean=rest_V, sd=0.0, u=0.001, stays=3))
        channel = ChannelCheck(verdict=Severity.PASS, role="control", figures=figures)
        return CheckDocument(
            verdict=Severity.PASS, channels={"grip": channel}, compared_with=against
        )

    first = here.keep(check(0.801, None), None, "check", days=3)
    here.keep(check(0.823, first.id), None, "check")
    path = write_report(tmp_path, here.filed, tmp_path / "report.html")
    assert '<td data-head="rest">0.823 V (was 0.801 V)</td>' in path.read_text(encoding="utf-8")


def test_a_level_zero_that_was_measured_twice_has_a_trend(tmp_path: Path) -> None:
    """Drift is drawn once there is something to compare."""
    here = bench(tmp_path)
    document, _ = FULL["level"]
    here.keep(document, None, "level", days=9)
    path = tmp_path / "report.html"
    write_report(tmp_path, here.filed, path)
    assert "How the level zero moved" not in path.read_text(encoding="utf-8")
    here.keep(document, None, "level")
    write_report(tmp_path, here.filed, path)
    assert "How the level zero moved" in path.read_text(encoding="utf-8")


def test_wires_that_were_pulled_are_told_one_by_one(tmp_path: Path) -> None:
    """What each wire read when it was off, whose reading it was, and every finding once."""
    wire = PulledWire(wire="ground", low=4.85, high=4.87, settle_s=0.0, inside=0, samples=90)
    channel = ChannelCheck(verdict=Severity.PASS, role="control", findings=LOOK)
    about = Finding(code="x", severity=Severity.CAUTION, text="It wandered.", channel="grip")
    document = CheckDocument(
        verdict=Severity.PASS, channels={"grip": channel}, findings=(about,), pulled=(wire,)
    )
    page = page_with(tmp_path, "check", document)
    assert "Wires pulled on purpose: grip" in page
    assert '<td data-head="reads">4.850 to 4.870 V</td>' in page
    assert page.count("It wandered.") == 1
