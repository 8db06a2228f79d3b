"""An accelerometer trued by poses: what the poses support, and bias and scale of each axis."""

from __future__ import annotations

from calib.show.console import Screen
from calib.show.page import print_view
from calib.show.view import Figure, Table, View, known, number
from calib.store.documents.poses import PosesDocument

CLAIMS = {"full": "bias + scale", "bias": "bias only", "none": "nothing"}


def show_poses(document: PosesDocument, console: Screen) -> None:
    """Verdict and claim at a glance; then the figures of each axis."""
    print_view(console, poses_view(document), document)


def poses_view(document: PosesDocument) -> View:
    """What is shown of an accelerometer trued by poses."""
    written = document.bias is not None and document.verdict.is_good
    return View(
        about="accelerometer trued by poses",
        right=f"{document.distinct} different poses",
        verdict=document.verdict,
        findings=document.findings,
        figures=(Figure("the poses support", CLAIMS[document.claim], ""),),
        facts=known(
            ("poses", f"{document.poses}, {document.distinct} of them different"),
            ("uncertainty of the bias", number(document.u, 4, "g")),
            ("|g| off before", number(document.raw_rms_g, 4, "g")),
            ("|g| off after", number(document.rms_g, 4, "g")),
        ),
        tables=_terms(document) if written else (),
        notes=(
            "Written to the rig file; earlier tilt evidence is now stale."
            if written
            else "The rig file is left as it was.",
        ),
    )


def _terms(document: PosesDocument) -> tuple[Table, ...]:
    if document.bias is None:
        return ()
    rows = []
    for index, axis in enumerate("xyz"):
        terms = document.matrix[index] if document.matrix else ()
        rows.append((axis, f"{document.bias[index]:+.4f} g", *(f"{term:+.4f}" for term in terms)))
    head = ("axis", "bias", "from x", "from y", "from z")
    return (Table(head[: len(rows[0])], tuple(rows)),)
