"""From poses of the machine to the proof of sign, axis and scale, and its document."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from calib.checks.capture import capture_findings
from calib.checks.order import in_order
from calib.checks.tilt.signal import (
    gravity_ratio,
    never_changes,
    one_of_each,
    signal_findings,
)
from calib.checks.tilt.signs_findings import (
    axis_findings,
    block_findings,
    lag_findings,
    mounting_findings,
    pose_findings,
    scale_findings,
    sign_findings,
)
from calib.checks.tilt.stuck import stuck_findings
from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.signs import Convention, PoseFigures, SignsDocument, StatedAxis
from calib.store.rig import Rig
from calib.tilt.attitude import nose_up_deg
from calib.tilt.geometry import RaisedAngle, raised_angle
from calib.tilt.inputs import ACCEL, TiltInputs, series_of
from calib.tilt.lag import step_lag
from calib.tilt.series import TiltReading, TiltSeries, reading_of, rests_of
from calib.tilt.signs import Pose, Signs, find_signs
from calib.tilt.tell_apart import tell_apart

LEAST_LIKENESS: Final = 0.5
"""Own choice: below this correlation a lag is a guess."""


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
        raise UsageError(
            "There is no level pose to start from.",
            "Give it with --from FILE or live, or type what the controller shows.",
        )
    expects = settings.expects or rig.tilt.expects
    findings: list[Finding] = []
    logged = _Logged(None)
    if Pose.LEVEL in captures:
        logged = _judge_captures(captures, rig, expected, wheelbase_mm or 0.0)
        findings += logged.findings
        if logged.signs is not None:
            findings += _all_findings(
                logged.signs, expects, "The reading", rig, logged.gravity_ratio
            )
    if shown is not None:
        findings += _all_findings(shown, expects, "The controller's display", rig)
    lag_s = logged.lag_s if settings.shown.lag_s is None else settings.shown.lag_s
    logged = replace(logged, lag_s=lag_s)
    findings += lag_findings(lag_s, rig)
    return _document(shown, logged, expects, expected, findings, captures, cautions)


def _document(
    shown: Signs | None,
    logged: _Logged,
    expects: Convention | None,
    expected: RaisedAngle,
    findings: list[Finding],
    captures: Mapping[Pose, Capture],
    cautions: tuple[str, ...],
) -> SignsDocument:
    """The document of what was found."""
    level = captures.get(Pose.LEVEL)
    main = shown if level is None else logged.signs
    sign = None if main is None else main.pitch_sign
    return SignsDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=in_order(findings),
        cautions=cautions,
        capture=None if level is None else level.ref(),
        convention=_convention(sign),
        pitch_sign=_sign(sign),
        axis_ok=_axis_ok(main, findings),
        scale_ratio=None if main is None else main.scale_ratio,
        gravity_ratio=logged.gravity_ratio,
        expects=expects,
        basis="controller" if level is None else "logger",
        shown_pitch_sign=_sign(None if shown is None else shown.pitch_sign),
        expected_deg=expected.angle_deg,
        scale_against="accelerometer" if main and main.against == "accelerometer" else "block",
        cross_share=None if main is None else main.cross_share,
        yaw_deg=None if main is None else main.yaw_deg,
        mounting=None if main is None or main.mounting is None else main.mounting.text,
        lag_s=logged.lag_s,
        axes=logged.axes,
        poses=logged.figures,
    )


@dataclass(frozen=True)
class _Logged:
    """What the logger's captures say."""

    signs: Signs | None
    findings: tuple[Finding, ...] = ()
    gravity_ratio: float | None = None
    lag_s: float | None = None
    figures: tuple[PoseFigures, ...] = ()
    axes: tuple[StatedAxis, ...] = ()


def expected_angle(block_mm: float, wheelbase_mm: float | None) -> RaisedAngle:
    """The angle of the block, or what is missing to know it."""
    if wheelbase_mm is None:
        raise UsageError(
            "The wheelbase is not known.",
            "Give --wheelbase-mm N, or wheelbase_mm under [tilt] in the rig file.",
        )
    try:
        return raised_angle(block_mm, wheelbase_mm)
    except ValueError as error:
        raise UsageError(
            f"{error}.", "Give both in mm with --block-mm and --wheelbase-mm."
        ) from error


def _shown_signs(shown: ShownPoses, expected: RaisedAngle, wheelbase_mm: float) -> Signs | None:
    """What the controller's display says; None where no pose was typed."""
    if not shown.any:
        return None
    if shown.level_deg is None:
        raise UsageError(
            "What the controller shows in the level pose is not known.",
            "Give it with --shown-level A, or run 'calib level --shown-level A' first.",
        )
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
    findings: list[Finding] = []
    read: dict[Pose, TiltSeries] = {}
    for pose, capture in captures.items():
        findings += capture_findings(capture, rig)
        inputs, read[pose] = series_of(capture, rig)
        findings += stuck_findings(capture, inputs, read[pose])
    inputs, level_series = series_of(captures[Pose.LEVEL], rig)
    if len(captures) == 1:
        poses, question = _told_apart(level_series, expected)
        findings += never_changes(level_series, rig)
    else:
        poses, question = _by_name(read)
    if question:
        findings.append(_open_question(question))
    level = poses.get(Pose.LEVEL)
    ratio = None if level is None else gravity_ratio(level, inputs)
    for pose, series in read.items():
        findings += signal_findings(series, inputs, ratio if pose is Pose.LEVEL else None)
    findings = one_of_each(findings)
    if level is None or any(f.code in ("gravity", "frozen", "unit") and f.severity is Severity.FAIL
                            for f in findings):  # fmt: skip
        return _Logged(None, tuple(findings), ratio)
    signs = find_signs(poses, expected, wheelbase_mm)
    return _Logged(
        signs,
        tuple(findings),
        ratio,
        _lag_s(list(read.values())),
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


def _told_apart(series: TiltSeries, expected: RaisedAngle) -> tuple[dict[Pose, TiltReading], str]:
    """All poses of one capture, and the question that stays open."""
    stretches = [reading_of(series, still) for still in rests_of(series).stretches]
    if series.force_g is None:
        return {}, (
            "Without an accelerometer the poses of one capture cannot be told apart: give one "
            "file a pose."
        )
    told = tell_apart(stretches, expected)
    return told.poses, told.question


def _by_name(read: Mapping[Pose, TiltSeries]) -> tuple[dict[Pose, TiltReading], str]:
    """One pose a capture: its longest rest."""
    poses: dict[Pose, TiltReading] = {}
    moving = []
    for pose, series in read.items():
        rest = rests_of(series).longest()
        if rest is None:
            moving.append(pose.value)
        else:
            poses[pose] = reading_of(series, rest)
    question = f"The machine never stood still in: {', '.join(moving)}." if moving else ""
    return poses, question


def _open_question(question: str) -> Finding:
    """A pose that could not be read or told."""
    return Finding(
        code="poses-open",
        severity=Severity.UNKNOWN,
        text=question,
        action="Capture again; each pose held still for three seconds, the front raised twice.",
    )


def _all_findings(
    signs: Signs,
    expects: Convention | None,
    lead: str,
    rig: Rig,
    gravity_ratio: float | None = None,
) -> list[Finding]:
    """Everything that the poses say."""
    return [
        *sign_findings(signs, expects, lead),
        *pose_findings(signs),
        *axis_findings(signs, lead, rig),
        *scale_findings(signs, lead, rig, gravity_ratio),
        *block_findings(signs, rig),
        *mounting_findings(signs),
    ]


def _axis_ok(signs: Signs | None, findings: list[Finding]) -> bool | None:
    """Whether pitch answers to the nose and not to the lean; None where no lean was seen."""
    if signs is None or signs.cross_share is None or signs.pitch_sign is None:
        return False if signs is not None and signs.follows_roll else None
    bad = {"axis", "axis-yawed", "mounting"}
    return not any(f.code in bad and f.severity is Severity.FAIL for f in findings)


def _sign(sign: int | None) -> Literal[-1, 1] | None:
    """A sign as the document has it."""
    if sign is None:
        return None
    return 1 if sign > 0 else -1


def _convention(sign: int | None) -> Convention | None:
    """The convention of a sign."""
    if sign is None:
        return None
    return "nose-up-positive" if sign > 0 else "nose-down-positive"


def _lag_s(all_series: list[TiltSeries]) -> float | None:
    """How late the pitch channel is behind the accelerometer, s; None where nothing shows it."""
    for series in all_series:
        if series.pitch_deg is None or series.force_g is None or series.breaks:
            continue
        lag = step_lag(series.pitch_deg, nose_up_deg(series.force_g), series.rate_hz)
        if lag is not None and lag.likeness >= LEAST_LIKENESS:
            return lag.lag_s
    return None


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
