"""Truing from poses claims what the poses support and no more."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from scipy.spatial.transform import Rotation

from calib.tilt.poses import Claim, count_distinct, fit_truing

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
    assert found.claim is Claim.FULL
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
    assert found.claim is Claim.BIAS
    assert found.bias_g == pytest.approx(BIAS, abs=0.001)
    assert found.matrix == pytest.approx(np.eye(3))
    assert np.all(np.isinf(found.u_matrix[np.triu_indices(3)]))


def test_six_faces_of_a_badly_scaled_sensor_give_its_bias_alone() -> None:
    """Opposite faces have their middle at the bias, whatever the scales; those are not claimed."""
    faces = np.vstack([np.eye(3), -np.eye(3)]) * np.array([1.05, 0.95, 1.0]) + BIAS
    truing = fit_truing(faces)
    assert truing.claim is Claim.BIAS
    assert truing.bias_g == pytest.approx(BIAS, abs=1e-6)
    assert np.array_equal(truing.matrix, np.eye(3))
    assert fit_truing(faces[:5]).claim is Claim.NONE


def test_one_pose_repeated_is_one_pose() -> None:
    """Thirty readings of the same pose teach no more than one."""
    same = np.tile([0.05, 0.02, 1.03], (30, 1))
    assert count_distinct(same) == 1
    assert fit_truing(same).claim is Claim.NONE


def test_poses_about_one_axis_do_not_claim_a_matrix() -> None:
    """Twelve poses in one plane leave the third axis unseen: full truing is refused."""
    angle = np.radians(np.arange(0, 360, 30))
    ring = np.column_stack([np.sin(angle), np.zeros(12), np.cos(angle)]) + BIAS
    assert fit_truing(ring + np.random.default_rng(2).normal(0, 3e-4, (12, 3))).claim is not (
        Claim.FULL
    )
