"""Standings and poses one after the other: what was not done is told, and is not counted.

The level zero takes standings, turned end for end and with the rider; the proof of sign poses.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Final, TypeVar

from calib.checks.limits import tilt_limit
from calib.errors import BrokenOffError
from calib.guide.asking import ask_until, number_of
from calib.guide.capturing import Observer
from calib.guide.protocols import Person, Sound
from calib.guide.signs import ASKED, SignsWatch
from calib.guide.tilt import Asked, MovedWatch, StandingWatch, TiltWatch, asked_for
from calib.guide.watch import Clock
from calib.store.plausible import SHOWN_DEG
from calib.store.rig import Rig
from calib.tilt.geometry import RaisedAngle
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import TiltReading
from calib.tilt.signs import Pose
from calib.tilt.zero import Heading

MakeObserver = Callable[[TiltInputs], Observer]
W = TypeVar("W", bound=TiltWatch)

Listen = Callable[[Asked, TiltReading | None], tuple[Path, TiltReading | None]]
"""Captures one standing that does not read as another one, and gives its file and its mean."""

TRIES: Final = 3
"""Own choice: how often what reads as before, or contradicts itself, is taken again."""


@dataclass(frozen=True, slots=True)
class Taking:
    """Takes standings and poses from a line.

    Attributes:
        person: Moves the machine.
        rig: For its own limits.
        attend: Looks on without keeping anything.
        capture: Captures, and gives the file.
        at_once: The first standing needs no movement before it: nobody is there to be asked.
        clock: The host's clock, s.
    """

    person: Person
    rig: Rig
    attend: Callable[[MakeObserver], None]
    capture: Callable[[MakeObserver], Path]
    at_once: bool = field(default=False, kw_only=True)
    clock: Clock = field(default=time.monotonic, kw_only=True)

    def standing(self, asked: Asked, unlike: TiltReading | None) -> tuple[Path, TiltReading | None]:
        """Capture one standing, once the machine was moved into it; and its mean.

        Args:
            asked: The standing.
            unlike: The mean of one that it must not read as; None for the first.

        Raises:
            BrokenOffError: Nobody moved the machine, or it reads the same again and again.
        """
        needs: tuple[str, ...] = ()
        unlike_deg = tilt_limit("unlike_deg", self.rig)
        moved = partial(MovedWatch, self.person, asked=asked, clock=self.clock)
        stands = partial(StandingWatch, self.person, what=asked.what, clock=self.clock)
        for _ in range(TRIES):
            if unlike is not None or not self.at_once:
                self.attend(partial(moved, needs=needs))
            path, watch = self._captured(stands)
            reading = watch.reading
            if unlike is None or reading is None:
                return path, reading
            if abs(reading.pitch_deg - unlike.pitch_deg) > unlike_deg:
                return path, reading
            self.person.sound(Sound.STOP)
            needs = (
                f"not counted, it reads as before within {unlike_deg:g} degrees: was it done?",
            )
        raise BrokenOffError.of("same-as-before", what=asked.what, tries=TRIES)

    def poses(self, expected: RaisedAngle) -> Path:
        """Capture the poses of the machine in one go; anew when two contradict each other.

        Args:
            expected: Pitch that the block makes.

        Raises:
            BrokenOffError: Nobody moved the machine, or the poses contradict each other each time.
        """
        conflict, needs = "", tuple[str, ...]()
        poses = partial(SignsWatch, self.person, expected=expected, clock=self.clock)
        for _ in range(TRIES):
            path, watch = self._captured(partial(poses, needs=needs))
            conflict = watch.conflict
            if not conflict:
                return path
            needs = (f"{conflict}; all of them once more",)
        raise BrokenOffError.of("standings-disagree", conflict=conflict, tries=TRIES)

    def _captured(self, make: Callable[[TiltInputs], W]) -> tuple[Path, W]:
        """A capture, and the watch that looked on."""
        made: list[W] = []

        def begin(inputs: TiltInputs) -> W:
            made.append(make(inputs))
            return made[0]

        return self.capture(begin), made[0]


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


def take_poses(listen: Listen) -> dict[Pose, Path]:
    """One capture a pose, for a sensor whose poses cannot be told apart by themselves.

    Raises:
        StoppedError: The person would rather stop.
        BrokenOffError: Nobody moved the machine.
    """
    taken: dict[Pose, Path] = {}
    before: TiltReading | None = None
    for pose, asked in ASKED.items():
        taken[pose], before = listen(asked, before if pose is not Pose.LEVEL else None)
    return taken
