"""From a shake fore and aft to the false pitch of a launch, its findings and its document."""

from __future__ import annotations

from calib.checks.capture import capture_findings
from calib.checks.limits import tilt_limit
from calib.checks.order import in_order
from calib.checks.tilt.signal import signal_findings
from calib.checks.tilt.stuck import stuck_findings
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.finding import CaptureRef, Finding, Severity, worst
from calib.store.documents.surge import SurgeDocument
from calib.store.rig import Rig
from calib.tilt.inputs import series_of
from calib.tilt.series import rests_of
from calib.tilt.surge import LEAST_SHAKE_G, Strokes, Surge, find_surge, surge_shown


def judge_surge(
    capture: Capture,
    rig: Rig,
    cautions: tuple[str, ...],
    *,
    strokes: Strokes | None = None,
) -> SurgeDocument:
    """The document of a shake.

    Args:
        capture: A rest and a shake on level ground.
        rig: What the columns are, and the machine's acceleration.
        cautions: The usual cautions of the flow.
        strokes: The shake as the person counted it, where no accelerometer sees it.

    Raises:
        UsageError: No tilt sensor in the rig file.
    """
    inputs, series = series_of(capture, rig)
    launch = rig.tilt.launch_m_s2
    surge = find_surge(series, launch_m_s2=launch, strokes=strokes)
    findings = [
        *capture_findings(capture, rig),
        *signal_findings(series, inputs, None),
        *stuck_findings(capture, inputs, series),
    ]
    if rests_of(series).longest() is None:
        findings.append(said.unknown("never-still"))
    else:
        findings += _surge_findings(surge, launch, rig)
    return _document(surge, findings, cautions, launch, capture.ref())


def judge_shown_surge(
    rig: Rig, cautions: tuple[str, ...], *, most_deg: float, step_deg: float, strokes: Strokes
) -> SurgeDocument:
    """The document of a shake that only the controller's display saw.

    Args:
        rig: The machine's acceleration.
        cautions: The usual cautions of the flow.
        most_deg: Largest change of the display from rest, degrees.
        step_deg: Step of the display, degrees.
        strokes: The shake as the person counted it.
    """
    launch = rig.tilt.launch_m_s2
    surge = surge_shown(most_deg, step_deg, strokes, launch)
    findings = _surge_findings(surge, launch, rig)
    return _document(surge, findings, cautions, launch, None)


def _document(
    surge: Surge,
    findings: list[Finding],
    cautions: tuple[str, ...],
    launch_m_s2: float | None,
    capture: CaptureRef | None,
) -> SurgeDocument:
    return SurgeDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=in_order(findings),
        cautions=cautions,
        capture=capture,
        false_pitch_deg=surge.false_pitch_deg,
        fused=surge.fused,
        launch_false_pitch_deg=surge.launch_false_pitch_deg,
        launch_m_s2=launch_m_s2,
        shake_g=surge.shake_g,
        shake_hz=surge.shake_hz,
        gain=surge.gain,
    )


def _surge_findings(surge: Surge, launch_m_s2: float | None, rig: Rig) -> list[Finding]:
    """What the shake says."""
    if surge.false_pitch_deg is None:
        return [_too_weak(surge)]
    return [_fusing(surge), *_launch(surge, launch_m_s2, tilt_limit("launch_deg", rig))]


def _too_weak(surge: Surge) -> Finding:
    """No shake, or one that proves nothing."""
    seen = "no shake was seen" if surge.shake_g is None else f"the shake was {surge.shake_g:.3f} g"
    return said.unknown("shake-too-weak", surge.shake_g, LEAST_SHAKE_G, seen=seen)


def _fusing(surge: Surge) -> Finding:
    """Whether the sensor tells tilt from push."""
    false = surge.false_pitch_deg or 0.0
    shown = f"Shaken fore and aft on the level, it showed up to {false:.1f} degrees of pitch"
    if surge.fused is None:
        return Finding(
            code="fusing-unknown",
            severity=Severity.UNKNOWN,
            text=f"{shown}; whether it tells tilt from push is not clear"
            + (": nothing measured the push." if surge.gain is None else f" ({_share(surge)})."),
            value=false,
            unit="deg",
            action="Shake harder and faster; without an accelerometer give --stroke-mm and "
            "--strokes.",
        )
    if surge.fused:
        return said.passes("fused", false, shown=shown, share=_share(surge))
    return said.fail("reads-push-as-tilt", false, shown=shown, share=_share(surge))


def _share(surge: Surge) -> str:
    """The gain in words."""
    gain = 0.0 if surge.gain is None else surge.gain
    return f"{100 * gain:.0f} % of what a bare accelerometer shows"


def _launch(surge: Surge, launch_m_s2: float | None, most_deg: float) -> list[Finding]:
    """What a launch would make of it."""
    if launch_m_s2 is None:
        return [said.unknown("launch-unknown")]
    angle = surge.launch_false_pitch_deg
    if angle is None or surge.fused is not True:
        return []
    good = angle <= most_deg
    return [
        Finding(
            code="launch",
            severity=Severity.PASS if good else Severity.CAUTION,
            text=f"Two seconds of driving off at {launch_m_s2:.1f} m/s² would look like "
            f"{angle:.1f} degrees of raised nose.",
            value=angle,
            limit=most_deg,
            unit="deg",
            action="" if good else "Let the aid start at a larger angle, or drive off more gently.",
        )
    ]
