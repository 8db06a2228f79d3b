"""From poses of the machine to the proof of sign, axis and scale, its findings and document."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from calib.checks.capture import capture_findings
from calib.checks.limits import tilt_limit
from calib.checks.order import judged
from calib.checks.tilt import signal
from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.tilt import Convention, PoseFigures, SignsDocument, StatedAxis
from calib.store.rig import Rig
from calib.tilt.geometry import RaisedAngle, raised_angle
from calib.tilt.inputs import ACCEL, TiltInputs, series_of
from calib.tilt.series import TiltReading, TiltSeries, longest_rest, pitch_lag, reading_of, rests_of
from calib.tilt.signs import LEANS, LEAST_LEAN_DEG, Pose, Signs, find_signs
from calib.tilt.tell_apart import tell_apart

LEAST_LIKENESS: Final = 0.5
"""Own choice: below this correlation a lag is a guess."""


_RADIAN: Final = math.pi / 180

CONVENTIONS: Final[dict[int | None, Convention]] = {
    1: "nose-up-positive",
    -1: "nose-down-positive",
}
"""The convention of each sign of pitch; both are in use, so the person says which is expected.

Source: ISO 8855 has y to the left, so a right-handed pitch is positive nose down (stated so by ASAM
OpenDRIVE 8.2); with y to the right and z down, as in SAE J670 and aeronautics, it is positive nose
up."""


@dataclass(frozen=True)
class ShownPoses:
    """What the person typed from the controller's display, degrees.

    Attributes:
        level_deg: In the level pose.
        front_raised_deg: With the front on the block.
        leaned_left_deg: Leaned to the left by about ten degrees.
        step_deg: Step of the display.
        lag_s: How long after a quick raise the display stood still again, s.
    """

    level_deg: float | None = None
    front_raised_deg: float | None = None
    leaned_left_deg: float | None = None
    step_deg: float = 0.1
    lag_s: float | None = None

    @property
    def any(self) -> bool:
        """Whether a pose was typed."""
        return self.front_raised_deg is not None or self.leaned_left_deg is not None


@dataclass(frozen=True)
class SignsSettings:
    """What the person set or typed.

    Attributes:
        block_mm: Height under the raised wheel, mm.
        wheelbase_mm: Distance of the axles, mm; from the rig file when None.
        expects: The convention that the controller expects; from the rig file when None.
        shown: The controller's own readings.
    """

    block_mm: float
    wheelbase_mm: float | None = None
    expects: Convention | None = None
    shown: ShownPoses = field(default_factory=ShownPoses)


def judge_signs(
    captures: Mapping[Pose, Capture],
    rig: Rig,
    settings: SignsSettings,
    cautions: tuple[str, ...],
) -> SignsDocument:
    """The document of a proof of sign.

    Args:
        captures: One capture a pose; with level alone, its capture holds all poses in any order.
        rig: What the columns are.
        settings: What the person set.
        cautions: The usual cautions of the flow.

    Raises:
        UsageError: No pose at all, a block that cannot be, or no wheelbase.
    """
    wheelbase_mm = settings.wheelbase_mm or rig.tilt.wheelbase_mm
    expected = expected_angle(settings.block_mm, wheelbase_mm)
    shown = _shown_signs(settings.shown, expected, wheelbase_mm or 0.0)
    if Pose.LEVEL not in captures and shown is None:
        raise UsageError.of("no-level-pose")
    expects = settings.expects or rig.tilt.expects
    level = captures.get(Pose.LEVEL)
    logged = _Logged()
    if level is not None:
        logged = _judge_captures(captures, rig, expected, wheelbase_mm or 0.0)
    findings = list(logged.findings)
    if logged.signs is not None:
        findings += sign_findings(logged.signs, expects, "The reading", rig, logged.gravity_ratio)
    if shown is not None:
        findings += sign_findings(shown, expects, "The controller's display", rig)
    lag_s = logged.lag_s if settings.shown.lag_s is None else settings.shown.lag_s
    late_s = tilt_limit("lag_s", rig)
    if lag_s is not None and lag_s > late_s:
        findings.append(said.fail("late", lag_s, late_s))
    main = (shown if level is None else logged.signs) or Signs(expected)
    return SignsDocument(
        **judged(findings, cautions, None if level is None else level.ref()),
        convention=CONVENTIONS.get(main.pitch_sign),
        pitch_sign=main.pitch_sign,
        axis_ok=_axis_ok(main, shown or main, rig),
        scale_ratio=main.scale_ratio,
        gravity_ratio=logged.gravity_ratio,
        expects=expects,
        basis="controller" if level is None else "logger",
        shown_pitch_sign=None if shown is None else shown.pitch_sign,
        expected_deg=expected.angle_deg,
        scale_against=main.against,
        cross_share=main.cross_share,
        yaw_deg=main.yaw_deg,
        mounting=None if main.mounting is None else main.mounting.text,
        lag_s=lag_s,
        axes=logged.axes,
        poses=logged.figures,
    )


@dataclass(frozen=True)
class _Logged:
    """What the logger's captures say."""

    signs: Signs | None = None
    findings: tuple[Finding, ...] = ()
    gravity_ratio: float | None = None
    lag_s: float | None = None
    figures: tuple[PoseFigures, ...] = ()
    axes: tuple[StatedAxis, ...] = ()


def expected_angle(block_mm: float, wheelbase_mm: float | None) -> RaisedAngle:
    """The angle of the block, or what is missing to know it."""
    if wheelbase_mm is None:
        raise UsageError.of("wheelbase-unknown")
    try:
        return raised_angle(block_mm, wheelbase_mm)
    except ValueError as error:
        raise UsageError.of("block-impossible", error=error) from error


def _shown_signs(shown: ShownPoses, expected: RaisedAngle, wheelbase_mm: float) -> Signs | None:
    """What the controller's display says; None where no pose was typed."""
    if not shown.any:
        return None
    if shown.level_deg is None:
        raise UsageError.of("level-display-unknown")
    u_deg = shown.step_deg / 12**0.5
    typed = (
        (Pose.LEVEL, shown.level_deg),
        (Pose.FRONT_RAISED, shown.front_raised_deg),
        (Pose.LEANED_LEFT, shown.leaned_left_deg),
    )
    poses = {
        pose: TiltReading(pitch_deg=value, u_pitch_deg=u_deg)
        for pose, value in typed
        if value is not None
    }
    return find_signs(poses, expected, wheelbase_mm)


def _judge_captures(
    captures: Mapping[Pose, Capture], rig: Rig, expected: RaisedAngle, wheelbase_mm: float
) -> _Logged:
    """Poses from captures; no sign of a signal that cannot carry one."""
    seen = {pose: series_of(capture, rig) for pose, capture in captures.items()}
    read = {pose: series for pose, (_, series) in seen.items()}
    inputs, level_series = seen[Pose.LEVEL]
    findings: list[Finding] = []
    spoilt: list[Finding] = []
    bounds: list[Finding] = []
    for pose, capture in captures.items():
        findings += capture_findings(capture, rig)
        spoilt += signal.stuck_findings(capture, *seen[pose])
    if len(captures) == 1:
        poses, is_open = _told_apart(level_series, expected)
        if signal.only_pitch_deg([level_series], rig) is not None:  # though it was moved
            spoilt.append(said.fail("frozen/never-changes", 0.0))
    else:
        poses, is_open = _by_name(read)
    findings += is_open
    level = poses.get(Pose.LEVEL)
    ratio = None if level is None else signal.gravity_ratio(level, inputs)
    for pose, series in read.items():
        spoilt += signal.spoilt_findings(series, inputs, ratio if pose is Pose.LEVEL else None)
        bounds += signal.bound_findings(series, inputs)
    spoilt = signal.one_of_each(spoilt)
    found = (*findings, *spoilt, *signal.one_of_each(bounds))
    if level is None or any(finding.severity is Severity.FAIL for finding in spoilt):
        return _Logged(None, found, ratio)
    signs = find_signs(poses, expected, wheelbase_mm)
    lags = (pitch_lag(series) for series in read.values() if not series.breaks)
    return _Logged(
        signs,
        found,
        ratio,
        next((lag.lag_s for lag in lags if lag and lag.likeness >= LEAST_LIKENESS), None),
        _figures(poses, signs),
        _stated_axes(signs, inputs),
    )


def _stated_axes(signs: Signs, inputs: TiltInputs) -> tuple[StatedAxis, ...]:
    """How the rig file would have to state the accelerometer's axes; empty where they are right."""
    if signs.mounting is None or signs.mounting.axes is None:
        return ()
    stated = []
    for place, (index, sign) in enumerate(signs.mounting.axes):
        name, _ = inputs.places[ACCEL[index]]
        channel = inputs.rig.channels[name]
        stated.append(
            StatedAxis(
                channel=name,
                column=str(channel.column),
                role=ACCEL[place],
                sign=1 if sign * channel.sign > 0 else -1,
            )
        )
    return tuple(stated)


def _told_apart(
    series: TiltSeries, expected: RaisedAngle
) -> tuple[dict[Pose, TiltReading], list[Finding]]:
    """All poses of one capture, and what stays open."""
    if series.force_g is None:
        return {}, [said.unknown("poses-open/no-force")]
    told = tell_apart([reading_of(series, still) for still in rests_of(series)], expected)
    is_open = [said.unknown("poses-open", question=told.question)] if told.question else []
    return told.poses, is_open


def _by_name(
    read: Mapping[Pose, TiltSeries],
) -> tuple[dict[Pose, TiltReading], list[Finding]]:
    """One pose a capture, its longest rest, and what stays open."""
    rests = {pose: longest_rest(series) for pose, series in read.items()}
    moving = ", ".join(pose.value for pose, rest in rests.items() if rest is None)
    is_open = [said.unknown("poses-open/moving", moving=moving)] if moving else []
    poses = {pose: reading_of(read[pose], rest) for pose, rest in rests.items() if rest is not None}
    return poses, is_open


def _axis_ok(main: Signs, shown: Signs, rig: Rig) -> bool | None:
    """Whether pitch answers to the nose and not to the lean; None where no lean was seen."""
    if main.cross_share is None or main.pitch_sign is None:
        return False if main.follows_roll else None
    return not any(
        axis_severity(signs, rig) is Severity.FAIL
        or (signs.mounting is not None and not signs.mounting.right)
        for signs in (main, shown)
    )


def _figures(poses: Mapping[Pose, TiltReading], signs: Signs) -> tuple[PoseFigures, ...]:
    """The poses for the document."""
    return tuple(
        PoseFigures(
            pose=pose.value,
            pitch=reading.pitch_deg,
            pitch_change=signs.changes[pose].pitch_deg if pose in signs.changes else 0.0,
            roll_change=signs.changes[pose].roll_deg if pose in signs.changes else None,
        )
        for pose, reading in poses.items()
    )


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
        yield said.fail("mounting", mounting.rest_deg, mounting=mounting)


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
