"""The wheel: pulses a turn, the way of a turn, and how wrong a display would be."""

from __future__ import annotations

from calib.measure.coverage import KNOWN_FACTOR
from calib.show.console import Screen
from calib.show.page import print_view
from calib.show.view import Fact, Figure, Sources, Table, View, known, number
from calib.store.documents.wheel import TurnFigures, WheelDocument
from calib.store.text import counted

_BASIS = {"turns": "counted turns", "pattern": "the pattern of the gaps"}


def show_wheel(document: WheelDocument, console: Screen) -> None:
    """Verdict and the two values at a glance; then what they rest on."""
    print_view(console, wheel_view(document), document)


def wheel_view(document: WheelDocument) -> View:
    """What is shown of a wheel."""
    rolled = document.rolled
    return View(
        about="the wheel",
        right="",
        verdict=document.verdict,
        findings=document.findings,
        figures=_figures(document),
        facts=(
            *known(
                ("pulses a turn", _whole(document.pulses_a_turn)),
                ("a turn rolls", number(document.circumference_mm, 0, "mm", document.expanded_mm)),
                (
                    "pulses a metre",
                    number(document.pulses_a_metre, 3, "", _expanded(document.u_pulses_a_metre)),
                ),
                ("a level hides pulses from", number(document.folds_from_kmh, 0, "km/h")),
            ),
            *_turned(document.turned),
        ),
        tables=_shown_at(document),
        sources=() if rolled is None else (Sources("a turn", "mm", rolled.budget),),
    )


def _figures(document: WheelDocument) -> tuple[Figure, ...]:
    figures = []
    if document.pulses_a_turn is not None:
        figures.append(Figure("pulses a turn", f"{document.pulses_a_turn}", ""))
    if document.circumference_mm is not None:
        figures.append(Figure("a turn rolls", f"{document.circumference_mm:.0f}", "mm"))
    if document.pulses_a_metre is not None and not figures:
        figures.append(Figure("pulses a metre", f"{document.pulses_a_metre:.3f}", ""))
    return tuple(figures)


def _turned(turned: TurnFigures | None) -> tuple[Fact, ...]:
    if turned is None:
        return ()
    made = f"{turned.pulses:.0f}"
    if turned.turns is not None:
        made += f" over {counted(turned.turns, 'turn')}"
    if turned.turns is not None or turned.gaps_deg:
        made += f", by {_BASIS[turned.basis]}"
    gaps = ", ".join(f"{each:.0f}°" for each in turned.gaps_deg)
    widths = ", ".join(f"{100.0 * each:.0f} %" for each in turned.widths)
    return known(
        ("pulses", made),
        ("from one magnet to the next", gaps or None),
        ("width of each pulse", widths or None),
    )


def _shown_at(document: WheelDocument) -> tuple[Table, ...]:
    rows = tuple(
        (
            f"{each.true_kmh:.0f} km/h",
            f"{each.shown_kmh:.1f} km/h ± {each.expanded_kmh:.1f}",
            f"{each.shown_kmh - each.true_kmh:+.1f} km/h",
        )
        for each in document.shown_at
    )
    return (Table(("true", "shown with what is set now (95 %)", "wrong by"), rows),) if rows else ()


def _whole(value: int | None) -> str | None:
    return None if value is None else f"{value}"


def _expanded(u: float | None) -> float | None:
    return None if u is None else KNOWN_FACTOR * u
