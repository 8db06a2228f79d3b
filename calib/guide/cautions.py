"""The usual cautions, short, worded for each flow. Judgement of the trade, no published source.

Their words stand in ``calib/data/cautions.txt``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from calib.book import entries

if TYPE_CHECKING:
    from calib.guide.protocols import Card

FOOTER: Final = "calib cannot see whether the drive is off."

DEFER: Final = (
    "The controller maker's manual, local codes and licensed practice come before this page."
)

ISOLATION_WORD: Final = "isolated"


def _part(name: str) -> tuple[str, ...]:
    return tuple(entries("cautions")[name].values())


WHEEL_UP: Final = _part("wheel-up")
WHEELS_DOWN: Final = _part("wheels-down")
FIRST_TURN: Final = _part("first-turn")
PACK: Final = _part("pack")
_PINS: Final = _part("pins")
_WHEEL: Final = _part("wheel")


def cautions(*parts: tuple[str, ...]) -> tuple[str, ...]:
    """The cautions of one page: its own parts, then what every page defers to."""
    return (*(line for part in parts for line in part), DEFER)


CONTROL_CAUTIONS: Final = cautions(WHEEL_UP, _PINS)
"""For flows that work a hand control, a plug or the harness."""

METER_CAUTIONS: Final = cautions(WHEEL_UP, _part("meter"), _PINS)
"""For holding the logger against a multimeter."""

UNPLUG_CAUTIONS: Final = cautions(WHEEL_UP, _part("unplug"), _PINS)
"""For the flow that pulls wires on purpose."""

WHEEL_CAUTIONS: Final = cautions(WHEEL_UP, _WHEEL, _PINS)
"""For turning the wheel by hand, and for rolling it along a tape."""

ROLL_CAUTIONS: Final = cautions(WHEELS_DOWN, _WHEEL)
"""For pushing the machine along a tape, with no cable on it."""

DISPLAY_CAUTIONS: Final = cautions(WHEEL_UP, PACK)
"""For holding a meter against the pack's volts, and the brake lever against the display."""

TILT_CAUTIONS: Final = cautions(WHEELS_DOWN, _PINS)
"""For flows that move the machine with its wheels on the floor."""

LISTEN_CAUTIONS: Final = cautions(_PINS)
"""For flows that only listen."""

LOGGER_CAUTIONS: Final = cautions(_part("bare-board"), _PINS)
"""For a logger that the person builds."""


def isolation_card(title: str, lines: tuple[str, ...]) -> Card:
    """The card that is shown before a live flow."""
    from calib.guide.protocols import Card

    kind = "wheel up" if WHEEL_UP[0] in lines else "wheels on the floor"
    return Card(title=title, lines=lines, word=ISOLATION_WORD, kind=kind)
