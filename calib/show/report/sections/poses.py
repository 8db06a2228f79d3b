"""The accelerometer's own bias and scale."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup, table
from calib.show.report.parts import figures, number, section_of
from calib.store.documents.poses import PosesDocument
from calib.store.records import Record

_CLAIMS = {"full": "bias and scale", "bias": "bias alone", "none": "nothing"}


def section(context: Context, record: Record, document: PosesDocument) -> Markup:  # noqa: ARG001
    """What the poses support, and what they gave."""
    return section_of(
        record,
        "Accelerometer trued by still poses",
        figures(
            [
                ("the poses support", _CLAIMS[document.claim]),
                ("poses", f"{document.poses}, {document.distinct} of them different"),
                ("uncertainty of the bias", number(document.u, 4, "g")),
                ("|g| off before", number(document.raw_rms_g, 4, "g")),
                ("|g| off after", number(document.rms_g, 4, "g")),
            ]
        ),
        _terms(document),
    )


def _terms(document: PosesDocument) -> Markup | None:
    if document.bias is None:
        return None
    rows = []
    for number_, axis in enumerate("xyz"):
        terms = document.matrix[number_] if document.matrix else ()
        rows.append((axis, f"{document.bias[number_]:+.4f} g", *(f"{t:+.4f}" for t in terms)))
    head = ("axis", "bias", "from x", "from y", "from z")
    return table(head[: len(rows[0])], rows)
