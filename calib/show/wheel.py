"""The wheel, and what only the controller's display shows."""

from __future__ import annotations

from calib.guide.cautions import PACK
from calib.show.view import Fact, Sources, Table, View, expanded, figures, known, number, tables
from calib.store.documents.display import DisplayDocument
from calib.store.documents.wheel import TurnFigures, WheelDocument
from calib.store.text import counted

_BASIS = {"turns": "counted turns", "pattern": "the pattern of the gaps"}
_NAMES = {"pack": "pack", "motor": "motor, cold"}


def wheel_view(document: WheelDocument) -> View:
    """What is shown of a wheel: pulses a turn, the way of a turn, how wrong a display would be."""
    rolled, pulses = document.rolled, document.pulses_a_turn
    a_metre, u_a_metre = document.pulses_a_metre, document.u_pulses_a_metre
    return View(
        document,
        about="the wheel",
        title="Wheel",
        figures=figures(
            ("pulses a turn", pulses, "", ""),
            ("a turn rolls", document.circumference_mm, ".0f", "mm"),
        )
        or figures(("pulses a metre", a_metre, ".3f", "")),
        facts=(
            *known(
                ("pulses a turn", None if pulses is None else f"{pulses}"),
                ("a turn rolls", number(document.circumference_mm, 0, "mm", document.expanded_mm)),
                ("pulses a metre", number(a_metre, 3, "", expanded(u_a_metre))),
                ("a level hides pulses from", number(document.folds_from_kmh, 0, "km/h")),
            ),
            *_turned(document.turned),
        ),
        tables=_shown_at(document),
        sources=() if rolled is None else (Sources("a turn", "mm", rolled.budget),),
    )


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
    return tables(("true", "shown with what is set now (95 %)", "wrong by"), rows)


def display_view(document: DisplayDocument) -> View:
    """What is shown of a display: shown, true, difference, and what explains it."""
    brake = document.brake
    rows = tuple(
        (
            f"{_NAMES[each.figure]}, {each.unit}",
            f"{each.shown:.2f}",
            f"{each.true:.2f} ({each.true_from})",
            f"{each.difference:+.2f}",
            f"{each.explained:.2f}",
            each.verdict.value.upper(),
        )
        for each in document.figures
    )
    return View(
        document,
        about="what only the display shows",
        right="controller's display",
        title="What the display shows",
        facts=()
        if brake is None
        else (Fact("brake, lever pulled", brake.pulled), Fact("brake, lever free", brake.free)),
        tables=tables(("figure", "shown", "true", "difference", "explained", "verdict"), rows),
        notes=PACK if any(each.figure == "pack" for each in document.figures) else (),
    )
