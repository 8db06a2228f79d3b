"""The sections of the report: one for each record, from its document's view."""

from __future__ import annotations

from dataclasses import replace

from calib.show.inputs import check_view
from calib.show.report.drawings import wheels_drawing
from calib.show.report.figure import Labels
from calib.show.report.markup import Markup, element
from calib.show.report.parts import Context, drawing, missing, section_of
from calib.show.report.plots import deviation_plot
from calib.show.report.travel import travel_as_ruler, travel_drawings
from calib.show.views import view_of
from calib.store.documents.check import CheckDocument, CheckFigures
from calib.store.documents.level import LevelDocument
from calib.store.documents.still import StillDocument
from calib.store.documents.travel import TravelDocument
from calib.store.documents.trust import TrustDocument
from calib.store.records import Record


def section(context: Context, record: Record) -> Markup:
    """What the view of a record's document shows, and what only the report can draw of it."""
    document = record.document
    view = view_of(document)
    match document:
        case TravelDocument():
            drawn = travel_drawings(context, document)
            return section_of(record, view, *drawn, picture=travel_as_ruler(context, document))
        case CheckDocument():
            return _check(context, record, document)
        case TrustDocument():
            return section_of(record, replace(view, told=()))  # its table tells all of them
        case LevelDocument():
            return section_of(record, view, picture=_side_view(context, document))
        case StillDocument():
            return section_of(record, view, _deviation(context, document))
        case _:
            return section_of(record, view)


def _check(context: Context, record: Record, document: CheckDocument) -> Markup:
    """Channel by channel: verdict, figures before and after; or the wires pulled; findings."""
    earlier = next(
        (each for each in context.evidence.records if each.id == document.compared_with), None
    )
    before: dict[str, CheckFigures | None] = {}
    if earlier is not None and isinstance(earlier.document, CheckDocument):
        before = {name: each.figures for name, each in earlier.document.channels.items()}
    blind = [element("li", sentence) for sentence in document.cannot_see]
    unseen = [element("p", "This logger cannot see:"), element("ul", blind)] if blind else None
    return element("div", section_of(record, check_view(document, before)), unseen)


def _side_view(context: Context, document: LevelDocument) -> Markup | None:
    """The machine on its floor."""
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


def _deviation(context: Context, document: StillDocument) -> Markup:
    """How far averages differ, over their length."""
    name = document.channel or "pitch"
    if len(document.tau_s) < 2:
        return missing("The rest was too short for a plot of the deviation.")
    least, at_s = min(zip(document.sigma, document.tau_s, strict=True))
    labels = Labels(
        name=context.drawing_name(),
        title=f"Allan deviation of {name}",
        description=f"Lowest {least:.2g} {document.unit} at {at_s:.3g} s.",
        value=document.unit,
    )
    return drawing(
        deviation_plot(labels, document.tau_s, document.sigma),
        f"How far averages of {name} differ from each other, by their length.",
    )
