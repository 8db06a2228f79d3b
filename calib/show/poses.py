"""The page of ``calib poses``: what the poses claim, and bias and scale of each axis."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import (
    detail_lines,
    headline,
    large_lines,
    note_lines,
    print_page,
    verdict_lines,
    worst_lines,
)
from calib.store.documents.poses import PosesDocument

CLAIMS = {"full": "bias + scale", "bias": "bias only", "none": "nothing"}


def show_poses(document: PosesDocument, console: Screen) -> None:
    """Verdict and claim at a glance; then the figures of each axis."""
    glance = [
        headline("accelerometer trued by poses", f"{document.distinct} different poses"),
        *verdict_lines(document.verdict),
        Text(),
        *large_lines(CLAIMS[document.claim]),
        *worst_lines(document),
    ]
    print_page(console, glance, [*_axis_lines(document), Text(), *detail_lines(document)])


def _axis_lines(document: PosesDocument) -> list[Text]:
    if document.bias is None:
        return note_lines("the rig file is left as it was")
    lines = []
    for index, name in enumerate("xyz"):
        scale = "" if document.matrix is None else f"   scale {document.matrix[index][index]:.4f}"
        lines.append(Text(f"  accel-{name}   bias {document.bias[index]:+.4f} g{scale}"))
    return [*lines, *note_lines("written to the rig file; earlier tilt evidence is now stale")]
