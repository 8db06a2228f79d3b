"""The level zero with the person: standings, turning end for end, the rider, the display."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from calib.errors import UsageError
from calib.guide.protocols import Person
from calib.store.plausible import SHOWN_DEG, number_at_prompt
from calib.tilt.zero import Heading

Listen = Callable[[str], Path]
"""Captures one standing, named in words, and gives its file."""

PREPARE: Final = (
    "Stand it upright on both wheels, nobody on it, bars straight, the same tyre pressures as "
    "always. Mark where both tyres touch the floor. Bounce the suspension three times and let "
    "it settle."
)
TURN: Final = (
    "Turn the machine end for end: the front tyre onto the rear tyre's mark, bars straight. "
    "Bounce the suspension three times and let it settle."
)
TURN_BACK: Final = (
    "Turn it back onto the first marks, front tyre on the front mark. Bounce the suspension "
    "three times and let it settle."
)
SIT: Final = (
    "Sit on it as you ride, both feet up, one hand on a wall; stay like that until the bell."
)


@dataclass(frozen=True)
class LevelPlan:
    """What a level run is to take.

    Attributes:
        turned: Whether the machine is turned end for end.
        each_way: Standings on each heading.
        seated: Whether the rider sits, too.
        asks_display: Whether the controller's display is asked for at each standing.
    """

    turned: bool
    each_way: int = 2
    seated: bool = False
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
    """
    taken = Taken()
    for number, heading in enumerate(plan.headings()):
        turned = heading is Heading.TURNED
        person.wait_until_ready(TURN if turned else TURN_BACK if number else PREPARE)
        if listen is not None:
            captures = taken.turned if turned else taken.first
            captures.append(listen(f"{heading.value} standing"))
        if plan.asks_display:
            shown = taken.shown_turned_deg if turned else taken.shown_first_deg
            shown.append(ask_angle(person, "What pitch does the controller show now, in degrees"))
        if plan.seated and number == 0 and listen is not None:
            person.wait_until_ready(SIT)
            taken.seated.append(listen("seated"))
    return taken


def ask_angle(person: Person, question: str) -> float:
    """An angle that the person reads off a display, degrees.

    Raises:
        UsageError: What was typed is not a number.
    """
    typed = person.answer(question)
    try:
        return number_at_prompt(typed, SHOWN_DEG)
    except ValueError as error:
        raise UsageError(f"An angle in degrees: {error}.", "Type a number such as -1.2.") from error
