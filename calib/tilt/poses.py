"""Truing of a three-axis accelerometer, in g, from still poses: |g| is the same in all of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from calib.store.documents.tilt import Claim
from calib.tilt.attitude import Array, angle_between_deg

_UPPER: Final = np.triu_indices(3)
_BIAS_TERMS: Final = 3
_FULL_TERMS: Final = 9
_FACE_TERMS: Final = 6
_FACES: Final = 6

_FACE_DEG: Final = 25.0
"""How far a pose may be off an axis and still be that face of a box. Own choice: no part is glued
in more askew, and the next face is 90 degrees away."""

_FACE_U_G: Final = 0.004
"""Standard uncertainty of a bias from six faces, g. Own choice: six poses leave nothing spare to
judge by, and a cross-axis of one per cent shifts the middle of two faces put down within some
degrees by a milligee or two."""

_ALIKE_DEG: Final = 10.0
"""Poses closer than this are one pose, repeated. Own choice, because a pose put down again by
hand lands within some degrees, and teaches nothing new about the axes."""

_SPARE_FULL: Final = 3
_SPARE_BIAS: Final = 1
"""Poses beyond the terms of the fit. Own choice, because without spare poses the residual, and
with it every uncertainty, is zero whatever the sensor does."""

_MOST_FACES_RMS_G: Final = 0.01
"""Own choice: what is left of |g| with three scales fitted; more is no box that stood still."""

_MOST_U_BIAS_G: Final = 0.005
"""Standard uncertainty of a bias, g, above which none is claimed. Own choice, because 5 mg is
0.3 degrees, a quarter of a garage floor's slope."""

_MOST_U_SCALE: Final = 0.005
"""Standard uncertainty of a term of the matrix above which no matrix is claimed. Own choice,
because factory scale is seldom further off than one per cent."""

_MOST_STEPS: Final = 50
_STANDS_G: Final = 1e-12
_STEP_G: Final = 1e-5
_FLAT: Final = 1e-9
"""Own choice: share of the steepest direction's slope below which one counts as flat."""

_LEAST_U_G: Final = 0.0002
"""Own choice: no pose put down by hand is known better than 0.2 mg, whatever its residual."""


@dataclass(frozen=True)
class Truing:
    """What makes |g| one: force = matrix · (reading - bias).

    Attributes:
        claim: How much of it the poses support; the rest is left as it was (0 or identity).
        bias_g: Bias of each axis, g, shape (3,).
        matrix: Scale and cross-axis terms, upper triangular, shape (3, 3).
        u_bias_g: Standard uncertainty of the bias, g, shape (3,); infinite where not claimed.
        u_matrix: Standard uncertainty of each term of the matrix, shape (3, 3); zero below the
            diagonal, infinite where not claimed.
        rms_g: Root mean square of |g| - 1 over the poses after truing, g.
        raw_rms_g: The same before truing, g.
        dof: Degrees of freedom of those uncertainties; infinite where they are assumed.
        poses: Poses given.
        distinct: Poses that differ from each other.
    """

    claim: Claim
    bias_g: Array
    matrix: Array
    u_bias_g: Array
    u_matrix: Array
    rms_g: float
    raw_rms_g: float
    dof: float
    poses: int
    distinct: int


def fit_truing(pose_g: Array) -> Truing:
    """Bias, scale and cross-axis terms of an accelerometer from still poses.

    Args:
        pose_g: Mean reading of each pose by the sensor's nominal scale, g, shape (poses, 3).

    Returns:
        The fullest claim that the poses support: full, bias alone, or none.

    Source: the multi-position method (|g| is one in every pose) with the upper triangular model
    of Tedaldi, Pretto and Menegatti, ICRA 2014; uncertainty from the Jacobian and the residual,
    JCGM 100:2008, annex H.3 in the same form. When to claim less is own choice, stated at each
    limit.
    """
    distinct = count_distinct(pose_g)
    for terms, spare in ((_FULL_TERMS, _SPARE_FULL), (_BIAS_TERMS, _SPARE_BIAS)):
        if distinct >= terms + spare:
            fit = _fit(pose_g, terms, distinct)
            if _supported(fit):
                return fit
    return _faces_bias(pose_g, distinct) or _untouched(pose_g, distinct)


def _faces_bias(pose_g: Array, distinct: int) -> Truing | None:
    """The bias alone, from all six faces of a box; None where a face is missing.

    Opposite faces have their middle at the bias whatever the axis's scale is, so the scales are
    fitted too and left unclaimed.
    """
    axes = np.vstack([np.eye(3), -np.eye(3)])
    near = [min((angle_between_deg(p, axis) for p in pose_g), default=180.0) for axis in axes]
    if max(near) > _FACE_DEG or pose_g.shape[0] < _FACES:
        return None
    terms, _ = _least_squares(np.concatenate([np.zeros(3), np.ones(3)]), pose_g)
    bias = terms[:_BIAS_TERMS]
    if _rms(_excess(terms, pose_g)) > _MOST_FACES_RMS_G:
        return None
    return replace(
        _untouched(pose_g, distinct),
        claim="bias",
        bias_g=bias,
        u_bias_g=np.full(3, _FACE_U_G),
        rms_g=_rms(np.linalg.norm(pose_g - bias, axis=1) - 1.0),
    )


def count_distinct(pose_g: Array) -> int:
    """Poses that differ from every other counted one by more than 10 degrees.

    Source: own choice, see `_ALIKE_DEG`.
    """
    kept: list[Array] = []
    for pose in pose_g:
        if all(angle_between_deg(pose, other) > _ALIKE_DEG for other in kept):
            kept.append(pose)
    return len(kept)


def _supported(fit: Truing) -> bool:
    """Whether the uncertainties of a fit are small enough to claim it."""
    bias_known = bool(np.all(fit.u_bias_g <= _MOST_U_BIAS_G))
    if fit.claim == "bias":
        return bias_known
    return bias_known and bool(np.all(fit.u_matrix[_UPPER] <= _MOST_U_SCALE))


def _unpack(terms: Array) -> tuple[Array, Array]:
    """Bias and matrix of the fit's terms."""
    matrix = np.eye(3)
    if terms.size == _FULL_TERMS:
        matrix[_UPPER] = terms[_BIAS_TERMS:]
    elif terms.size == _FACE_TERMS:
        matrix = np.diag(terms[_BIAS_TERMS:])
    return terms[:_BIAS_TERMS], matrix


def _excess(terms: Array, pose_g: Array) -> Array:
    """|g| - 1 of each pose, g."""
    bias, matrix = _unpack(terms)
    length: Array = np.linalg.norm((pose_g - bias) @ matrix.T, axis=1)
    return length - 1.0


def _least_squares(start: Array, pose_g: Array) -> tuple[Array, Array]:
    """Terms with the least sum of squared excess, and its slopes there, shape (poses, terms).

    Source: Gauss and Newton, the step halved until it helps; directions that no pose tells of
    keep where they began.
    """
    terms = start
    for _ in range(_MOST_STEPS):
        slopes = _slopes(terms, pose_g)
        excess = _excess(terms, pose_g)
        step = np.linalg.lstsq(slopes, -excess, rcond=_FLAT)[0]
        while np.sum(_excess(terms + step, pose_g) ** 2) > np.sum(excess**2):
            step = 0.5 * step
        if np.abs(step).max() <= _STANDS_G:
            break
        terms = terms + step
    return terms, _slopes(terms, pose_g)


def _slopes(terms: Array, pose_g: Array) -> Array:
    """How the excess of each pose changes with each term, shape (poses, terms)."""
    steps = _STEP_G * np.eye(terms.size)
    return np.stack(
        [(_excess(terms + s, pose_g) - _excess(terms - s, pose_g)) / (2 * _STEP_G) for s in steps],
        axis=1,
    )


def _fit(pose_g: Array, terms: int, distinct: int) -> Truing:
    """The least-squares fit of one model."""
    start = np.zeros(terms)
    if terms == _FULL_TERMS:
        start[_BIAS_TERMS:] = np.eye(3)[_UPPER]
    found, slopes = _least_squares(start, pose_g)
    left = _excess(found, pose_g)
    bias, matrix = _unpack(found)
    spare = max(1, pose_g.shape[0] - terms)
    scatter = max(_LEAST_U_G, float(np.sqrt(np.sum(left**2) / spare)))
    u = np.full(terms, np.inf)
    if np.linalg.matrix_rank(slopes) == terms:
        u = scatter * np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes)))
    u_matrix = np.zeros((3, 3))
    u_matrix[_UPPER] = u[_BIAS_TERMS:] if terms == _FULL_TERMS else np.inf
    return replace(
        _untouched(pose_g, distinct),
        claim="full" if terms == _FULL_TERMS else "bias",
        bias_g=bias,
        matrix=matrix,
        u_bias_g=u[:_BIAS_TERMS],
        u_matrix=u_matrix,
        rms_g=_rms(left),
        dof=float(spare),
    )


def _untouched(pose_g: Array, distinct: int) -> Truing:
    """No truing: the readings stay as they are."""
    raw = _rms(np.linalg.norm(pose_g, axis=1) - 1.0) if pose_g.size else float("inf")
    return Truing(
        claim="none",
        bias_g=np.zeros(3),
        matrix=np.eye(3),
        u_bias_g=np.full(3, np.inf),
        u_matrix=np.triu(np.full((3, 3), np.inf)),
        rms_g=raw,
        raw_rms_g=raw,
        dof=float("inf"),
        poses=pose_g.shape[0],
        distinct=distinct,
    )


def _rms(value: Array) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(value**2)))
