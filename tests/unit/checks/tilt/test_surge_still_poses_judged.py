"""Surge, still and poses judged from captures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from calib.checks.tilt.poses import judge_poses
from calib.checks.tilt.still import judge_shown_still, judge_still
from calib.checks.tilt.surge import judge_shown_surge, judge_surge
from calib.errors import UsageError
from calib.store.documents.finding import Document, Severity
from calib.tilt.surge import Strokes
from tests.tilt_files import ACCEL, PITCH, TILT, Motion, force_columns, tilt_capture, tilt_rig
from tests.tilt_world import RATE_HZ, Sensor, turned

REST_S = 4.0


def _codes(document: Document) -> dict[str, Severity]:
    return {f.code: f.severity for f in document.findings}


def _shaken(peak_g: float, blend: float | None) -> dict[str, np.ndarray]:
    """A rest, eight seconds of shake, a rest; with a pitch that lets a share through."""
    rng = np.random.default_rng(1)
    motion = Motion([(turned(0.5), 16.0)])
    time_s = np.arange(int(16.0 * RATE_HZ)) / RATE_HZ
    inside = (time_s > REST_S) & (time_s < 12.0)
    push = np.where(inside, peak_g * np.sin(2 * np.pi * 1.5 * time_s), 0.0)
    columns = force_columns(Sensor(noise_g=0.002), motion, rng, push)
    if blend is not None:
        columns["p"] = 0.5 + blend * np.degrees(np.arctan(push)) + rng.normal(0, 0.05, push.size)
    return columns


def test_a_fused_sensor_passes(tmp_path: Path) -> None:
    """Three per cent of a shake come through: fused, and the launch follows."""
    capture = tilt_capture(tmp_path, "s", _shaken(0.2, 0.03))
    document = judge_surge(capture, tilt_rig(tmp_path, ACCEL + PITCH), ("mind",))
    assert document.fused is True
    assert document.verdict is Severity.PASS, document.findings
    assert document.gain == pytest.approx(0.03, abs=0.01)
    assert document.launch_false_pitch_deg is not None
    assert 2.0 < document.launch_false_pitch_deg < 8.0


def test_an_accelerometer_alone_fails(tmp_path: Path) -> None:
    """It reads a push as tilt, and a launch at 2 m/s2 as 11.5 degrees."""
    document = judge_surge(tilt_capture(tmp_path, "s", _shaken(0.2, None)), tilt_rig(tmp_path), ())
    assert document.fused is False
    assert document.verdict is Severity.FAIL
    assert document.launch_false_pitch_deg == pytest.approx(11.527, abs=0.001)


def test_a_sensor_that_lets_half_through_is_unknown(tmp_path: Path) -> None:
    """Neither fused nor bare: unknown, which is not trust."""
    capture = tilt_capture(tmp_path, "s", _shaken(0.2, 0.5))
    document = judge_surge(capture, tilt_rig(tmp_path, ACCEL + PITCH), ())
    assert document.fused is None
    assert _codes(document)["fusing-unknown"] is Severity.UNKNOWN


def test_no_shake_is_unknown(tmp_path: Path) -> None:
    """A rest proves nothing about a push."""
    capture = tilt_capture(tmp_path, "s", _shaken(0.0, 0.0))
    document = judge_surge(capture, tilt_rig(tmp_path, ACCEL + PITCH), ())
    assert document.verdict is Severity.UNKNOWN
    assert document.false_pitch_deg is None


def test_an_unknown_launch_is_unknown(tmp_path: Path) -> None:
    """Without launch_m_s2 the false pitch of a launch is not known."""
    rig = tilt_rig(tmp_path, ACCEL + PITCH, TILT.replace("launch_m_s2 = 2.0\n", ""))
    document = judge_surge(tilt_capture(tmp_path, "s", _shaken(0.2, 0.03)), rig, ())
    assert _codes(document)["launch-unknown"] is Severity.UNKNOWN
    assert document.launch_false_pitch_deg is None


def test_a_counted_shake_serves_a_channel_alone(tmp_path: Path) -> None:
    """No accelerometer: stroke and count give the push."""
    peak_m_s2 = (2 * np.pi * 1.5) ** 2 * 0.03
    columns = _shaken(peak_m_s2 / 9.80665, 0.05)
    capture = tilt_capture(tmp_path, "s", {"p": columns["p"]})
    rig = tilt_rig(tmp_path, PITCH)
    assert judge_surge(capture, rig, ()).verdict is Severity.UNKNOWN
    document = judge_surge(capture, rig, (), strokes=Strokes(60, 12, 8.0))
    assert document.fused is True
    assert document.gain == pytest.approx(0.05, abs=0.02)


def test_still_gives_noise_averaging_and_drift(tmp_path: Path) -> None:
    """White noise of 0.1 degrees and 1.5 degrees an hour of drift, over ten minutes."""
    rng = np.random.default_rng(2)
    time_s = np.arange(0, 600, 1 / RATE_HZ)
    pitch = 1.5 * time_s / 3600 + rng.normal(0, 0.1, time_s.size)
    capture = tilt_capture(tmp_path, "r", {"p": pitch})
    document = judge_still(capture, tilt_rig(tmp_path, PITCH), None, ())
    assert document.unit == "deg"
    assert document.noise == pytest.approx(0.1, rel=0.05)
    assert document.drift_per_h == pytest.approx(1.5, abs=0.06)
    assert document.average_s == pytest.approx(25 / RATE_HZ, rel=0.4)
    assert len(document.tau_s) == len(document.sigma) > 10


def test_a_drifting_sensor_fails(tmp_path: Path) -> None:
    """Ten degrees an hour do not last a ride."""
    rng = np.random.default_rng(3)
    time_s = np.arange(0, 300, 1 / RATE_HZ)
    pitch = 10 * time_s / 3600 + rng.normal(0, 0.05, time_s.size)
    document = judge_still(
        tilt_capture(tmp_path, "r", {"p": pitch}), tilt_rig(tmp_path, PITCH), None, ()
    )
    assert _codes(document)["drift"] is Severity.FAIL
    assert document.drift_per_h == pytest.approx(10, abs=0.5)


@pytest.mark.parametrize(("hold_s", "code"), [(10, "rest-too-short"), (60, "drift-unknown")])
def test_a_short_rest_foretells_nothing(tmp_path: Path, hold_s: float, code: str) -> None:
    """Ten seconds say nothing, a minute foretells no hour."""
    pitch = np.random.default_rng(4).normal(0, 0.05, int(hold_s * RATE_HZ))
    document = judge_still(
        tilt_capture(tmp_path, "r", {"p": pitch}), tilt_rig(tmp_path, PITCH), None, ()
    )
    assert _codes(document)[code] is Severity.UNKNOWN
    assert document.drift_per_h is None


def test_a_coarse_reading_that_flickers_is_a_rest(tmp_path: Path) -> None:
    """A quarter degree a step: the flicker of the last step is no movement."""
    rng = np.random.default_rng(5)
    pitch = 0.25 * np.round(rng.normal(0.05, 0.12, 30_000) / 0.25)
    document = judge_still(
        tilt_capture(tmp_path, "r", {"p": pitch}), tilt_rig(tmp_path, PITCH), None, ()
    )
    assert document.hold_s == pytest.approx(300, abs=2)


def test_any_channel_can_be_rested(tmp_path: Path) -> None:
    """A control at rest: its own unit, and no opinion on degrees."""
    text = PITCH + '\n[channels.throttle]\nrole = "control"\ncolumn = "t"\nunit = "V"\n'
    volts = np.random.default_rng(6).normal(1.05, 0.002, 30_000)
    columns = {"p": np.zeros(30_000), "t": volts}
    capture = tilt_capture(tmp_path, "r", columns)
    document = judge_still(capture, tilt_rig(tmp_path, text), "throttle", ())
    assert document.unit == "V"
    assert document.channel == "throttle"
    assert document.noise == pytest.approx(0.002, rel=0.1)


@pytest.mark.parametrize(("most_deg", "fused"), [(0.3, True), (16.0, False), (9.0, None)])
def test_a_display_read_while_shaking(tmp_path: Path, most_deg: float, fused: bool | None) -> None:
    """15 strokes of 80 mm in 10 s are 0.36 g at most: 19.9 degrees for a bare accelerometer."""
    strokes = Strokes(80, 15, 10)
    document = judge_shown_surge(
        tilt_rig(tmp_path, ""), (), most_deg=most_deg, step_deg=0.1, strokes=strokes
    )
    assert document.fused is fused
    bare = np.degrees(np.arctan(np.sqrt(2) * strokes.rms_g))
    assert document.gain == pytest.approx(most_deg / bare)
    assert document.capture is None


@pytest.mark.parametrize(
    ("end_deg", "hold_s", "verdict"),
    [(0.9, 600, Severity.PASS), (3.9, 600, Severity.FAIL), (0.9, 60, Severity.UNKNOWN)],
)
def test_a_display_left_alone(
    end_deg: float, hold_s: float, verdict: Severity, tmp_path: Path
) -> None:
    """Ten minutes without a step are no drift that matters; three degrees are."""
    shown = (0.9, end_deg, 0.1)
    document = judge_shown_still(shown, hold_s, 0.1, tilt_rig(tmp_path), ())
    assert document.verdict is verdict


BIAS = (0.05, -0.06, 0.08)
GAIN = (1.03, 0.98, 1.01)


def _posed(folder: Path, count: int, gain: tuple[float, float, float] = GAIN) -> object:
    rng = np.random.default_rng(7)
    sensor = Sensor(bias_g=BIAS, gain=gain, noise_g=0.003)
    if count == 6:
        faces = [turned(), turned(left_up=180), turned(90), turned(-90), turned(left_up=90),
                 turned(left_up=-90)]  # fmt: skip
    else:
        faces = list(Rotation.random(count, rng=rng))
    motion = Motion([(face, 3.5) for face in faces])
    return tilt_capture(folder, "p", force_columns(sensor, motion, rng))


def test_twenty_poses_true_the_sensor(tmp_path: Path) -> None:
    """Bias within 2 mg, scale within 0.3 %."""
    document = judge_poses(_posed(tmp_path, 20), tilt_rig(tmp_path), ())  # type: ignore[arg-type]
    assert document.claim == "full"
    assert document.verdict is Severity.PASS
    assert document.bias == pytest.approx(BIAS, abs=0.002)
    assert document.matrix is not None
    assert [document.matrix[i][i] for i in range(3)] == pytest.approx(
        [1 / g for g in GAIN], rel=0.003
    )


def test_six_faces_claim_the_bias_alone(tmp_path: Path) -> None:
    """A well-scaled sensor on the six faces of a box."""
    capture = _posed(tmp_path, 6, (1.0, 1.0, 1.0))
    document = judge_poses(capture, tilt_rig(tmp_path), ())  # type: ignore[arg-type]
    assert document.claim == "bias"
    assert document.verdict is Severity.CAUTION
    assert document.matrix is None
    assert document.bias == pytest.approx(BIAS, abs=0.002)


def test_one_pose_claims_nothing(tmp_path: Path) -> None:
    """A sensor that lies still: unknown, and nothing to write."""
    rng = np.random.default_rng(8)
    capture = tilt_capture(
        tmp_path, "p", force_columns(Sensor(noise_g=0.003), Motion([(turned(), 20.0)]), rng)
    )
    document = judge_poses(capture, tilt_rig(tmp_path), ())
    assert document.claim == "none"
    assert document.verdict is Severity.UNKNOWN
    assert document.bias is None


def test_a_sensor_far_from_its_nominal_scale_is_told(tmp_path: Path) -> None:
    """Trued all the same, but half the scale and a third of a g are no ageing."""
    rng = np.random.default_rng(9)
    sensor = Sensor(bias_g=(0.3, 0.0, 0.0), gain=(0.5, 0.5, 0.5), noise_g=0.002)
    motion = Motion([(face, 3.5) for face in Rotation.random(24, rng=rng)])
    capture = tilt_capture(tmp_path, "p", force_columns(sensor, motion, rng))
    document = judge_poses(capture, tilt_rig(tmp_path), ())
    codes = _codes(document)
    assert codes["offset-far-off"] is Severity.CAUTION
    assert codes["scale-far-off"] is Severity.CAUTION
    assert document.claim == "full"


def test_an_earlier_truing_is_not_applied_again(tmp_path: Path) -> None:
    """A second run finds the sensor's bias, not what the first one left of it."""
    truing = (
        "[tilt.truing]\nbias = [0.05, -0.06, 0.08]\n"
        "matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]\n"
        'u = 0.001\ndate = "2026-01-01"\n'
    )
    rig = tilt_rig(tmp_path, ACCEL, TILT + truing)
    document = judge_poses(_posed(tmp_path, 20), rig, ())  # type: ignore[arg-type]
    assert document.bias == pytest.approx(BIAS, abs=0.002)


def test_poses_need_an_accelerometer(tmp_path: Path) -> None:
    """A pitch channel alone cannot be trued."""
    capture = tilt_capture(tmp_path, "p", {"p": np.zeros(500)})
    with pytest.raises(UsageError, match="no whole accelerometer"):
        judge_poses(capture, tilt_rig(tmp_path, PITCH), ())
