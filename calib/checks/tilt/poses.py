"""From still poses in the hand to an accelerometer's truing, its findings and its document."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import msgspec
import numpy as np
import numpy.typing as npt

from calib.checks.capture import capture_findings
from calib.checks.limits import tilt_limit
from calib.checks.order import in_order
from calib.checks.tilt.stuck import stuck_findings
from calib.errors import UsageError
from calib.measure.uncertainty import coverage_factor
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.poses import PosesDocument, Vector
from calib.store.rig import Rig
from calib.tilt.inputs import TiltInputs, series_of
from calib.tilt.poses import Claim, Truing, fit_truing
from calib.tilt.series import TiltSeries, reading_of, rests_of

Array = npt.NDArray[np.float64]


LEAST_DISTINCT: Final = 4
"""Different poses from which a bias could be had: its three terms, and one to spare."""


def judge_poses(capture: Capture, rig: Rig, cautions: tuple[str, ...]) -> PosesDocument:
    """The document of a truing.

    Args:
        capture: Many poses, each still for some seconds.
        rig: What the columns are; an earlier truing in it is not applied.
        cautions: The usual cautions of the flow.

    Raises:
        UsageError: The rig file has no whole accelerometer.
    """
    inputs, series = series_of(capture, without_truing(rig))
    if series.force_g is None:
        raise UsageError(
            f"{rig.path} has no whole accelerometer (accel-x, accel-y, accel-z) to true.",
            "Give the three roles in the rig file.",
        )
    fitted = fit_truing(pose_means(series, inputs))
    # the rig file's bias is in g of the sensor's unit, whatever gravity is here
    truing = replace(fitted, bias_g=fitted.bias_g * inputs.gravity_g)
    findings = [
        *capture_findings(capture, rig),
        *stuck_findings(capture, inputs, series),
        _claim_finding(truing, tilt_limit("poses_rms_g", rig)),
        *_fit_findings(truing, tilt_limit("poses_rms_g", rig)),
        *_far_off(truing, rig),
    ]
    return PosesDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=in_order(findings),
        cautions=cautions,
        capture=capture.ref(),
        claim=truing.claim.value,
        bias=None if truing.claim is Claim.NONE else _vector(truing.bias_g),
        matrix=_matrix(truing),
        u=None if truing.claim is Claim.NONE else float(truing.u_bias_g.max()),
        poses=truing.poses,
        distinct=truing.distinct,
        rms_g=truing.rms_g if truing.poses else None,
        raw_rms_g=truing.raw_rms_g if truing.poses else None,
        u_scale=float(truing.u_matrix.max()) if truing.claim is Claim.FULL else None,
    )


def without_truing(rig: Rig) -> Rig:
    """The rig as it was before its accelerometer was trued."""
    return msgspec.structs.replace(rig, tilt=msgspec.structs.replace(rig.tilt, truing=None))


def pose_means(series: TiltSeries, inputs: TiltInputs) -> Array:
    """Mean force of each still pose, in units of what |g| must be, shape (poses, 3)."""
    means = [reading_of(series, still).force_g for still in rests_of(series).stretches]
    kept = [mean / inputs.gravity_g for mean in means if mean is not None]
    return np.array(kept).reshape(-1, 3)


def _vector(values: Array) -> Vector:
    x, y, z = (float(value) for value in values)
    return x, y, z


def _matrix(truing: Truing) -> tuple[Vector, Vector, Vector] | None:
    if truing.claim is not Claim.FULL:
        return None
    x, y, z = (_vector(row) for row in truing.matrix)
    return x, y, z


def _far_off(truing: Truing, rig: Rig) -> list[Finding]:
    """A sensor so far from its nominal scale that the rig file or the sensor is wrong."""
    if truing.claim is Claim.NONE:
        return []
    found = []
    bias, most_g = float(np.abs(truing.bias_g).max()), tilt_limit("bias_g", rig)
    if bias > most_g:
        found.append(said.caution("offset-far-off", bias, most_g))
    scale_pct = 100 * float(np.abs(1 / np.diag(truing.matrix) - 1).max())
    most_pct = tilt_limit("axis_scale_pct", rig)
    if truing.claim is Claim.FULL and scale_pct > most_pct:
        found.append(said.caution("scale-far-off", scale_pct, most_pct))
    return found


def _claim_finding(truing: Truing, most_rms_g: float) -> Finding:
    """What the poses support."""
    if truing.claim is Claim.FULL:
        return said.passes("trued", float(truing.distinct), g=_bias_u(truing))
    if truing.claim is Claim.BIAS:
        return said.caution("bias-only", float(truing.distinct), g=_bias_u(truing))
    if truing.distinct >= LEAST_DISTINCT:
        return said.unknown(
            "poses-disagree", truing.raw_rms_g, most_rms_g, distinct=truing.distinct
        )
    return said.unknown("poses-too-few", float(truing.distinct), 12.0, poses=truing.poses)


def _bias_u(truing: Truing) -> float:
    """Half-width that holds the bias of the worst axis with 95 %, g."""
    return coverage_factor(truing.dof) * float(truing.u_bias_g.max())


def _fit_findings(truing: Truing, most_rms_g: float) -> list[Finding]:
    """How well |g| is one afterwards."""
    if truing.claim is Claim.NONE:
        return []
    good = truing.rms_g <= most_rms_g
    return [
        Finding(
            code="residuals",
            severity=Severity.PASS if good else Severity.CAUTION,
            text=f"|g| is one within {truing.rms_g:.4f} g in all poses "
            f"(before: {truing.raw_rms_g:.4f} g).",
            value=truing.rms_g,
            limit=most_rms_g,
            unit="g",
            action="" if good else "Rest the sensor, do not hold it; repeat.",
        )
    ]
