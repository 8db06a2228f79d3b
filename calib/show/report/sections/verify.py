"""What the controller showed after typing in."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup, table
from calib.show.report.parts import section_of
from calib.store.documents.sheet import VerifyDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: VerifyDocument) -> Markup:  # noqa: ARG001
    """Figure by figure, what it should show and what it shows."""
    rows = [
        (
            each.name,
            f"{each.expected:.3f} V",
            f"{each.shown:.3f} V",
            f"{each.allowed:.3f} V",
            "agrees" if each.agrees else "DIFFERS",
        )
        for each in document.comparisons
    ]
    return section_of(
        record,
        f"{document.channel} after typing in",
        table(("figure", "should show", "shows", "allowed apart", "result"), rows),
    )
