"""What the controller showed after typing in."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.parts import section_of
from calib.show.sheet import verify_view
from calib.store.documents.sheet import VerifyDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: VerifyDocument) -> Markup:  # noqa: ARG001
    """What its view shows."""
    return section_of(record, f"{document.channel} after typing in", verify_view(document))
