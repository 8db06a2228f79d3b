"""From a shake fore and aft to the false pitch of a launch, its findings and its document."""

from __future__ import annotations

from msgspec.structs import replace

from calib.checks.capture import capture_findings
from calib.checks.limits import tilt_limit
from calib.checks.order import judged
from calib.checks.tilt.signal import signal_findings, stuck_findings
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.tilt import SurgeDocument
from calib.store.rig import Rig
from calib.tilt.inputs import series_of
from calib.tilt.series import rests_of
from calib.tilt.surge import LEAST_SHAKE_G, Strokes, find_surge, surge_shown


def judge_surge(
    capture: Capture, rig: Rig, cautions: tuple[str, ...], *, strokes: Strokes | None = None
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
    surge = find_surge(series, launch_m_s2=rig.tilt.launch_m_s2, strokes=strokes)
    findings = [
        *capture_findings(capture, rig),
        *signal_findings(series, inputs, None),
        *stuck_findings(capture, inputs, series),
    ]
    if not rests_of(series):
        findings.append(said.unknown("never-still"))
    else:
        findings += _surge_findings(surge, rig)
    head = judged(findings, cautions, capture.ref())
    return replace(surge, **head, launch_m_s2=rig.tilt.launch_m_s2)


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
    surge = surge_shown(most_deg, step_deg, strokes, rig.tilt.launch_m_s2)
    head = judged(list(_surge_findings(surge, rig)), cautions)
    return replace(surge, **head, launch_m_s2=rig.tilt.launch_m_s2)


def _surge_findings(surge: SurgeDocument, rig: Rig) -> said.Findings:
    """What the shake says, and what a launch would make of it."""
    false_deg, share = surge.false_pitch_deg, 100 * (surge.gain or 0.0)
    if false_deg is None and surge.shake_g is None:
        yield said.unknown("shake-too-weak/none", None, LEAST_SHAKE_G)
    elif false_deg is None:
        yield said.unknown("shake-too-weak", surge.shake_g, LEAST_SHAKE_G)
    elif surge.gain is None:
        yield said.unknown("fusing-unknown/push-unknown", false_deg)
    elif surge.fused is None:
        yield said.unknown("fusing-unknown", false_deg, share=share)
    elif surge.fused:
        yield said.passes("fused", false_deg, share=share)
    else:
        yield said.fail("reads-push-as-tilt", false_deg, share=share)
    if false_deg is None:
        return
    angle_deg, launch_m_s2 = surge.launch_false_pitch_deg, rig.tilt.launch_m_s2
    most_deg = tilt_limit("launch_deg", rig)
    if launch_m_s2 is None:
        yield said.unknown("launch-unknown")
    elif angle_deg is not None and surge.fused:
        yield said.within("launch", "launch/large", angle_deg, most_deg, launch_m_s2=launch_m_s2)
