"""The proof of sign judged from captures and typed readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from calib.checks.tilt.signs import ShownPoses, SignsSettings, judge_signs
from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.documents.finding import Severity
from calib.store.documents.tilt import SignsDocument
from calib.tilt.geometry import raised_angle
from calib.tilt.signs import Pose
from tests.tilt_files import (
    ACCEL,
    PITCH,
    Motion,
    force_columns,
    pitch_column,
    tilt_capture,
    tilt_rig,
)
from tests.tilt_world import RATE_HZ, SQUARE, Sensor, turned

UP = raised_angle(100, 1250).angle_deg
WORLD = {
    Pose.LEVEL: turned(),
    Pose.FRONT_RAISED: turned(UP),
    Pose.REAR_RAISED: turned(-UP),
    Pose.LEANED_LEFT: turned(left_up=-11.0),
    Pose.LEANED_RIGHT: turned(left_up=10.0),
}
SETTINGS = SignsSettings(block_mm=100)


def _codes(document: SignsDocument) -> dict[str, Severity]:
    return {f.code: f.severity for f in document.findings}


def _files(
    folder: Path, mounting: Rotation = SQUARE, poses: tuple[Pose, ...] = tuple(Pose)
) -> dict[Pose, Capture]:
    rng = np.random.default_rng(1)
    sensor = Sensor(mounting, noise_g=0.003)
    return {
        pose: tilt_capture(
            folder, pose.name, force_columns(sensor, Motion([(WORLD[pose], 4.0)]), rng)
        )
        for pose in poses
    }


def _channel_files(
    folder: Path, gain: float, poses: tuple[Pose, ...] = tuple(Pose)
) -> dict[Pose, Capture]:
    rng = np.random.default_rng(2)
    return {
        pose: tilt_capture(
            folder, pose.name, {"p": pitch_column(Motion([(WORLD[pose], 4.0)]), rng, gain)}
        )
        for pose in poses
    }


def test_a_square_accelerometer_passes(tmp_path: Path) -> None:
    """Sign, axis, scale, |g| and mounting all proven from five files."""
    document = judge_signs(_files(tmp_path), tilt_rig(tmp_path), SETTINGS, ("mind",))
    assert document.verdict is Severity.PASS, document.findings
    assert document.convention == "nose-up-positive"
    assert document.pitch_sign == 1
    assert document.axis_ok is True
    assert document.scale_ratio == pytest.approx(1.0, abs=0.01)
    assert document.gravity_ratio == pytest.approx(1.0, abs=0.001)
    assert {pose.pose for pose in document.poses} == {pose.value for pose in Pose}
    assert document.cautions == ("mind",)


def test_the_opposite_of_what_is_expected_fails(tmp_path: Path) -> None:
    """A proven sign that the controller does not expect is the worst of findings."""
    rig = tilt_rig(tmp_path)
    settings = SignsSettings(block_mm=100, expects="nose-down-positive")
    document = judge_signs(_files(tmp_path), rig, settings, ())
    assert _codes(document)["sign-reversed"] is Severity.FAIL
    assert document.expects == "nose-down-positive"


def test_a_nose_down_positive_channel_that_is_expected_passes(tmp_path: Path) -> None:
    """Both conventions are in use; the person says which one is right."""
    settings = SignsSettings(block_mm=100, expects="nose-down-positive")
    captures = _channel_files(tmp_path, -1.0)
    document = judge_signs(captures, tilt_rig(tmp_path, PITCH), settings, ())
    assert document.convention == "nose-down-positive"
    assert document.pitch_sign == -1
    assert document.gravity_ratio is None
    assert document.verdict is Severity.PASS, document.findings


def test_not_knowing_what_is_expected_is_unknown(tmp_path: Path) -> None:
    """A sign without an expectation proves nothing for the controller."""
    rig = tilt_rig(tmp_path, ACCEL, "[tilt]\nwheelbase_mm = 1250\n")
    document = judge_signs(_files(tmp_path), rig, SETTINGS, ())
    assert _codes(document)["expects-unknown"] is Severity.UNKNOWN


@pytest.mark.parametrize(
    ("mounting", "words"),
    [
        (turned(left=180), "looks backwards"),
        (turned(left=90), "quarter turn to the left about the upright axis"),
        (turned(left_up=180), "upside down"),
    ],
)
def test_a_turned_sensor_fails_and_the_words_say_how(
    tmp_path: Path, mounting: Rotation, words: str
) -> None:
    """Reversed, quarter-turned and upside-down sensors fail with the mounting in words."""
    document = judge_signs(_files(tmp_path, mounting), tilt_rig(tmp_path), SETTINGS, ())
    assert document.verdict is Severity.FAIL
    assert document.mounting is not None
    assert words in document.mounting
    finding = next(f for f in document.findings if f.code == "mounting")
    assert finding.severity is Severity.FAIL
    assert "accel-x looks" in finding.action


def test_all_poses_in_one_capture_in_any_order(tmp_path: Path) -> None:
    """--from alone: five poses, level between, front twice; told apart and judged."""
    steps = [(WORLD[Pose.LEVEL], 4.0)]
    for pose in (Pose.LEANED_RIGHT, Pose.FRONT_RAISED, Pose.REAR_RAISED, Pose.FRONT_RAISED,
                 Pose.LEANED_LEFT):  # fmt: skip
        steps += [(WORLD[pose], 3.2), (WORLD[Pose.LEVEL], 3.2)]
    rng = np.random.default_rng(3)
    motion = Motion(steps)
    columns = force_columns(Sensor(SQUARE, noise_g=0.003), motion, rng)
    columns["p"] = pitch_column(motion, rng)
    capture = tilt_capture(tmp_path, "all", columns)
    document = judge_signs({Pose.LEVEL: capture}, tilt_rig(tmp_path, ACCEL + PITCH), SETTINGS, ())
    assert document.verdict is Severity.PASS, document.findings
    assert document.scale_against == "accelerometer"
    assert document.lag_s == pytest.approx(0.0, abs=0.05)


@pytest.mark.parametrize(
    ("up_bias_g", "gain", "severity"),
    [(0.0, 1.09, Severity.FAIL), (-0.04, 0.97, Severity.CAUTION), (0.05, 1.03, Severity.CAUTION)],
)
def test_an_accelerometer_that_shows_too_much_or_too_little_gravity_blames_nobody(
    up_bias_g: float, gain: float, severity: Severity, tmp_path: Path
) -> None:
    """Its bias along gravity turns its own angles by as large a part; true it first."""
    steps = [(WORLD[Pose.LEVEL], 4.0)]
    for pose in (Pose.FRONT_RAISED, Pose.REAR_RAISED, Pose.FRONT_RAISED, Pose.LEANED_LEFT):
        steps += [(WORLD[pose], 3.2), (WORLD[Pose.LEVEL], 3.2)]
    rng = np.random.default_rng(3)
    motion = Motion(steps)
    sensor = Sensor(SQUARE, bias_g=(0.0, 0.0, up_bias_g), noise_g=0.003)
    columns = {**force_columns(sensor, motion, rng), "p": pitch_column(motion, rng, gain)}
    capture = tilt_capture(tmp_path, "all", columns)
    document = judge_signs({Pose.LEVEL: capture}, tilt_rig(tmp_path, ACCEL + PITCH), SETTINGS, ())
    scale = next(each for each in document.findings if each.code == "scale")
    assert scale.severity is severity
    assert ("calib poses" in scale.action) == (severity is Severity.CAUTION)


def test_an_angle_that_comes_late_fails(tmp_path: Path) -> None:
    """Measured beside the accelerometer, or timed by the person on the display."""
    steps = [(WORLD[Pose.LEVEL], 4.0)]
    for pose in (Pose.FRONT_RAISED, Pose.FRONT_RAISED, Pose.LEANED_LEFT, Pose.LEANED_RIGHT):
        steps += [(WORLD[pose], 4.0), (WORLD[Pose.LEVEL], 4.0)]
    rng = np.random.default_rng(3)
    motion = Motion(steps)
    columns = force_columns(Sensor(SQUARE, noise_g=0.003), motion, rng)
    late = int(0.8 * RATE_HZ)
    columns["p"] = np.concatenate([rng.normal(0, 0.05, late), pitch_column(motion, rng)[:-late]])
    capture = tilt_capture(tmp_path, "all", columns)
    rig = tilt_rig(tmp_path, ACCEL + PITCH)
    document = judge_signs({Pose.LEVEL: capture}, rig, SETTINGS, ())
    assert document.lag_s == pytest.approx(0.8, abs=0.05)
    assert _codes(document)["late"] is Severity.FAIL
    shown = ShownPoses(0.0, 4.6, 0.2, 0.1, lag_s=1.5)
    typed = judge_signs({}, rig, SignsSettings(block_mm=100, shown=shown), ())
    assert typed.lag_s == 1.5
    assert _codes(typed)["late"] is Severity.FAIL


def test_a_nose_that_was_never_raised_is_unknown(tmp_path: Path) -> None:
    """Level and leans alone: no sign, and what to do."""
    poses = (Pose.LEVEL, Pose.LEANED_LEFT, Pose.LEANED_RIGHT)
    document = judge_signs(_files(tmp_path, poses=poses), tilt_rig(tmp_path), SETTINGS, ())
    assert document.pitch_sign is None
    assert document.convention is None
    assert _codes(document)["sign-unproven"] is Severity.UNKNOWN
    assert document.verdict is Severity.UNKNOWN


def test_level_alone_asks_for_the_front_to_be_raised(tmp_path: Path) -> None:
    """One pose in one capture: nothing is guessed."""
    document = judge_signs(_files(tmp_path, poses=(Pose.LEVEL,)), tilt_rig(tmp_path), SETTINGS, ())
    assert "raise the front" in next(f.text for f in document.findings if f.code == "poses-open")
    assert document.pitch_sign is None


def test_a_pose_given_twice_is_told(tmp_path: Path) -> None:
    """The same file as front raised and rear raised contradicts itself."""
    captures = _channel_files(tmp_path, 1.0)
    captures[Pose.REAR_RAISED] = captures[Pose.FRONT_RAISED]
    codes = _codes(judge_signs(captures, tilt_rig(tmp_path, PITCH), SETTINGS, ()))
    assert codes["sign-contradiction"] is Severity.FAIL
    assert codes["pose-repeated"] is Severity.UNKNOWN


def test_a_lean_that_was_no_lean_is_unknown(tmp_path: Path) -> None:
    """'Leaned left' that hardly turned the machine proves no axis."""
    captures = _files(tmp_path)
    captures[Pose.LEANED_LEFT] = captures[Pose.LEVEL]
    captures[Pose.LEANED_RIGHT] = captures[Pose.LEVEL]
    document = judge_signs(captures, tilt_rig(tmp_path), SETTINGS, ())
    assert _codes(document)["pose-missing"] is Severity.UNKNOWN
    assert document.axis_ok is None


def test_radians_called_degrees_are_named(tmp_path: Path) -> None:
    """An angle in radians declared as degrees moves by pi/180 of what it must."""
    document = judge_signs(
        _channel_files(tmp_path, np.pi / 180), tilt_rig(tmp_path, PITCH), SETTINGS, ()
    )
    scale = next(f for f in document.findings if f.code == "scale")
    assert scale.severity is Severity.FAIL
    assert "radians" in scale.text
    assert document.pitch_sign is None


def test_degrees_called_radians_are_named(tmp_path: Path) -> None:
    """An angle in degrees declared as radians reads what no machine can stand at."""
    rig = tilt_rig(tmp_path, PITCH.replace('unit = "deg"', 'unit = "rad"'))
    document = judge_signs(_channel_files(tmp_path, 1.0), rig, SETTINGS, ())
    assert _codes(document)["unit"] is Severity.FAIL
    assert document.pitch_sign is None


@pytest.mark.parametrize(
    ("gain", "severity"),
    [(1.05, Severity.PASS), (1.14, Severity.CAUTION), (1.4, Severity.FAIL), (0.5, Severity.FAIL)],
)
def test_scale_against_the_block(tmp_path: Path, gain: float, severity: Severity) -> None:
    """Springs move a block's angle by a tenth; twice that is a caution, more is a wrong scale."""
    document = judge_signs(_channel_files(tmp_path, gain), tilt_rig(tmp_path, PITCH), SETTINGS, ())
    assert _codes(document)["scale"] is severity
    assert document.scale_ratio == pytest.approx(gain, abs=0.02)


@pytest.mark.parametrize(
    ("yaw", "severity"), [(3, Severity.PASS), (12, Severity.CAUTION), (40, Severity.FAIL)]
)
def test_pitch_that_answers_to_lean(tmp_path: Path, yaw: float, severity: Severity) -> None:
    """A tenth of a lean may show as pitch; a sensor turned by forty degrees has another axis."""
    document = judge_signs(_files(tmp_path, turned(left=yaw)), tilt_rig(tmp_path), SETTINGS, ())
    found = [f.severity for f in document.findings if f.code in ("axis", "axis-yawed")]
    assert found == [severity]
    assert document.axis_ok is (severity is not Severity.FAIL)


def test_a_dead_channel_proves_nothing(tmp_path: Path) -> None:
    """The same value in every pose: no sign, fail."""
    captures = {pose: tilt_capture(tmp_path, pose.name, {"p": np.full(400, 0.5)}) for pose in Pose}
    document = judge_signs(captures, tilt_rig(tmp_path, PITCH), SETTINGS, ())
    assert document.pitch_sign is None
    assert document.verdict is Severity.FAIL


def test_an_accelerometer_at_half_a_g_proves_nothing(tmp_path: Path) -> None:
    """|g| of a half: no sign is made of it."""
    rng = np.random.default_rng(4)
    captures = {}
    for pose in Pose:
        columns = force_columns(Sensor(noise_g=0.003), Motion([(WORLD[pose], 4.0)]), rng)
        halved = {name: 0.5 * values for name, values in columns.items()}
        captures[pose] = tilt_capture(tmp_path, pose.name, halved)
    document = judge_signs(captures, tilt_rig(tmp_path), SETTINGS, ())
    assert _codes(document)["gravity"] is Severity.FAIL
    assert document.pitch_sign is None
    assert document.gravity_ratio == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("block_mm", [0.0, 1250.0, 3000.0])
def test_a_block_that_cannot_be_is_wrong_use(tmp_path: Path, block_mm: float) -> None:
    """A block higher than the wheelbase is refused before anything is judged."""
    with pytest.raises(UsageError, match="lower than the wheelbase"):
        judge_signs(_files(tmp_path), tilt_rig(tmp_path), SignsSettings(block_mm), ())


def test_an_unknown_wheelbase_is_wrong_use(tmp_path: Path) -> None:
    """The expected angle needs one."""
    rig = tilt_rig(tmp_path, ACCEL, "")
    with pytest.raises(UsageError, match="wheelbase is not known"):
        judge_signs(_files(tmp_path), rig, SETTINGS, ())


def test_typed_readings_alone_prove_the_controllers_sign(tmp_path: Path) -> None:
    """Only the display: level 0.2, nose up 4.7, leaned 0.4."""
    rig = tilt_rig(tmp_path, "", 'tilt.sensor = "controller"\n'.replace("tilt.", "[tilt]\n")
                   + 'expects = "nose-up-positive"\nwheelbase_mm = 1250\n')  # fmt: skip
    shown = ShownPoses(0.2, 4.7, 0.4, 0.1)
    document = judge_signs({}, rig, SignsSettings(block_mm=100, shown=shown), ())
    assert document.basis == "controller"
    assert document.pitch_sign == 1
    assert document.shown_pitch_sign == 1
    assert document.axis_ok is True
    assert document.verdict is Severity.PASS, document.findings


def test_a_display_that_moves_the_wrong_way_fails_beside_a_good_logger(tmp_path: Path) -> None:
    """The controller's own word counts: its reversed display is not excused by the logger."""
    shown = ShownPoses(0.0, -4.5, 0.3, 0.1)
    document = judge_signs(
        _files(tmp_path), tilt_rig(tmp_path), SignsSettings(block_mm=100, shown=shown), ()
    )
    assert document.pitch_sign == 1
    assert document.shown_pitch_sign == -1
    assert document.verdict is Severity.FAIL


def test_a_typed_pose_needs_the_typed_level(tmp_path: Path) -> None:
    """Without the level reading the change is not known."""
    settings = SignsSettings(block_mm=100, shown=ShownPoses(None, 4.5))
    with pytest.raises(UsageError, match="--shown-level"):
        judge_signs({}, tilt_rig(tmp_path), settings, ())


def test_no_pose_at_all_is_wrong_use(tmp_path: Path) -> None:
    """Nothing given, nothing typed."""
    with pytest.raises(UsageError, match="no level pose"):
        judge_signs({}, tilt_rig(tmp_path), SETTINGS, ())


@pytest.mark.parametrize(
    ("block_mm", "contradicted"), [(100.0, False), (95.0, False), (72.0, True), (140.0, True)]
)
def test_a_plank_or_wheelbase_that_the_accelerometer_contradicts_is_named(
    tmp_path: Path, block_mm: float, contradicted: bool
) -> None:
    """The machine stood on 100 mm: what springs and a tape may miss passes, a wrong plank not.

    The sign is proven all the same.
    """
    rng = np.random.default_rng(3)
    captures = {}
    for pose in Pose:
        motion = Motion([(WORLD[pose], 4.0)])
        columns = force_columns(Sensor(SQUARE, noise_g=0.003), motion, rng)
        captures[pose] = tilt_capture(
            tmp_path, pose.name, {**columns, "p": pitch_column(motion, rng, 1.0)}
        )
    rig = tilt_rig(tmp_path, ACCEL + PITCH)
    document = judge_signs(captures, rig, SignsSettings(block_mm=block_mm), ())
    found = _codes(document)
    assert (found.get("block-contradicted") is Severity.CAUTION) is contradicted
    assert document.pitch_sign == 1
    assert document.scale_ratio == pytest.approx(1.0, abs=0.02)
    if contradicted:
        said = next(f.text for f in document.findings if f.code == "block-contradicted")
        assert "accelerometer turned by 4.6 degrees" in said
