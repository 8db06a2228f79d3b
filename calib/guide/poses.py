"""Many still poses of a sensor in the hand, in any order."""

from __future__ import annotations

from typing import Final

import numpy as np

from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.standing import TiltWatch, current_rest
from calib.guide.watch import Clock
from calib.tilt.inputs import TiltInputs
from calib.tilt.poses import Claim, count_distinct, fit_truing
from calib.tilt.series import reading_of, rests_of

WANTED_POSES: Final = 12
"""Different poses for the whole truing: nine unknowns and three to check them with."""

POSE_S: Final = 3.0
"""Own choice: how long the sensor is to rest in each pose, s."""

PATIENCE_S: Final = 45.0
"""Own choice: no new pose for so long, s, means that the person has done what they wanted."""


class PosesWatch(TiltWatch):
    """An observer that counts different still poses and has enough when they claim everything."""

    def __init__(self, person: Person, inputs: TiltInputs, *, clock: Clock) -> None:
        """Prepare to look on.

        Args:
            person: Lays the sensor down, again and again.
            inputs: The tilt channels of the line, without an earlier truing.
            clock: The host's clock in seconds.
        """
        super().__init__(person, inputs, clock, patience_s=PATIENCE_S)
        self._gravity_g = inputs.gravity_g
        self._poses = self._distinct = 0
        self._held_s = 0.0

    def think(self) -> bool:
        """Count the poses; whether they claim everything."""
        series = self.series()
        now = current_rest(series)
        self._held_s = 0.0 if now is None else now.hold_s
        means = [reading_of(series, still).force_g for still in rests_of(series).stretches]
        forces = np.array([m for m in means if m is not None]).reshape(-1, 3) / self._gravity_g
        if len(forces) == self._poses:
            return False
        self._poses = len(forces)
        distinct = count_distinct(forces)
        if distinct > self._distinct:
            self.counted()
        self._distinct = distinct
        enough = distinct >= WANTED_POSES and fit_truing(forces).claim is Claim.FULL
        if enough:
            self.person.sound(Sound.DONE)
        return enough

    def step(self) -> Step:
        """Lay it down otherwise."""
        return Step(
            "lay down",
            "another face of a box, or askew against a wall; three seconds each",
            done=self._distinct,
            wanted=WANTED_POSES,
            needs=() if self._distinct else ("resting on something, not held in the air",),
            hold=Hold(self._held_s, POSE_S) if 0.0 < self._held_s < POSE_S else None,
        )

    def is_over(self) -> bool:
        """Whether the person has done what they wanted."""
        return self.left_s <= 0.0
