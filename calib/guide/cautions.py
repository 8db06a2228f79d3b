"""The usual cautions, short, worded for each flow. Judgement of the trade, no published source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from calib.guide.protocols import Card

FOOTER: Final = "calib cannot see whether the drive is off."

DEFER: Final = (
    "The controller maker's manual, local codes and licensed practice come before this page."
)

_PINS: Final = (
    "Meter every pin against the sensor's ground before the logger goes on; tape off any above "
    "5.5 V. Throttle plugs may carry pack voltage.",
    "Laptop on battery, charger out, nothing mains-powered on the same ground, pack not charging.",
    "Logger powered first; tap on last, off first. Never ridden with the tap on.",
)

_BARE_BOARD: Final = (
    "This code is for a bare logger board of your own. Never load it into a controller, and join "
    "no programming or data pin of a controller to the board.",
    "Program and try the board with nothing on it but USB; the machine's wires go on afterwards.",
)

WHEEL_UP: Final = (
    "Drive disabled AND driven wheel up on a strapped stand. Then one small slow press to prove "
    "that nothing turns. A kill switch, a brake cut-off and neutral are not isolation.",
)

WHEELS_DOWN: Final = (
    "Drive disabled, both wheels on the floor, a second hand or a strapped chock to hold the "
    "machine upright. A kill switch, a brake cut-off and neutral are not isolation.",
)

FIRST_TURN: Final = (
    "First turn of the wheel: wheel up, lowest limits, brake cut proven.",
    "Ten seconds without creep, then a slow start, then a stop.",
    "Then walking pace on the flat, then more. Tap off before the machine moves.",
)

ISOLATION_WORD: Final = "isolated"


def cautions(*parts: tuple[str, ...]) -> tuple[str, ...]:
    """The cautions of one page: its own parts, then what every page defers to."""
    return (*(line for part in parts for line in part), DEFER)


CONTROL_CAUTIONS: Final = cautions(WHEEL_UP, _PINS)
"""For flows that work a hand control, a plug or the harness."""

_UNPLUG: Final = (
    "Key off before a wire is pulled, key off before it is put back; hands clear in between.",
    "A divider or series resistor of the tap hides a floating wire: the last pull is with the "
    "tap off, read on the controller's display.",
)

_METER: Final = (
    "Meter leads with hook clips or back-probes, never held: a slip shorts the sensor's supply.",
    "Steady voltage, freeze the meter, let go, type afterwards.",
)

METER_CAUTIONS: Final = cautions(WHEEL_UP, _METER, _PINS)
"""For holding the logger against a multimeter."""

UNPLUG_CAUTIONS: Final = cautions(WHEEL_UP, _UNPLUG, _PINS)
"""For the flow that pulls wires on purpose."""

_WHEEL: Final = (
    "Turn the wheel by the tyre, fingers clear of spokes, chain and disc; never by its motor.",
    "Rolled along a tape: drive disabled, wheels on the floor, level ground off any road, a second "
    "person at the machine where somebody sits on it.",
)

WHEEL_CAUTIONS: Final = cautions(WHEEL_UP, _WHEEL, _PINS)
"""For turning the wheel by hand, and for rolling it along a tape."""

ROLL_CAUTIONS: Final = cautions(WHEELS_DOWN, _WHEEL)
"""For pushing the machine along a tape, with no cable on it."""

PACK: Final = (
    "A pack's terminals can kill and weld. Insulated leads and probes rated for it, shrouded "
    "plugs, a fuse in the lead, one hand only, no rings or watch, nobody alone.",
    "Or leave it to somebody licensed: the display's volts are not worth a risk.",
)

DISPLAY_CAUTIONS: Final = cautions(WHEEL_UP, PACK)
"""For holding a meter against the pack's volts, and the brake lever against the display."""

TILT_CAUTIONS: Final = cautions(WHEELS_DOWN, _PINS)
"""For flows that move the machine with its wheels on the floor."""

LISTEN_CAUTIONS: Final = cautions(_PINS)
"""For flows that only listen."""

LOGGER_CAUTIONS: Final = cautions(_BARE_BOARD, _PINS)
"""For a logger that the person builds."""


def isolation_card(title: str, lines: tuple[str, ...]) -> Card:
    """The card that is shown before a live flow."""
    from calib.guide.protocols import Card

    kind = "wheel up" if WHEEL_UP[0] in lines else "wheels on the floor"
    return Card(title=title, lines=lines, word=ISOLATION_WORD, kind=kind)
