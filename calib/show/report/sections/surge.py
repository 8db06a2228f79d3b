"""What a push does to the pitch reading."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.parts import section_of
from calib.show.surge import surge_view
from calib.store.documents.surge import SurgeDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: SurgeDocument) -> Markup:  # noqa: ARG001
    """What its view shows."""
    return section_of(record, "Push read as tilt", surge_view(document))
