"""The level zero: the machine on its floor, the figures, what the uncertainty is made of."""

from __future__ import annotations

from calib.show.level import level_view
from calib.show.report.context import Context
from calib.show.report.drawings import wheels_drawing
from calib.show.report.markup import Markup
from calib.show.report.parts import drawing, section_of
from calib.store.documents.level import LevelDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: LevelDocument) -> Markup:
    """Zero, floor and rider's tilt of each axis that was measured."""
    view = level_view(document)
    return section_of(record, "Level zero", view, picture=_side_view(context, document))


def _side_view(context: Context, document: LevelDocument) -> Markup | None:
    pitch = document.pitch
    if pitch is None or not document.verdict.is_good:
        return None
    floor = (
        "The floor's slope is not known."
        if pitch.floor_slope is None
        else f"The floor slopes by {pitch.floor_slope:+.2f}°, front higher positive."
    )
    words = f"{floor} The sensor reads {pitch.reading:+.2f}°; level is {pitch.zero:+.2f}°."
    return drawing(
        wheels_drawing(context.drawing_name(), pitch.floor_slope, pitch.reading, words),
        f"{words} Slopes are drawn five times as steep.",
    )
