"""The wheel: pulses a turn and the way of a turn."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.parts import section_of
from calib.show.wheel import wheel_view
from calib.store.documents.wheel import WheelDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: WheelDocument) -> Markup:  # noqa: ARG001
    """What its view shows."""
    return section_of(record, "Wheel", wheel_view(document))
