"""What poses, a shake and a hand's truing say at both sides of each limit."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from calib.checks.tilt.poses import judge_poses
from calib.checks.tilt.signs import (
    ShownPoses,
    SignsSettings,
    axis_severity,
    judge_signs,
    sign_findings,
)
from calib.checks.tilt.surge import judge_shown_surge, judge_surge
from calib.errors import UsageError
from calib.measure.uncertainty import coverage_factor
from calib.store.capture import Capture
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.tilt import Convention, PosesDocument, SignsDocument
from calib.store.rig import Rig, read_rig
from calib.tilt.geometry import raised_angle
from calib.tilt.signs import Change, Pose, Signs
from calib.tilt.surge import Strokes
from tests.wheel_files import wheel_capture

Array = npt.NDArray[np.float64]
RATE_HZ = 50.0
RAISED = raised_angle(100, 1250)
FORCE = "".join(
    f'[channels.{axis}]\nrole = "accel-{axis}"\ncolumn = "{axis}"\nunit = "g"\n' for axis in "xyz"
)
PITCH = '[channels.pitch]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n'


def _rig(text: str = PITCH) -> Rig:
    return read_rig(Path("rig.toml"), text.encode())


def _change(pitch_deg: float, *, roll_deg: float | None = None) -> Change:
    return Change(pitch_deg, roll_deg, None, 0.01)


def _said(signs: Signs, expects: Convention | None = "nose-up-positive") -> dict[str, Finding]:
    """What is said of poses, by its code."""
    found = list(sign_findings(signs, expects, "The reading", _rig()))
    assert len({each.code for each in found}) == len(found)
    return {each.code: each for each in found}


@pytest.mark.parametrize(
    ("moved_deg", "expects", "code", "severity", "words"),
    [
        (4.5, "nose-up-positive", "sign", Severity.PASS, "up by 4.5"),
        (-4.5, "nose-down-positive", "sign", Severity.PASS, "down by 4.5"),
        (0.9, "nose-up-positive", "sign", Severity.PASS, "up by 0.9"),
        (4.5, "nose-down-positive", "sign-reversed", Severity.FAIL, "up by 4.5"),
        (-4.5, "nose-up-positive", "sign-reversed", Severity.FAIL, "down by 4.5"),
        (4.5, None, "expects-unknown", Severity.UNKNOWN, "nose up positive"),
        (-4.5, None, "expects-unknown", Severity.UNKNOWN, "nose down positive"),
    ],
)
def test_a_sign_is_held_against_the_one_that_is_expected(
    moved_deg: float, expects: Convention | None, code: str, severity: Severity, words: str
) -> None:
    """How far it went, which way, and what that is called."""
    sign = 1 if moved_deg > 0 else -1
    signs = Signs(RAISED, {Pose.FRONT_RAISED: _change(moved_deg)}, 1 if sign > 0 else -1)
    found = _said(signs, expects)[code]
    assert (found.severity, found.value) == (severity, moved_deg)
    assert words in found.text


def test_a_sign_that_nobody_saw_is_not_proven() -> None:
    """Never raised is unknown; raised without an answer, and two answers, fail."""
    raised = {Pose.FRONT_RAISED: _change(0.2)}
    assert _said(Signs(RAISED))["sign-unproven"].severity is Severity.UNKNOWN
    assert _said(Signs(RAISED, raised))["sign-unproven"].severity is Severity.FAIL
    both = Signs(RAISED, raised, 1, contradiction=True)
    assert _said(both)["sign-contradiction"].severity is Severity.FAIL


@pytest.mark.parametrize(("lean_deg", "told"), [(3.9, True), (4.0, False), (-4.1, False)])
def test_a_machine_leans_by_four_degrees_or_stands_upright(lean_deg: float, told: bool) -> None:
    """A hand holds it upright within two; a lean that nothing shows is not held against it."""
    signs = Signs(RAISED, {Pose.LEANED_LEFT: _change(0.1, roll_deg=lean_deg)})
    found = _said(signs)
    assert ("pose-missing" in found) is told
    if told:
        assert (found["pose-missing"].value, found["pose-missing"].limit) == (lean_deg, 4.0)
    assert "pose-missing" not in _said(Signs(RAISED, {Pose.LEANED_LEFT: _change(0.1)}))


def test_two_poses_that_changed_alike_are_one_that_was_logged_twice() -> None:
    """To the last digit."""
    front, rear = _change(4.5), _change(-4.5)
    for second, told in ((front, True), (rear, False)):
        signs = Signs(RAISED, {Pose.FRONT_RAISED: front, Pose.REAR_RAISED: second}, 1)
        assert ("pose-repeated" in _said(signs)) is told


@pytest.mark.parametrize(
    ("share", "code", "severity"),
    [
        (None, "axis-unproven", Severity.UNKNOWN),
        (0.099, "axis", Severity.PASS),
        (0.101, "axis-yawed", Severity.CAUTION),
        (0.349, "axis-yawed", Severity.CAUTION),
        (0.351, "axis-yawed", Severity.FAIL),
    ],
)
def test_a_tenth_of_a_lean_may_show_as_pitch(
    share: float | None, code: str, severity: Severity
) -> None:
    """And a third of it is another axis."""
    signs = Signs(RAISED, cross_share=share)
    assert axis_severity(signs, _rig()) is severity
    found = _said(signs)[code]
    assert found.severity is severity
    if share is not None:
        assert found.value == pytest.approx(100 * share)
        assert found.limit == 10.0


@pytest.mark.parametrize("share", [0.125, 0.25])
def test_what_is_at_a_persons_own_limit_of_the_axis_is_within_it(share: float) -> None:
    """An eighth is fine, a quarter is no failure."""
    rig = _rig(PITCH + "[channels.pitch.limits]\ncross_pct = 12.5\ncross_fail_pct = 25.0\n")
    severity = Severity.PASS if share == 0.125 else Severity.CAUTION
    assert axis_severity(Signs(RAISED, cross_share=share), rig) is severity


@pytest.mark.parametrize(
    ("yaw_deg", "words"),
    [
        (1.0, "turned 1 degrees to the left"),
        (-12.0, "turned 12 degrees to the right"),
        (0.99, "of the reading"),
        (-0.99, "of the reading"),
        (None, "of the reading"),
    ],
)
def test_a_sensor_is_turned_by_a_degree_and_more(yaw_deg: float | None, words: str) -> None:
    """Which way is said, since it can be turned back."""
    for share, code in ((0.05, "axis"), (0.2, "axis-yawed")):
        found = _said(Signs(RAISED, cross_share=share, yaw_deg=yaw_deg))[code]
        assert words in found.text


def test_axes_that_are_exchanged_fail_by_what_was_raised() -> None:
    """Whatever the share of a lean."""
    raised = {Pose.FRONT_RAISED: _change(0.2)}
    signs = Signs(RAISED, raised, cross_share=0.01, follows_roll=True)
    assert axis_severity(signs, _rig()) is Severity.FAIL
    found = _said(signs)["axis"]
    assert (found.severity, found.value, found.limit) == (Severity.FAIL, 0.2, RAISED.angle_deg)


@pytest.mark.parametrize(
    ("off", "u_deg", "told"),
    [
        (0.0995, None, False),
        (0.1005, None, True),
        (-0.0995, None, False),
        (-0.1005, None, True),
        (0.1995, 0.05, False),
        (0.2005, 0.05, True),
    ],
)
def test_the_accelerometer_turns_as_far_as_the_block_says(
    off: float, u_deg: float | None, told: bool
) -> None:
    """Within a tenth, and twice what springs and the tape are known to."""
    made = RAISED.angle_deg
    signs = Signs(RAISED, turned_deg=made * (1.0 + off), turned_u=u_deg and u_deg * made)
    found = _said(signs)
    assert ("block-contradicted" in found) is told
    if told:
        assert (found["block-contradicted"].value, found["block-contradicted"].limit) == (
            signs.turned_deg,
            made,
        )
    assert "block-contradicted" not in _said(Signs(RAISED))


@pytest.mark.parametrize(
    ("ratio", "severity"),
    [(1.125, Severity.PASS), (0.875, Severity.PASS), (1.1875, Severity.CAUTION)],
)
def test_a_scale_at_the_end_of_what_is_allowed_is_within_it(
    ratio: float, severity: Severity
) -> None:
    """A person's own eighth; and a sixteenth of doubt, which is twice a thirty-second."""
    rig = _rig(PITCH + "[channels.pitch.limits]\nscale_block_pct = 12.5\n")
    signs = Signs(RAISED, scale_ratio=ratio, scale_u=0.03125)
    found = [e for e in sign_findings(signs, None, "It", rig) if e.code == "scale"]
    assert [(each.severity, each.value, each.limit) for each in found] == [(severity, ratio, 1.0)]


@pytest.mark.parametrize(
    ("ratio", "severity"), [(1.0899, Severity.CAUTION), (1.0901, Severity.FAIL)]
)
def test_doubts_of_a_scale_add_up(ratio: float, severity: Severity) -> None:
    """Six hundredths, twice half a hundredth of springs, and two hundredths of gravity."""
    for gravity in (1.02, 0.98):
        signs = Signs(RAISED, scale_ratio=ratio, scale_u=0.005, against="accelerometer")
        found = [e for e in sign_findings(signs, None, "It", _rig(), gravity) if e.code == "scale"]
        assert [each.severity for each in found] == [severity]


def _shown(**typed: float) -> SignsDocument:
    settings = SignsSettings(100.0, 1250.0, "nose-up-positive", ShownPoses(**typed))
    return judge_signs({}, _rig(), settings, ("mind",))


@pytest.mark.parametrize(("lag_s", "told"), [(0.4, False), (0.45, True)])
def test_an_angle_is_late_by_four_tenths_of_a_second(lag_s: float, told: bool) -> None:
    """As the person saw it on the display."""
    document = _shown(level_deg=1.0, front_raised_deg=5.5, lag_s=lag_s)
    late = [(e.severity, e.value, e.limit) for e in document.findings if e.code == "late"]
    assert late == [(Severity.FAIL, lag_s, 0.4)] * told
    assert document.lag_s == lag_s


def test_a_display_proves_sign_scale_and_axis() -> None:
    """By the change from level; ten degrees are what a lean is asked for."""
    document = _shown(level_deg=1.0, front_raised_deg=1.0 + RAISED.angle_deg, leaned_left_deg=1.5)
    assert (document.pitch_sign, document.convention) == (1, "nose-up-positive")
    assert document.scale_ratio == pytest.approx(1.0)
    assert document.cross_share == pytest.approx(0.05)
    assert document.axis_ok is True
    assert (document.basis, document.shown_pitch_sign) == ("controller", 1)
    assert document.cautions == ("mind",)
    turned = _shown(level_deg=1.0, front_raised_deg=-3.5, leaned_left_deg=5.0)
    assert (turned.pitch_sign, turned.axis_ok) == (-1, False)
    assert _shown(level_deg=1.0, front_raised_deg=5.5).axis_ok is None
    assert _shown(level_deg=1.0, leaned_left_deg=1.5).axis_ok is None


@pytest.mark.parametrize(
    ("off", "step_deg", "severity"),
    [
        (0.18, 0.1, Severity.CAUTION),
        (0.22, 0.1, Severity.FAIL),
        (0.28, 1.0, Severity.CAUTION),
        (0.33, 1.0, Severity.FAIL),
    ],
)
def test_a_display_of_coarse_steps_knows_a_scale_less_well(
    off: float, step_deg: float, severity: Severity
) -> None:
    """Two readings rounded to a degree are 0.41 degrees, beside 0.22 of springs, of the 4.6."""
    raised_deg = RAISED.angle_deg * (1.0 + off)
    document = _shown(level_deg=0.0, front_raised_deg=raised_deg, step_deg=step_deg)
    found = next(each for each in document.findings if each.code == "scale")
    assert found.severity is severity


def test_a_display_is_read_level_first() -> None:
    """Nothing else says how far it moved."""
    with pytest.raises(UsageError, match="in the level pose"):
        _shown(front_raised_deg=5.5)
    with pytest.raises(UsageError, match="no level pose"):
        _shown()
    with pytest.raises(UsageError, match="wheelbase is not known"):
        judge_signs({}, _rig(), SignsSettings(100.0), ())


def _posed(pitch_deg: float, *, moves: bool = False) -> Capture:
    count = round(4.0 * RATE_HZ)
    pitch = pitch_deg + np.resize([0.01, -0.01], count)
    if moves:
        pitch = pitch + 20.0 * np.sin(np.arange(count) / 5.0)
    return wheel_capture(np.arange(count) / RATE_HZ, p=pitch)


@pytest.mark.parametrize("moving", [(), (Pose.REAR_RAISED,), (Pose.LEVEL, Pose.FRONT_RAISED)])
def test_a_pose_is_the_longest_rest_of_its_capture(moving: tuple[Pose, ...]) -> None:
    """One that never stood still is named; without level there is nothing to start from."""
    poses = {Pose.LEVEL: 0.5, Pose.FRONT_RAISED: 5.1, Pose.REAR_RAISED: -4.1}
    captures = {pose: _posed(deg, moves=pose in moving) for pose, deg in poses.items()}
    settings = SignsSettings(100.0, 1250.0, "nose-up-positive")
    document = judge_signs(captures, _rig(), settings, ())
    found = [each.text for each in document.findings if each.code == "poses-open"]
    assert len(found) == bool(moving)
    for pose in moving:
        assert pose.value in found[0]
    sign = None if Pose.LEVEL in moving else 1
    assert document.pitch_sign == sign
    if sign is not None:
        changes = {each.pose: each.pitch_change for each in document.poses}
        assert changes["level"] == 0.0
        assert changes["front raised"] == pytest.approx(4.6)


FACES = np.array(
    [[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]]
    + [[x, y, z] for x in (1, -1) for y in (1, -1) for z in (1, -1)]
    + [[1, 1, 0], [1, -1, 0], [-1, 1, 0], [-1, -1, 0], [0, 1, 1], [0, -1, 1]],
    dtype=np.float64,
)  # fmt: skip


def _hand(
    bias_g: float = 0.0, gain: float = 1.0, count: int = 20, unit: str = "g", off_g: float = 0.0
) -> PosesDocument:
    """The document of so many still poses of a sensor with that bias and gain of its first axis."""
    up = FACES[:count] / np.linalg.norm(FACES[:count], axis=1)[:, None]
    force = up * np.array([gain, 1.0, 1.0]) + np.array([bias_g, 0.0, 0.0])
    force *= 1.0 + off_g * np.resize([1.0, -1.0], count)[:, None]
    held = round(2.4 * RATE_HZ)
    rows = np.repeat(force, held, axis=0) + 1e-4 * np.resize([1.0, -1.0], count * held)[:, None]
    if unit == "m/s2":
        rows *= 9.80665
    columns = dict(zip("xyz", rows.T, strict=True))
    capture = wheel_capture(np.arange(len(rows)) / RATE_HZ, **columns)
    return judge_poses(capture, _rig(FORCE.replace('"g"', f'"{unit}"')), ())


def _one(document: PosesDocument, code: str) -> Finding | None:
    return next((each for each in document.findings if each.code == code), None)


@pytest.mark.parametrize(("bias_g", "told"), [(0.148, False), (0.152, True), (-0.152, True)])
def test_a_bias_of_fifteen_hundredths_of_a_g_is_far_off(bias_g: float, told: bool) -> None:
    """Trued all the same."""
    document = _hand(bias_g)
    found = _one(document, "offset-far-off")
    assert (found is not None) is told
    assert document.bias is not None
    assert document.bias[0] == pytest.approx(bias_g, abs=1e-3)
    if found is not None:
        assert found.value == pytest.approx(abs(bias_g), abs=1e-3)
        assert found.limit == 0.15


@pytest.mark.parametrize(
    ("gain", "told"), [(1.095, False), (1.105, True), (0.905, False), (0.895, True)]
)
def test_a_scale_of_a_tenth_more_or_less_is_far_off(gain: float, told: bool) -> None:
    """Per cent of what the rig file says."""
    document = _hand(gain=gain)
    found = _one(document, "scale-far-off")
    assert (found is not None) is told
    assert document.matrix is not None
    assert document.matrix[0][0] == pytest.approx(1.0 / gain, rel=1e-3)
    if found is not None:
        assert found.value == pytest.approx(100.0 * abs(gain - 1.0), abs=0.1)
        assert found.limit == 10.0


def test_six_faces_say_nothing_of_a_scale() -> None:
    """A bias alone, whatever the scale; in metres a second squared as well."""
    for unit in ("g", "m/s2"):
        document = _hand(0.02, count=6, unit=unit)
        assert document.claim == "bias"
        assert document.matrix is None
        assert document.u_scale is None
        assert document.bias is not None
        assert document.bias[0] == pytest.approx(0.02, abs=1e-3)
        assert _one(document, "scale-far-off") is None


@pytest.mark.parametrize(
    ("count", "code"), [(3, "poses-too-few"), (4, "poses-disagree"), (20, "trued")]
)
def test_a_truing_wants_twelve_poses(count: int, code: str) -> None:
    """Three say nothing, four do not agree on it, and how many there were is said."""
    document = _hand(0.02, count=count)
    found = _one(document, code)
    assert found is not None
    assert (document.poses, document.distinct) == (count, count)
    assert found.value == (document.raw_rms_g if count == 4 else count)
    if count == 3:
        assert (found.limit, document.verdict) == (12.0, Severity.UNKNOWN)
        assert (document.bias, document.matrix, document.u) == (None, None, None)
        assert document.raw_rms_g is not None


def _launched(most_deg: float, launch: str) -> list[Finding]:
    rig = _rig(PITCH + launch)
    shown = judge_shown_surge(rig, (), most_deg=most_deg, step_deg=0.1, strokes=Strokes(80, 15, 10))
    return list(shown.findings)


def test_a_shake_that_is_too_weak_is_told_with_its_force() -> None:
    """Four hundredths of a g; and one that nobody saw has none."""
    weak = Strokes(20, 5, 10)
    shown = judge_shown_surge(_rig(), (), most_deg=0.3, step_deg=0.1, strokes=weak)
    assert weak.rms_g < 0.04
    (found,) = shown.findings
    assert (found.severity, found.value, found.limit) == (Severity.UNKNOWN, weak.rms_g, 0.04)
    flicker = np.resize([1e-3, -1e-3], 400)
    still = wheel_capture(np.arange(400) / RATE_HZ, x=flicker, y=flicker, z=1.0 + flicker)
    (none,) = judge_surge(still, _rig(FORCE), ()).findings
    assert (none.code, none.value, none.limit) == (found.code, None, 0.04)
    assert none.text != found.text


def test_a_launch_is_foretold_of_a_sensor_that_blends() -> None:
    """Its own limit counts; where the launch is not stated nobody knows."""
    stated = "[tilt]\nlaunch_m_s2 = 2.0\n"
    launch = next(each for each in _launched(0.3, stated) if each.code == "launch")
    assert launch.value is not None
    assert launch.limit == 8.0
    for limit, severity in ((launch.value, Severity.PASS), (0.9 * launch.value, Severity.CAUTION)):
        own = f"{stated}[channels.pitch.limits]\nlaunch_deg = {limit!r}\n"
        found = next(each for each in _launched(0.3, own) if each.code == "launch")
        assert found.severity is severity
    assert "launch" not in {each.code for each in _launched(16.0, stated)}
    assert "launch-unknown" in {each.code for each in _launched(0.3, "")}
    share = next(each for each in _launched(9.0, stated) if each.code == "fusing-unknown")
    bare_deg = math.degrees(math.atan(math.sqrt(2) * Strokes(80, 15, 10).rms_g))
    assert f"{100 * 9.0 / bare_deg:.0f} %" in share.text


def test_a_sensor_that_means_metres_is_trued_at_the_gravity_of_its_place() -> None:
    """A quarter of a per cent more at the pole: a scale that is right stays right."""
    up = FACES[:20] / np.linalg.norm(FACES[:20], axis=1)[:, None]
    held = round(2.4 * RATE_HZ)
    rows = np.repeat(up * 9.8321862, held, axis=0) + np.array([0.1 * 9.80665, 0.0, 0.0])
    rows += 1e-3 * np.resize([1.0, -1.0], len(rows))[:, None]
    columns = dict(zip("xyz", rows.T, strict=True))
    capture = wheel_capture(np.arange(len(rows)) / RATE_HZ, **columns)
    text = FORCE.replace('"g"', '"m/s2"')
    for latitude, scale in (("latitude_deg = 90.0\n", 1.0), ("", 9.80665 / 9.8321862)):
        document = judge_poses(capture, _rig(f"{text}[tilt]\n{latitude}"), ())
        assert document.matrix is not None
        assert document.matrix[2][2] == pytest.approx(scale, abs=2e-4)
        assert document.bias is not None
        assert document.bias[0] == pytest.approx(0.1, abs=1e-4)


def test_a_scale_is_judged_by_the_step_that_displays_commonly_have() -> None:
    """A tenth of a degree, where nobody said: with two a scale of 1.197 were none of its own."""
    shown = _shown(level_deg=0.0, front_raised_deg=RAISED.angle_deg * 1.197)
    assert [e.severity for e in shown.findings if e.code == "scale"] == [Severity.FAIL]


@pytest.mark.parametrize("bias_g", [0.0, 0.1])
def test_a_truing_says_how_well_the_worst_bias_is_known(bias_g: float) -> None:
    """With 95 per cent: twenty poses, and nine figures of them."""
    document = _hand(bias_g, gain=1.02)
    found = _one(document, "trued")
    assert found is not None
    assert document.u is not None
    assert f"bias (± {coverage_factor(11) * document.u:.4f} g, 95 %)" in found.text


def _leaned(axes: Callable[[float, float], tuple[float, float]]) -> dict[Pose, Capture]:
    """All poses before an accelerometer whose x and y read this of ahead and left."""
    up = {
        Pose.LEVEL: (0.0, 0.0),
        Pose.FRONT_RAISED: (RAISED.angle_deg, 0.0),
        Pose.REAR_RAISED: (-RAISED.angle_deg, 0.0),
        Pose.LEANED_LEFT: (0.0, -10.0),
        Pose.LEANED_RIGHT: (0.0, 10.0),
    }
    flicker = np.resize([1e-3, -1e-3], 200)
    captures = {}
    for pose, (nose_deg, left_deg) in up.items():
        ahead, left = math.sin(math.radians(nose_deg)), math.sin(math.radians(left_deg))
        x, y = axes(ahead, left)
        z = math.sqrt(1.0 - ahead**2 - left**2)
        captures[pose] = wheel_capture(
            np.arange(200) / RATE_HZ, x=x + flicker, y=y + flicker, z=z + flicker
        )
    return captures


def test_axes_that_were_exchanged_are_stated_as_they_lie() -> None:
    """The sensor's x looks to the left and its y to the rear; its box is mounted right else."""
    captures = _leaned(lambda ahead, left: (left, -ahead))
    settings = SignsSettings(100.0, 1250.0, "nose-up-positive")
    document = judge_signs(captures, _rig(FORCE), settings, ())
    stated = {each.role: (each.channel, each.column, each.sign) for each in document.axes}
    assert stated == {
        "accel-x": ("y", "y", -1),
        "accel-y": ("x", "x", 1),
        "accel-z": ("z", "z", 1),
    }
    assert document.axis_ok is False
    assert any(each.code == "mounting" for each in document.findings)
    turned_y = FORCE.replace('column = "y"\n', 'column = "y"\nsign = -1\n')
    turned = judge_signs(captures, _rig(turned_y), settings, ())
    assert {each.role: (each.column, each.sign) for each in turned.axes} == {
        "accel-x": ("y", -1),
        "accel-y": ("x", 1),
        "accel-z": ("z", 1),
    }


@pytest.mark.parametrize(
    ("leaned_deg", "raised_deg", "axis_ok"), [(0.5, 4.5, True), (5.0, 4.5, False)]
)
def test_the_axis_is_right_where_logger_and_display_say_so(
    leaned_deg: float, raised_deg: float, axis_ok: bool
) -> None:
    """The display's pitch that answers to a lean by a half is none."""
    captures = _leaned(lambda ahead, left: (ahead, left))
    settings = SignsSettings(100.0, 1250.0, "nose-up-positive")
    assert judge_signs(captures, _rig(FORCE), settings, ()).axis_ok is True
    shown = ShownPoses(0.0, raised_deg, leaned_deg)
    document = judge_signs(captures, _rig(FORCE), replace(settings, shown=shown), ())
    assert document.axis_ok is axis_ok
    assert document.basis == "logger"
    assert document.shown_pitch_sign == 1
