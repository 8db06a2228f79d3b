"""The document of ``calib poses``: an accelerometer trued by many still poses, in g."""

from __future__ import annotations

from typing import Literal

from calib.store.documents.finding import Document

Vector = tuple[float, float, float]


class PosesDocument(Document, frozen=True, kw_only=True, tag="calib.poses/1"):
    """True force is ``matrix`` times (reading less ``bias``).

    Attributes:
        claim: How much the poses support: all of it, the bias alone, or nothing.
        bias: Bias of each axis; None where nothing is claimed.
        matrix: Scale and cross-axis terms; None where they are not claimed.
        u: Standard uncertainty of the least certain bias; None where nothing is claimed.
        poses: Still poses found.
        distinct: Poses that differ from each other.
        rms_g: Root mean square of |g| less one after truing.
        raw_rms_g: The same before.
        u_scale: Standard uncertainty of the least certain term of ``matrix``.
    """

    claim: Literal["full", "bias", "none"] = "none"
    bias: Vector | None = None
    matrix: tuple[Vector, Vector, Vector] | None = None
    u: float | None = None
    poses: int = 0
    distinct: int = 0
    rms_g: float | None = None
    raw_rms_g: float | None = None
    u_scale: float | None = None
