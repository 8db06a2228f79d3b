"""Which way the tilt sensor counts: pose by pose what it read."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.parts import section_of
from calib.show.signs import signs_view
from calib.store.documents.signs import SignsDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: SignsDocument) -> Markup:  # noqa: ARG001
    """What its view shows."""
    return section_of(record, "Sign, axis and scale of the tilt sensor", signs_view(document))
