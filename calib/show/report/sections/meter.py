"""The logger's scale, held against a multimeter."""

from __future__ import annotations

from calib.show.meter import meter_view
from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.parts import section_of
from calib.store.documents.meter import MeterDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: MeterDocument) -> Markup:  # noqa: ARG001
    """What its view shows."""
    return section_of(record, f"Scale of {document.channel}", meter_view(document))
