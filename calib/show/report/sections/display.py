"""What only the controller's display shows."""

from __future__ import annotations

from calib.show.display import display_view
from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.parts import section_of
from calib.store.documents.display import DisplayDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: DisplayDocument) -> Markup:  # noqa: ARG001
    """What its view shows."""
    return section_of(record, "What the display shows", display_view(document))
