"""What the poses of the machine say of a tilt sensor's sign, axis, scale and mounting."""

from __future__ import annotations

import math
from typing import Any, Final

from calib.checks.limits import tilt_limit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.tilt import Convention
from calib.store.rig import Rig
from calib.tilt.signs import LEANS, LEAST_LEAN_DEG, Pose, Signs

_RADIAN: Final = math.pi / 180

CONVENTIONS: Final[dict[int | None, Convention]] = {
    1: "nose-up-positive",
    -1: "nose-down-positive",
}
"""The convention of each sign of pitch; both are in use, so the person says which is expected.

Source: ISO 8855 has y to the left, so a right-handed pitch is positive nose down (stated so by ASAM
OpenDRIVE 8.2); with y to the right and z down, as in SAE J670 and aeronautics, it is positive nose
up."""


def sign_findings(
    signs: Signs,
    expects: Convention | None,
    lead: str,
    rig: Rig,
    gravity_ratio: float | None = None,
) -> said.Findings:
    """Everything that the poses say.

    Args:
        signs: What the poses showed.
        expects: The convention that the controller expects; None where nobody said.
        lead: Whose reading it is, as a sentence begins.
        rig: For its own limits.
        gravity_ratio: What the accelerometer shows of gravity at rest; None without one.
    """
    yield from _way_findings(signs, expects, lead)
    yield from _pose_findings(signs)
    yield from _axis_findings(signs, lead, rig)
    if signs.scale_ratio is not None:
        yield _scale_finding(signs, signs.scale_ratio, lead, rig, gravity_ratio)
    turned, made = signs.turned_deg, signs.expected.angle_deg
    most_off = tilt_limit("scale_block_pct", rig) / 100 * made + 2 * (signs.turned_u or 0.0)
    if turned is not None and abs(turned - made) > most_off:
        yield said.caution("block-contradicted", turned, made)
    mounting = signs.mounting
    if mounting is not None and not mounting.right:
        yield said.fail(
            "mounting", mounting.rest_deg, mounting=mounting.text, remedy=mounting.remedy
        )


def _way_findings(signs: Signs, expects: Convention | None, lead: str) -> said.Findings:
    """The sign: proven, reversed, contradicted or open."""
    front, raised_deg = signs.changes.get(Pose.FRONT_RAISED), signs.expected.angle_deg
    if signs.contradiction:
        yield said.fail("sign-contradiction", lead=lead)
    elif front is None:
        yield said.unknown("sign-unproven/not-raised", None, raised_deg)
    elif signs.pitch_sign is None:
        yield said.fail("sign-unproven", front.pitch_deg, raised_deg, lead=lead)
    else:
        seen = CONVENTIONS[signs.pitch_sign]
        moved = front.pitch_deg
        figures: dict[str, Any] = {
            "raised_deg": raised_deg,
            "lead": lead.lower(),
            "way": "up" if moved > 0 else "down",
            "moved_deg": abs(moved),
            "seen": _words(seen),
        }
        if expects is None:
            yield said.unknown("expects-unknown", moved, **figures)
        elif seen == expects:
            yield said.passes("sign", moved, raised_deg, **figures)
        else:
            yield said.fail("sign-reversed", moved, raised_deg, wanted=_words(expects), **figures)


def _words(convention: str) -> str:
    """A convention in words."""
    return convention.replace("-positive", " positive").replace("nose-", "nose ")


def _pose_findings(signs: Signs) -> said.Findings:
    """Poses that look like level, or like one another."""
    for pose in LEANS:
        change = signs.changes.get(pose)
        lean_deg = None if change is None else change.lean_deg
        if lean_deg is not None and lean_deg < LEAST_LEAN_DEG:
            yield said.unknown("pose-missing", lean_deg, LEAST_LEAN_DEG, pose=pose.value)
    front, rear = signs.changes.get(Pose.FRONT_RAISED), signs.changes.get(Pose.REAR_RAISED)
    if front is not None and front == rear:
        yield said.unknown("pose-repeated")


def axis_severity(signs: Signs, rig: Rig) -> Severity:
    """How well pitch answers to the nose alone; unknown where the machine was never leaned."""
    if signs.follows_roll:
        return Severity.FAIL
    if signs.cross_share is None:
        return Severity.UNKNOWN
    percent = 100 * signs.cross_share
    if percent <= tilt_limit("cross_pct", rig):
        return Severity.PASS
    return Severity.CAUTION if percent <= tilt_limit("cross_fail_pct", rig) else Severity.FAIL


def _axis_findings(signs: Signs, lead: str, rig: Rig) -> said.Findings:
    """Whether pitch answers to the nose alone."""
    if signs.follows_roll:
        moved = signs.changes[Pose.FRONT_RAISED].pitch_deg
        yield said.fail("axis/exchanged", moved, signs.expected.angle_deg)
        return
    if signs.cross_share is None:
        yield said.unknown("axis-unproven")
        return
    percent, pass_pct = 100 * signs.cross_share, tilt_limit("cross_pct", rig)
    yaw_deg = signs.yaw_deg or 0.0
    where = f" of {lead.lower()}"
    if abs(yaw_deg) >= 1:
        way = "left" if yaw_deg > 0 else "right"
        where = f": the sensor is turned {abs(yaw_deg):.0f} degrees to the {way}"
    severity = axis_severity(signs, rig)
    if severity is Severity.PASS:
        yield said.passes("axis", percent, pass_pct, where=where)
    elif severity is Severity.CAUTION:
        yield said.caution("axis-yawed", percent, pass_pct, where=where)
    else:
        yield said.fail("axis-yawed/far", percent, pass_pct, where=where)


def _scale_finding(
    signs: Signs, ratio: float, lead: str, rig: Rig, gravity_ratio: float | None
) -> Finding:
    """Measured over expected angle.

    Source: own choice: an accelerometer that shows a part too much or too little of gravity has a
    bias along it, and turns by as large a part too little or too much.
    """
    in_radians, in_degrees = (abs(ratio / each - 1) < 0.2 for each in (_RADIAN, 1 / _RADIAN))
    if in_radians or in_degrees:
        return said.fail("scale/radians" if in_radians else "scale/degrees", ratio, 1.0, lead=lead)
    against = signs.against
    own = against == "accelerometer"
    tolerance = tilt_limit("scale_accel_pct" if own else "scale_block_pct", rig) / 100
    off, doubt = abs(ratio - 1), 2 * (signs.scale_u or 0.0)
    if off <= tolerance:
        return said.passes("scale", ratio, 1.0, lead=lead, against=against)
    if off <= tolerance + doubt:
        return said.caution("scale/springs", ratio, 1.0, lead=lead, against=against)
    if own and gravity_ratio is not None and off <= tolerance + doubt + abs(gravity_ratio - 1.0):
        return said.caution(
            "scale/by-gravity", ratio, 1.0, lead=lead, against=against, gravity=gravity_ratio
        )
    return said.fail("scale/wrong", ratio, 1.0, lead=lead, against=against)
