"""The level zero: the machine on its floor, the figures, what the uncertainty is made of."""

from __future__ import annotations

from collections.abc import Iterator

from calib.show.report.context import Context
from calib.show.report.drawings import budget_drawing, wheels_drawing
from calib.show.report.markup import Markup, element
from calib.show.report.parts import drawing, figures, number, section_of
from calib.store.documents.level import AxisZeroFigures, LevelDocument
from calib.store.records import Record

METHODS = {
    "single": "one standing; the floor's slope is in it",
    "turned": "turned end for end",
    "typed-slope": "the floor's slope was typed",
}


def section(context: Context, record: Record, document: LevelDocument) -> Markup:
    """Zero, floor and rider's tilt of each axis that was measured."""
    axes = [("pitch", document.pitch), ("roll", document.roll), ("shown", document.shown)]
    return section_of(
        record,
        "Level zero",
        element("p", f"{METHODS[document.method]}; {document.standings} standings; pitch as the "
                f"{document.basis} sees it.", class_="made"),
        _side_view(context, document),
        [
            _axis(context, name, axis)
            for name, axis in axes
            if axis is not None
        ],
    )  # fmt: skip


def _side_view(context: Context, document: LevelDocument) -> Markup | None:
    pitch = document.pitch
    if pitch is None:
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


def _axis(context: Context, name: str, axis: AxisZeroFigures) -> Iterator[Markup]:
    heading = "pitch as the controller shows it" if name == "shown" else name
    yield element("h4", heading.capitalize())
    yield figures(
        [
            ("level reads", f"{axis.zero:+.2f}° ± {axis.u95:.2f}"),
            ("first standing read", f"{axis.reading:+.2f}°"),
            ("floor slope", number(axis.floor_slope, 2, "°", axis.expanded(axis.floor_slope_u))),
            ("rider's tilt", number(axis.rider_tilt, 2, "°", axis.expanded(axis.rider_tilt_u))),
        ]
    )
    if axis.budget:
        yield drawing(
            budget_drawing(axis.budget, "°", context.drawing_name()),
            f"What the uncertainty of the {name} zero is made of (standard uncertainties).",
        )
