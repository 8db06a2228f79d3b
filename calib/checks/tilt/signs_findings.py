"""What the poses of the machine say of a tilt sensor's sign, axis, scale and mounting."""

from __future__ import annotations

import math
from typing import Final

from calib.checks.limits import tilt_limit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.signs import Convention
from calib.store.rig import Rig
from calib.tilt.signs import LEAST_LEAN_DEG, Pose, Signs

_RADIAN: Final = math.pi / 180


def sign_findings(signs: Signs, expects: Convention | None, lead: str) -> list[Finding]:
    """The sign: proven, reversed, contradicted or open."""
    if signs.contradiction:
        return [said.fail("sign-contradiction", lead=lead)]
    if signs.pitch_sign is None:
        return [_unproven(signs, lead)]
    seen = "nose-up-positive" if signs.pitch_sign > 0 else "nose-down-positive"
    moved = signs.changes[Pose.FRONT_RAISED].pitch_deg
    text = f"Nose raised by {signs.expected.angle_deg:.1f} degrees: {lead.lower()} went " + (
        f"{'up' if moved > 0 else 'down'} by {abs(moved):.1f}, so it is {_words(seen)}"
    )
    if expects is None:
        return [said.unknown("expects-unknown", moved, text=text)]
    if seen == expects:
        return [said.passes("sign", moved, signs.expected.angle_deg, text=text)]
    return [
        said.fail(
            "sign-reversed", moved, signs.expected.angle_deg, text=text, words=_words(expects)
        )
    ]


def _words(convention: str) -> str:
    """A convention in words."""
    return convention.replace("-positive", " positive").replace("nose-", "nose ")


def _unproven(signs: Signs, lead: str) -> Finding:
    """No sign, and why."""
    front = signs.changes.get(Pose.FRONT_RAISED)
    if front is None:
        return said.unknown("sign-unproven/tilt", None, signs.expected.angle_deg)
    return said.fail("sign-unproven", front.pitch_deg, signs.expected.angle_deg, lead=lead)


def pose_findings(signs: Signs) -> list[Finding]:
    """Poses that look like level."""
    found = []
    for pose in (Pose.LEANED_LEFT, Pose.LEANED_RIGHT):
        change = signs.changes.get(pose)
        if change is None:
            continue
        lean = change.turn_deg if change.turn_deg is not None else change.roll_deg
        if lean is not None and abs(lean) < LEAST_LEAN_DEG:
            found.append(
                said.unknown("pose-missing", abs(lean), LEAST_LEAN_DEG, the_value=pose.value)
            )
    front, rear = signs.changes.get(Pose.FRONT_RAISED), signs.changes.get(Pose.REAR_RAISED)
    if front is not None and rear is not None and front == rear:
        found.append(said.unknown("pose-repeated"))
    return found


def axis_findings(signs: Signs, lead: str, rig: Rig) -> list[Finding]:
    """Whether pitch answers to the nose alone."""
    if signs.follows_roll:
        return [
            said.fail("axis", signs.changes[Pose.FRONT_RAISED].pitch_deg, signs.expected.angle_deg)
        ]
    share = signs.cross_share
    if share is None:
        return [said.unknown("axis-unproven")]
    percent, pass_pct = 100 * share, tilt_limit("cross_pct", rig)
    if percent <= pass_pct:
        severity = Severity.PASS
        action = ""
    elif percent <= tilt_limit("cross_fail_pct", rig):
        severity = Severity.CAUTION
        action = "Turn the sensor square to the machine about the upright axis."
    else:
        severity = Severity.FAIL
        action = "Turn the sensor so that its pitch axis lies across the machine."
    return [
        Finding(
            code="axis" if severity is Severity.PASS else "axis-yawed",
            severity=severity,
            text=f"{percent:.0f} % of a lean shows as pitch" + _yaw_words(signs, lead),
            value=percent,
            limit=pass_pct,
            unit="%",
            action=action,
        )
    ]


def _yaw_words(signs: Signs, lead: str) -> str:
    """How far the sensor is turned, in words."""
    if signs.yaw_deg is None or abs(signs.yaw_deg) < 1:
        return f" of {lead.lower()}."
    way = "left" if signs.yaw_deg > 0 else "right"
    return f": the sensor is turned {abs(signs.yaw_deg):.0f} degrees to the {way}."


def scale_findings(
    signs: Signs, lead: str, rig: Rig, gravity_ratio: float | None = None
) -> list[Finding]:
    """Measured over expected angle.

    Args:
        signs: What the poses showed.
        lead: Whose reading it is, as a sentence begins.
        rig: For its own limits.
        gravity_ratio: What the accelerometer shows of gravity at rest; None without one.

    Source: own choice: an accelerometer that shows a part too much or too little of gravity has a
    bias along it, and turns by as large a part too little or too much.
    """
    ratio = signs.scale_ratio
    if ratio is None or signs.scale_u is None:
        return []
    for factor, text in (
        (_RADIAN, "pi/180 of what it must: the column is in radians, and the rig file says "
         "degrees."),
        (1 / _RADIAN, "180/pi of what it must: the column is in degrees, and the rig file says "
         "radians."),
    ):  # fmt: skip
        if abs(ratio / factor - 1) < 0.2:
            return [_scale_finding(ratio, Severity.FAIL, f"{lead} moves by {text}", _UNIT_ACTION)]
    own = signs.against == "accelerometer"
    tolerance = tilt_limit("scale_accel_pct" if own else "scale_block_pct", rig) / 100
    off = abs(ratio - 1)
    text = f"{lead} moves by {ratio:.2f} of what the {signs.against} says"
    if off <= tolerance:
        return [_scale_finding(ratio, Severity.PASS, f"{text}.", "")]
    if off <= tolerance + 2 * signs.scale_u:
        return [
            _scale_finding(
                ratio,
                Severity.CAUTION,
                f"{text}: springs alone may do that, or the scale is off.",
                "Take a plank twice as high, and raise front and rear.",
            )
        ]
    bias = abs(gravity_ratio - 1.0) if own and gravity_ratio is not None else 0.0
    if off <= tolerance + 2 * signs.scale_u + bias:
        why = f"but that one shows {gravity_ratio:.3f} of gravity at rest, and may be the wrong one"
        action = "True the accelerometer by 'calib poses', then take the signs again."
        return [_scale_finding(ratio, Severity.CAUTION, f"{text}, {why}.", action)]
    return [_scale_finding(ratio, Severity.FAIL, f"{text}: its scale is wrong.", _SCALE_ACTION)]


def block_findings(signs: Signs, rig: Rig) -> list[Finding]:
    """A plank or wheelbase that cannot be what was typed, by the accelerometer's own angle."""
    turned, u = signs.turned_deg, signs.turned_u
    made, tolerance = signs.expected.angle_deg, tilt_limit("scale_block_pct", rig) / 100
    if turned is None or u is None or abs(turned - made) <= tolerance * made + 2 * u:
        return []
    return [said.caution("block-contradicted", turned, made)]


_UNIT_ACTION: Final = "Mend 'unit' in the rig file."
_SCALE_ACTION: Final = (
    "Check volts a degree (or counts per g) in the rig file, block and wheelbase."
)


def _scale_finding(ratio: float, severity: Severity, text: str, action: str) -> Finding:
    return Finding(
        code="scale", severity=severity, text=text, value=ratio, limit=1.0, action=action
    )


def mounting_findings(signs: Signs) -> list[Finding]:
    """A mounting that is not as the rig file says, in words."""
    mounting = signs.mounting
    if mounting is None or mounting.right:
        return []
    return [
        Finding(
            code="mounting",
            severity=Severity.FAIL,
            text=f"Accelerometer: {mounting.text}.",
            value=mounting.rest_deg,
            unit="deg",
            action=mounting.remedy,
        )
    ]


def lag_findings(lag_s: float | None, rig: Rig) -> list[Finding]:
    """An angle that comes too late to be acted upon."""
    most_s = tilt_limit("lag_s", rig)
    if lag_s is None or lag_s <= most_s:
        return []
    return [said.fail("late", lag_s, most_s)]
