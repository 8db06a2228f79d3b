"""The level zero with the person: standings, turning end for end, the rider, the display."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from calib.guide.asking import ask_until, number_of
from calib.guide.protocols import Person
from calib.guide.tilt import Asked, asked_for
from calib.store.plausible import SHOWN_DEG
from calib.tilt.series import TiltReading
from calib.tilt.zero import Heading

Listen = Callable[[Asked, TiltReading | None], tuple[Path, TiltReading | None]]
"""Captures one standing that does not read as another one, and gives its file and its mean."""

_STAND = "In the stand, which stays fixed to the floor. "

PREPARE: Final = asked_for("level/first")
TURN: Final = asked_for("level/turned")
TURN_BACK: Final = asked_for("level/turned back")
SIT: Final = asked_for("level/seated")


@dataclass(frozen=True)
class LevelPlan:
    """What a level run is to take.

    Attributes:
        turned: Whether the machine is turned end for end.
        each_way: Standings on each heading.
        seated: Whether the rider sits, too.
        stand: Whether a stand holds it upright, and no hand.
        asks_display: Whether the controller's display is asked for at each standing.
    """

    turned: bool
    each_way: int = 2
    seated: bool = False
    stand: bool = False
    asks_display: bool = False

    def headings(self) -> Iterator[Heading]:
        """The headings in order of time, alternating so that a drift does not look like a floor."""
        for _ in range(self.each_way if self.turned else 1):
            yield Heading.FIRST
            if self.turned:
                yield Heading.TURNED


@dataclass
class Taken:
    """What was taken: captures, and readings of the controller's display, degrees."""

    first: list[Path] = field(default_factory=list)
    turned: list[Path] = field(default_factory=list)
    seated: list[Path] = field(default_factory=list)
    shown_first_deg: list[float] = field(default_factory=list)
    shown_turned_deg: list[float] = field(default_factory=list)


def take_standings(person: Person, listen: Listen | None, plan: LevelPlan) -> Taken:
    """Go through the standings with the person.

    Args:
        person: Moves the machine.
        listen: Captures one standing; None where only the controller sees the sensor.
        plan: What to take.

    Raises:
        StoppedError: The person would rather stop.
        BrokenOffError: Nobody moved the machine, or it was not turned.
    """
    taken = Taken()
    before: TiltReading | None = None
    for number, heading in enumerate(plan.headings()):
        turned = heading is Heading.TURNED
        stand = TURN if turned else TURN_BACK if number else PREPARE
        if plan.stand:
            stand = replace(stand, detail=_STAND + stand.detail)
        if listen is None:
            person.wait_until_ready(f"{stand.verb.upper()}. {stand.detail}")
        else:
            path, before = listen(stand, before)
            (taken.turned if turned else taken.first).append(path)
        if plan.asks_display:
            shown = taken.shown_turned_deg if turned else taken.shown_first_deg
            shown.append(ask_angle(person, "What pitch does the controller show now, in degrees"))
        if plan.seated and number == 0 and listen is not None:
            taken.seated.append(listen(SIT, before)[0])
    return taken


def ask_angle(person: Person, question: str) -> float:
    """An angle that the person reads off a display, degrees; asked again after a slip.

    Raises:
        StoppedError: No number was typed.
    """
    return ask_until(person, question, number_of(SHOWN_DEG), "A number of degrees, such as -1.2.")
