"""A level zero: zero and floor at a glance, two wheels on a floor line, what it rests on."""

from __future__ import annotations

from collections.abc import Iterator

from calib.show.console import Screen, Text
from calib.show.page import print_view
from calib.show.two_wheels import SideView, two_wheels
from calib.show.view import Fact, Figure, Sources, View, known, number, spread_text
from calib.store.documents.level import AxisZeroFigures, LevelDocument

HOW = {
    "single": "one standing",
    "turned": "turned end for end",
    "typed-slope": "the floor's slope was typed",
}


def show_level(document: LevelDocument, console: Screen) -> None:
    """Verdict, zero, picture and the worst finding at a glance; then what they rest on."""
    pitch = document.pitch if document.verdict.is_good else None
    picture = [] if pitch is None else _picture(pitch)
    print_view(console, level_view(document), document, picture)


def level_view(document: LevelDocument) -> View:
    """What is shown of a level zero."""
    count = f"{document.standings} standings, " if document.standings > 1 else ""
    axes = [
        (name, axis)
        for name, axis in (
            ("pitch", document.pitch),
            ("roll", document.roll),
            ("shown", document.shown),
        )
        if axis is not None
    ]
    good = document.verdict.is_good
    return View(
        about=f"level zero: {count}{HOW[document.method]}",
        right=f"{document.basis}'s degrees",
        verdict=document.verdict,
        findings=document.findings,
        figures=() if document.pitch is None else _figures(document.pitch),
        facts=tuple(fact for name, axis in axes for fact in _axis(name, axis, good=good)),
        sources=tuple(Sources(name, "°", axis.budget) for name, axis in axes if axis.budget),
    )


def _figures(pitch: AxisZeroFigures) -> tuple[Figure, ...]:
    zero = Figure("level reads", f"{pitch.zero:+.2f}", "deg")
    return (zero, Figure("give or take (95 %)", f"{pitch.u95:.2f}", "deg"))


def _axis(name: str, axis: AxisZeroFigures, *, good: bool) -> Iterator[Fact]:
    """What is known of one axis; its zero only where it may be built upon."""
    if good:
        yield Fact(name, f"level reads {axis.zero:+.2f}°{spread_text(axis.u95, 2)}")
    yield from known(
        (f"{name}, as it stood", f"{axis.reading:+.2f}°"),
        (f"{name}, floor", number(axis.floor_slope, 2, "°", axis.expanded(axis.floor_slope_u))),
        ("rider's tilt", number(axis.rider_tilt, 2, "°", axis.expanded(axis.rider_tilt_u))),
    )


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
