"""The accelerometer's own bias and scale."""

from __future__ import annotations

from calib.show.poses import poses_view
from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.parts import section_of
from calib.store.documents.poses import PosesDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: PosesDocument) -> Markup:  # noqa: ARG001
    """What its view shows."""
    return section_of(record, "Accelerometer trued by still poses", poses_view(document))
