"""From still poses in the hand to an accelerometer's truing, its findings and its document."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import msgspec
import numpy as np

from calib.checks.capture import capture_findings
from calib.checks.limits import tilt_limit
from calib.checks.order import judged
from calib.checks.tilt.signal import stuck_findings
from calib.errors import UsageError
from calib.measure.uncertainty import coverage_factor
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.tilt import PosesDocument, Vector
from calib.store.rig import Rig
from calib.tilt.attitude import Array
from calib.tilt.inputs import series_of
from calib.tilt.poses import Truing, fit_truing
from calib.tilt.series import rests_of

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
        raise UsageError.of("no-accelerometer", path=rig.path)
    means = [rest.of(series.force_g).mean(axis=0) for rest in rests_of(series)]
    fitted = fit_truing(np.reshape(means, (-1, 3)) / inputs.gravity_g)
    # the rig file's bias is in g of the sensor's unit, whatever gravity is here
    truing = replace(fitted, bias_g=fitted.bias_g * inputs.gravity_g)
    findings = [
        *capture_findings(capture, rig),
        *stuck_findings(capture, inputs, series),
        *_truing_findings(truing, rig),
    ]
    claimed, full = truing.claim != "none", truing.claim == "full"
    x, y, z = (_vector(row) for row in truing.matrix)
    return PosesDocument(
        **judged(findings, cautions, capture.ref()),
        claim=truing.claim,
        bias=_vector(truing.bias_g) if claimed else None,
        matrix=(x, y, z) if full else None,
        u=float(truing.u_bias_g.max()) if claimed else None,
        poses=truing.poses,
        distinct=truing.distinct,
        rms_g=truing.rms_g if truing.poses else None,
        raw_rms_g=truing.raw_rms_g if truing.poses else None,
        u_scale=float(truing.u_matrix.max()) if full else None,
    )


def without_truing(rig: Rig) -> Rig:
    """The rig as it was before its accelerometer was trued."""
    return msgspec.structs.replace(rig, tilt=msgspec.structs.replace(rig.tilt, truing=None))


def _vector(values: Array) -> Vector:
    x, y, z = (float(value) for value in values)
    return x, y, z


def _truing_findings(truing: Truing, rig: Rig) -> said.Findings:
    """What the poses support, how well |g| is one afterwards, and what is odd about the sensor."""
    distinct, most_rms_g = float(truing.distinct), tilt_limit("poses_rms_g", rig)
    if truing.claim == "none":
        if truing.distinct >= LEAST_DISTINCT:
            raw_g = truing.raw_rms_g
            yield said.unknown("poses-disagree", raw_g, most_rms_g, distinct=truing.distinct)
        else:
            yield said.unknown("poses-too-few", distinct, 12.0, poses=truing.poses)
        return
    # the half-width that holds the bias of the worst axis with 95 %
    half_g = coverage_factor(truing.dof) * float(truing.u_bias_g.max())
    if truing.claim == "full":
        yield said.passes("trued", distinct, half_g=half_g)
    else:
        yield said.caution("bias-only", distinct, half_g=half_g)
    rms_g, raw_rms_g = truing.rms_g, truing.raw_rms_g
    yield said.within(
        "residuals/poses", "residuals/poses-large", rms_g, most_rms_g, raw_rms_g=raw_rms_g
    )
    bias_g = float(np.abs(truing.bias_g).max())
    yield from said.above("offset-far-off", bias_g, tilt_limit("bias_g", rig))
    most_pct = tilt_limit("axis_scale_pct", rig)
    if truing.claim == "full":
        scale_pct = 100 * float(np.abs(1 / np.diag(truing.matrix) - 1).max())
        yield from said.above("scale-far-off", scale_pct, most_pct)
