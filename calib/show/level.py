"""The page of ``calib level``: zero and floor at a glance, two wheels on a floor line, budget."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import (
    Figure,
    detail_lines,
    figure_lines,
    headline,
    large_lines,
    note_lines,
    print_page,
    verdict_lines,
    worst_lines,
)
from calib.show.two_wheels import SideView, two_wheels
from calib.store.documents.level import AxisZeroFigures, LevelDocument

HOW = {"single": "one standing", "turned": "turned end for end", "typed-slope": "floor typed in"}


def show_level(document: LevelDocument, console: Screen) -> None:
    """Verdict, zero, picture and the worst finding at a glance; then what they rest on."""
    count = f"{document.standings} standings, " if document.standings > 1 else ""
    glance = [
        headline(f"level zero: {count}{HOW[document.method]}", f"{document.basis}'s degrees"),
        *verdict_lines(document.verdict),
        Text(),
    ]
    pitch = document.pitch
    if pitch is None:
        glance += large_lines("no zero")
    else:
        glance += [*figure_lines(_figures(pitch)), *_picture(pitch)]
    glance += worst_lines(document)
    details = [
        *_axis_lines("pitch", pitch),
        *_axis_lines("roll", document.roll),
        *_axis_lines("pitch on the controller's display", document.shown),
        *_rider_lines(pitch),
        Text(),
        *detail_lines(document),
    ]
    print_page(console, glance, details)


def _figures(pitch: AxisZeroFigures) -> tuple[Figure, ...]:
    zero = Figure("level reads", f"{pitch.zero:+.2f}", "deg")
    return (zero, Figure("give or take (95 %)", f"{pitch.u95:.2f}", "deg"))


def _picture(pitch: AxisZeroFigures) -> list[Text]:
    """Two wheels on the floor line as it was in the first standing."""
    slope = pitch.floor_slope
    if slope is None:
        words = "the floor's slope is not known, and is in the zero"
    else:
        end = "front" if slope >= 0 else "rear"
        words = (
            f"floor {abs(slope):.2f} ± {pitch.expanded(pitch.floor_slope_u) or 0.0:.2f} degrees "
            f"(95 %), {end} higher (drawn steeper)"
        )
    above = f"here the sensor reads {pitch.reading:+.2f}; truly level it reads {pitch.zero:+.2f}"
    rows = two_wheels(SideView(slope, words, above))
    return [Text(f" {row}", no_wrap=True) for row in rows]


def _axis_lines(name: str, axis: AxisZeroFigures | None) -> list[Text]:
    if axis is None:
        return []
    lines = note_lines(f"{name}: zero {axis.zero:+.3f} degrees, u {axis.u:.3f}, from")
    lines += [Text(f"    {line.u:6.3f}  {line.source}", no_wrap=True) for line in axis.budget]
    return lines


def _rider_lines(pitch: AxisZeroFigures | None) -> list[Text]:
    if pitch is None or pitch.rider_tilt is None:
        return []
    way = "up" if pitch.rider_tilt >= 0 else "down"
    return note_lines(f"rider seated: nose {way} by {abs(pitch.rider_tilt):.1f} degrees")
