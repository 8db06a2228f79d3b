"""The proof of sign with the person: poses of the machine in any order, hands on the machine."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from calib.guide.level import Listen
from calib.guide.protocols import Person, Sound, Step
from calib.guide.tilt_feed import TiltFeed
from calib.store.samples import Samples
from calib.tilt.geometry import RaisedAngle
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import reading_of, rests_of
from calib.tilt.signs import Pose
from calib.tilt.tell_apart import ToldApart, tell_apart

PATIENCE_S: Final = 90.0
"""Own choice: hands that take longer than this for one pose, s, have gone to fetch something."""

FRONTS: Final = 2
"""The front is raised twice, so that it is told from the rear by count; see `tell_apart`."""

PROMPTS: Final = {
    Pose.LEVEL: "Stand it upright on the floor, both wheels down.",
    Pose.FRONT_RAISED: "Raise the front: roll it up a wedge onto the plank, front brake held, "
    "rear wheel chocked. Never a jack under motor or pack.",
    Pose.REAR_RAISED: "Raise the rear the same way: rear wheel on the plank, front chocked.",
    Pose.LEANED_LEFT: "Lean it to the left by about ten degrees, by hand on the frame, and hold.",
    Pose.LEANED_RIGHT: "Lean it to the right by about ten degrees, and hold.",
}


class SignsWatch:
    """An observer that tells the poses apart and has enough once all of them were seen."""

    def __init__(
        self,
        person: Person,
        inputs: TiltInputs,
        expected: RaisedAngle,
        *,
        clock: Callable[[], float],
    ) -> None:
        """Prepare to look on.

        Args:
            person: Moves the machine and hears what was counted.
            inputs: The tilt channels of the line; an accelerometer is among them.
            expected: Pitch that the block makes.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._feed = TiltFeed(person, inputs, clock)
        self._expected = expected
        self._counted = 0
        self._counted_s = 0.0
        self._told = ToldApart({})
        self._stretches = 0

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        if self._feed.take(samples):
            self._think()
            if not self._open():
                self._person.sound(Sound.DONE)
                return True
        self._feed.show(self._step())
        return self._feed.elapsed_s - self._counted_s >= PATIENCE_S

    def _think(self) -> None:
        series = self._feed.series()
        stretches = [reading_of(series, still) for still in rests_of(series).stretches]
        self._told = tell_apart(stretches, self._expected)
        self._stretches = len(stretches)
        counted = self._told.fronts + self._told.rears + self._told.leans
        if counted > self._counted:
            self._person.sound(Sound.COUNTED)
            self._counted_s = self._feed.elapsed_s
        self._counted = max(counted, self._counted)

    def _open(self) -> tuple[str, ...]:
        """What is still needed, in words; empty when all is there."""
        told = self._told
        needs = []
        if not self._stretches:
            return ("upright on the floor, hands off, until the bell",)
        if told.fronts < FRONTS or told.rears < 1:
            needs.append(
                f"front on the plank {FRONTS} times, rear once ({told.fronts + told.rears} seen)"
            )
        if told.leans < 2:
            needs.append(f"leaned to each side and held ({told.leans} of 2 seen)")
        if not needs and told.question:
            needs.append(told.question)
        return tuple(needs)

    def _step(self) -> Step:
        needs = self._open()
        if not self._stretches:
            return Step("wait", "upright on the floor, hands off", needs=needs)
        return Step(
            "pose",
            "any order, each held for three seconds; upright in between",
            done=self._counted,
            wanted=FRONTS + 3,
            needs=needs,
        )


def take_poses(person: Person, listen: Listen) -> dict[Pose, Path]:
    """One capture a pose, for a sensor whose poses cannot be told apart by themselves.

    Raises:
        StoppedError: The person would rather stop.
    """
    taken = {}
    for pose, prompt in PROMPTS.items():
        person.wait_until_ready(prompt)
        taken[pose] = listen(pose.value)
    return taken
