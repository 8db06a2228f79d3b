"""Truing from poses claims what the poses support and no more."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from scipy.spatial.transform import Rotation

from calib.tilt.poses import count_distinct, fit_truing

BIAS = np.array([0.05, -0.08, 0.11])
MATRIX = np.array([[1.02, 0.01, -0.02], [0.0, 0.97, 0.015], [0.0, 0.0, 1.01]])


def _poses(count: int, seed: int, noise_g: float = 0.0005) -> npt.NDArray[np.float64]:
    """Readings of an imperfect sensor in random poses: matrix @ (reading - bias) = force."""
    rng = np.random.default_rng(seed)
    force = Rotation.random(count, rng=rng).apply([0.0, 0.0, 1.0])
    force = force + rng.normal(0, noise_g, force.shape)
    reading: npt.NDArray[np.float64] = force @ np.linalg.inv(MATRIX).T + BIAS
    return reading


@pytest.mark.parametrize("seed", range(5))
def test_many_poses_give_the_whole_truing(seed: int) -> None:
    """24 poses: bias and matrix within four stated uncertainties of the truth."""
    found = fit_truing(_poses(24, seed))
    assert found.claim == "full"
    assert np.all(np.abs(found.bias_g - BIAS) <= 4 * found.u_bias_g)
    upper = np.triu_indices(3)
    assert np.all(np.abs(found.matrix - MATRIX)[upper] <= 4 * found.u_matrix[upper])
    assert found.rms_g < 0.001


def test_stated_uncertainty_is_honest() -> None:
    """Over 200 sensors two standard uncertainties hold the bias in 90 to 99 per cent."""
    held = []
    for seed in range(200):
        found = fit_truing(_poses(20, seed, noise_g=0.001))
        held.extend(np.abs(found.bias_g - BIAS) <= 2 * found.u_bias_g)
    assert 0.90 <= np.mean(held) <= 0.99


def test_few_poses_of_a_well_scaled_sensor_give_the_bias_alone() -> None:
    """Six poses on the faces of a box, scale right: the bias, and the matrix left as it was."""
    faces = np.vstack([np.eye(3), -np.eye(3)]) + BIAS
    found = fit_truing(faces + np.random.default_rng(1).normal(0, 0.0003, (6, 3)))
    assert found.claim == "bias"
    assert found.bias_g == pytest.approx(BIAS, abs=0.001)
    assert found.matrix == pytest.approx(np.eye(3))
    assert np.all(np.isinf(found.u_matrix[np.triu_indices(3)]))


def test_six_faces_of_a_badly_scaled_sensor_give_its_bias_alone() -> None:
    """Opposite faces have their middle at the bias, whatever the scales; those are not claimed."""
    faces = np.vstack([np.eye(3), -np.eye(3)]) * np.array([1.05, 0.95, 1.0]) + BIAS
    truing = fit_truing(faces)
    assert truing.claim == "bias"
    assert truing.bias_g == pytest.approx(BIAS, abs=1e-6)
    assert np.array_equal(truing.matrix, np.eye(3))
    assert fit_truing(faces[:5]).claim == "none"


def test_one_pose_repeated_is_one_pose() -> None:
    """Thirty readings of the same pose teach no more than one."""
    same = np.tile([0.05, 0.02, 1.03], (30, 1))
    assert count_distinct(same) == 1
    assert fit_truing(same).claim == "none"


def test_poses_about_one_axis_do_not_claim_a_matrix() -> None:
    """Twelve poses in one plane leave the third axis unseen: full truing is refused."""
    angle = np.radians(np.arange(0, 360, 30))
    ring = np.column_stack([np.sin(angle), np.zeros(12), np.cos(angle)]) + BIAS
    assert fit_truing(ring + np.random.default_rng(2).normal(0, 3e-4, (12, 3))).claim != "full"


def exact(count: int, seed: int = 1) -> npt.NDArray[np.float64]:
    """Poses well apart from each other, without noise."""
    return _poses(200, seed, noise_g=0.0)[_apart(_poses(200, seed, noise_g=0.0), count)]


def _apart(poses: npt.NDArray[np.float64], count: int) -> list[int]:
    kept = [0]
    for index in range(1, len(poses)):
        cosines = poses[kept] @ poses[index] / np.linalg.norm(poses[kept], axis=1)
        if (cosines / np.linalg.norm(poses[index]) < np.cos(np.radians(25.0))).all():
            kept.append(index)
    return kept[:count]


def test_three_poses_to_spare_are_the_fewest_for_a_matrix() -> None:
    """Nine terms take twelve poses, however well they lie; eleven give no matrix."""
    full = fit_truing(exact(12))
    assert (full.claim, full.poses, full.distinct, full.dof) == ("full", 12, 12, 3.0)
    assert full.bias_g == pytest.approx(BIAS, abs=1e-9)
    assert full.matrix == pytest.approx(MATRIX, abs=1e-9)
    assert full.u_matrix.shape == (3, 3)
    assert full.u_matrix[1, 0] == full.u_matrix[2, 0] == full.u_matrix[2, 1] == 0.0
    assert fit_truing(exact(11)).claim != "full"


def test_one_pose_to_spare_is_the_fewest_for_a_bias() -> None:
    """Three terms take four poses of a well scaled sensor; three give nothing."""
    force = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [-0.6, -0.48, -0.64]], dtype=np.float64)
    found = fit_truing(force + BIAS)
    assert (found.claim, found.poses, found.dof) == ("bias", 4, 1.0)
    assert found.bias_g == pytest.approx(BIAS, abs=1e-9)
    none = fit_truing(force[:3] + BIAS)
    assert none.claim == "none"
    assert none.u_bias_g.tolist() == [np.inf] * 3
    assert none.u_matrix.tolist() == np.triu(np.full((3, 3), np.inf)).tolist()
    assert (none.bias_g.tolist(), none.matrix.tolist()) == ([0.0] * 3, np.eye(3).tolist())
    assert (none.rms_g, none.dof) == (none.raw_rms_g, np.inf)
    assert fit_truing(np.empty((0, 3))).claim == "none"


def test_no_bias_is_known_better_than_a_fifth_of_a_milligee() -> None:
    """Six exact faces: each axis is seen by two of them, so that its bias is known to 0.2/√2 mg."""
    faces = np.vstack([np.eye(3), -np.eye(3)])
    found = fit_truing(faces + BIAS)
    assert found.claim == "bias"
    assert found.u_bias_g == pytest.approx(np.full(3, 0.0002 / 2.0**0.5), rel=0.02)


def test_what_is_left_and_what_was_before_by_hand() -> None:
    """Six faces of scales 1.05, 0.95 and 1: root mean squares of |g| - 1 after and before."""
    faces = np.vstack([np.eye(3), -np.eye(3)]) * np.array([1.05, 0.95, 1.0])
    found = fit_truing(faces)
    assert found.claim == "bias"
    assert found.rms_g == pytest.approx((0.05**2 * 4 / 6) ** 0.5)
    assert found.raw_rms_g == pytest.approx((0.05**2 * 4 / 6) ** 0.5)
    assert found.u_bias_g.tolist() == [0.004] * 3
    assert (found.poses, found.distinct) == (6, 6)
    moved = fit_truing(faces + np.array([0.1, 0.0, 0.0]))
    raw = [1.15, (0.95**2 + 0.01) ** 0.5, 1.01**0.5, 0.95, (0.95**2 + 0.01) ** 0.5, 1.01**0.5]
    assert moved.rms_g == pytest.approx((0.05**2 * 4 / 6) ** 0.5)
    assert moved.raw_rms_g == pytest.approx(np.sqrt(np.mean((np.array(raw) - 1.0) ** 2)))


@pytest.mark.parametrize(("off_deg", "claimed"), [(24.0, True), (26.0, False)])
def test_a_pose_is_a_face_within_twenty_five_degrees(off_deg: float, claimed: bool) -> None:
    """Farther off an axis it may be another face, and the middle says nothing of the bias."""
    faces = np.vstack([np.eye(3), -np.eye(3)])
    faces[0] = [np.cos(np.radians(off_deg)), np.sin(np.radians(off_deg)), 0.0]
    found = fit_truing(faces * np.array([1.05, 1.05, 0.95]))
    assert (found.claim == "bias") is claimed


@pytest.mark.parametrize(("apart_deg", "count"), [(9.5, 1), (10.5, 2)])
def test_poses_ten_degrees_apart_are_two(apart_deg: float, count: int) -> None:
    """Nearer it is one pose, put down again."""
    tilt = np.radians(apart_deg)
    assert count_distinct(np.array([[0.0, 0.0, 1.0], [np.sin(tilt), 0.0, np.cos(tilt)]])) == count


def test_a_spread_too_wide_claims_less() -> None:
    """Noise of 20 mg over 14 poses leaves no matrix; a pose that is off by a fifth no faces."""
    noisy = exact(14) + np.random.default_rng(4).normal(0, 0.02, (14, 3))
    assert fit_truing(noisy).claim != "full"
    faces = np.vstack([np.eye(3), -np.eye(3)]) * np.array([1.05, 0.95, 1.0])
    between = np.array([[0.6 * 1.05, 0.8 * 0.95, 0.0]])
    assert fit_truing(np.vstack([faces, between])).claim == "bias"
    assert fit_truing(np.vstack([faces, 1.2 * between])).claim == "none"


@pytest.mark.parametrize(("scale", "u_g", "dof"), [(0.0049, 0.0049, 3.0), (0.0051, 0.004, np.inf)])
def test_a_bias_is_claimed_up_to_five_milligee(scale: float, u_g: float, dof: float) -> None:
    """Six faces of axes that are all s too long leave s on each, and s is what a bias is known to.

    By hand: √(6·s²/3) over √2. Beyond 5 mg the scales are fitted as well, and not claimed.
    """
    faces = (1.0 + scale) * np.vstack([np.eye(3), -np.eye(3)])
    found = fit_truing(faces)
    assert found.claim == "bias"
    assert found.u_bias_g == pytest.approx(np.full(3, u_g), rel=0.01)
    assert found.dof == dof
    assert found.raw_rms_g == pytest.approx(scale)
