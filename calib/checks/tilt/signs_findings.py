"""What the poses of the machine say of a tilt sensor's sign, axis, scale and mounting."""

from __future__ import annotations

import math
from typing import Final

from calib.checks.limits import tilt_limit
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.signs import Convention
from calib.store.rig import Rig
from calib.tilt.signs import LEAST_LEAN_DEG, Pose, Signs

_RADIAN: Final = math.pi / 180


def sign_findings(signs: Signs, expects: Convention | None, lead: str) -> list[Finding]:
    """The sign: proven, reversed, contradicted or open."""
    if signs.contradiction:
        return [
            Finding(
                code="sign-contradiction",
                severity=Severity.FAIL,
                text=f"{lead} moved the same way with the front raised and with the rear raised.",
                action="One of the two poses was not what it was called: repeat both.",
            )
        ]
    if signs.pitch_sign is None:
        return [_unproven(signs, lead)]
    seen = "nose-up-positive" if signs.pitch_sign > 0 else "nose-down-positive"
    moved = signs.changes[Pose.FRONT_RAISED].pitch_deg
    text = f"Nose raised by {signs.expected.angle_deg:.1f} degrees: {lead.lower()} went " + (
        f"{'up' if moved > 0 else 'down'} by {abs(moved):.1f}, so it is {_words(seen)}"
    )
    if expects is None:
        return [
            Finding(
                code="expects-unknown",
                severity=Severity.UNKNOWN,
                text=f"{text}. Which way the controller expects is not known.",
                value=moved,
                unit="deg",
                action="Look it up in the maker's manual and give it with --expects.",
            )
        ]
    if seen == expects:
        return [
            Finding(
                code="sign",
                severity=Severity.PASS,
                text=f"{text}, as the controller expects.",
                value=moved,
                limit=signs.expected.angle_deg,
                unit="deg",
            )
        ]
    return [
        Finding(
            code="sign-reversed",
            severity=Severity.FAIL,
            text=f"{text}; the controller expects {_words(expects)}. The aid would let the "
            "nose rise, and cut power when it falls.",
            value=moved,
            limit=signs.expected.angle_deg,
            unit="deg",
            action="Turn the sensor half round about the upright axis, or set the controller to "
            "the other sign; then prove it again.",
        )
    ]


def _words(convention: str) -> str:
    """A convention in words."""
    return convention.replace("-positive", " positive").replace("nose-", "nose ")


def _unproven(signs: Signs, lead: str) -> Finding:
    """No sign, and why."""
    front = signs.changes.get(Pose.FRONT_RAISED)
    if front is None:
        return Finding(
            code="sign-unproven",
            severity=Severity.UNKNOWN,
            text="The nose was never raised, so no sign is proven.",
            limit=signs.expected.angle_deg,
            unit="deg",
            action="Roll the front wheel up a wedge onto a plank, rear chocked, and capture.",
        )
    return Finding(
        code="sign-unproven",
        severity=Severity.FAIL,
        text=f"{lead} moved by {front.pitch_deg:+.2f} degrees when the nose was raised by "
        f"{signs.expected.angle_deg:.1f}: no sign is proven.",
        value=front.pitch_deg,
        limit=signs.expected.angle_deg,
        unit="deg",
        action="See axis and scale below; or the pose was not taken.",
    )


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
                Finding(
                    code="pose-missing",
                    severity=Severity.UNKNOWN,
                    text=f"'{pose.value}' turned the machine by {abs(lean):.1f} degrees only.",
                    value=abs(lean),
                    limit=LEAST_LEAN_DEG,
                    unit="deg",
                    action="Lean it by about ten degrees, by hand on the frame, and hold.",
                )
            )
    front, rear = signs.changes.get(Pose.FRONT_RAISED), signs.changes.get(Pose.REAR_RAISED)
    if front is not None and rear is not None and front == rear:
        found.append(
            Finding(
                code="pose-repeated",
                severity=Severity.UNKNOWN,
                text="Front raised and rear raised are the same readings: one pose was given "
                "twice.",
                action="Capture each pose for itself.",
            )
        )
    return found


def axis_findings(signs: Signs, lead: str, rig: Rig) -> list[Finding]:
    """Whether pitch answers to the nose alone."""
    if signs.follows_roll:
        return [
            Finding(
                code="axis",
                severity=Severity.FAIL,
                text="The raised nose moved the roll and not the pitch: the axes are exchanged, "
                "or the sensor is turned a quarter.",
                value=signs.changes[Pose.FRONT_RAISED].pitch_deg,
                limit=signs.expected.angle_deg,
                unit="deg",
                action="Turn the sensor so that its pitch axis lies across the machine.",
            )
        ]
    share = signs.cross_share
    if share is None:
        return [
            Finding(
                code="axis-unproven",
                severity=Severity.UNKNOWN,
                text="The machine was never leaned, so it is not known whether pitch answers to "
                "lean.",
                action="Lean it by about ten degrees to each side, by hand on the frame.",
            )
        ]
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
    return [
        Finding(
            code="block-contradicted",
            severity=Severity.CAUTION,
            text=f"The accelerometer turned by {turned:.1f} degrees; plank and wheelbase as given "
            f"make {made:.1f}: one of the two is not what was typed.",
            value=turned,
            limit=made,
            unit="deg",
            action="Measure the plank under the tyre, and the wheelbase from axle to axle, again.",
        )
    ]


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
    return [
        Finding(
            code="late",
            severity=Severity.FAIL,
            text=f"The angle comes {lag_s:.1f} s after the tilt: an aid would act on the past.",
            value=lag_s,
            limit=most_s,
            unit="s",
            action="Shorten the sensor's filter, or fit one that blends in a gyro.",
        )
    ]
