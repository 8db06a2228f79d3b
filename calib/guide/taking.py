"""Standings and poses one after the other: what was not done is told, and is not counted."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Final, TypeVar

from calib.checks.limits import tilt_limit
from calib.errors import BrokenOffError
from calib.guide.capturing import Observer
from calib.guide.protocols import Person, Sound
from calib.guide.signs import SignsWatch
from calib.guide.tilt import Asked, MovedWatch, StandingWatch, TiltWatch
from calib.guide.watch import Clock
from calib.store.rig import Rig
from calib.tilt.geometry import RaisedAngle
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import TiltReading

MakeObserver = Callable[[TiltInputs], Observer]
W = TypeVar("W", bound=TiltWatch)

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
        raise BrokenOffError(
            f"Broken off: {asked.what} read as the standing before, {TRIES} times.",
            "It was not done, or it shows nothing: for a floor as level as that give "
            "--floor-slope-deg. What was captured is kept; records of before stand.",
        )

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
        raise BrokenOffError(
            f"Broken off: {conflict}, {TRIES} times.",
            "Front and left are the rider's; what was captured is kept, records of before stand. "
            "Run it again.",
        )

    def _captured(self, make: Callable[[TiltInputs], W]) -> tuple[Path, W]:
        """A capture, and the watch that looked on."""
        made: list[W] = []

        def begin(inputs: TiltInputs) -> W:
            made.append(make(inputs))
            return made[0]

        return self.capture(begin), made[0]
