"""Many still poses of a sensor in the hand, in any order."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.standing import current_rest
from calib.guide.tilt_feed import TiltFeed
from calib.store.samples import Samples
from calib.tilt.inputs import TiltInputs
from calib.tilt.poses import Claim, count_distinct, fit_truing
from calib.tilt.series import reading_of, rests_of

WANTED_POSES: Final = 12
"""Different poses for the whole truing: nine unknowns and three to check them with."""

POSE_S: Final = 3.0
"""Own choice: how long the sensor is to rest in each pose, s."""

PATIENCE_S: Final = 45.0
"""Own choice: no new pose for so long, s, means that the person has done what they wanted."""


class PosesWatch:
    """An observer that counts different still poses and has enough when they claim everything."""

    def __init__(self, person: Person, inputs: TiltInputs, *, clock: Callable[[], float]) -> None:
        """Prepare to look on.

        Args:
            person: Lays the sensor down, again and again.
            inputs: The tilt channels of the line, without an earlier truing.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._gravity_g = inputs.gravity_g
        self._feed = TiltFeed(person, inputs, clock, patience_s=PATIENCE_S)
        self._poses = self._distinct = 0
        self._held_s = 0.0

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        if self._feed.take(samples) and self._think():
            self._person.sound(Sound.DONE)
            return True
        self._feed.show(self._step())
        return self._feed.telling.left_s <= 0.0

    def _think(self) -> bool:
        series = self._feed.series()
        now = current_rest(series)
        self._held_s = 0.0 if now is None else now.hold_s
        means = [reading_of(series, still).force_g for still in rests_of(series).stretches]
        forces = np.array([m for m in means if m is not None]).reshape(-1, 3) / self._gravity_g
        if len(forces) == self._poses:
            return False
        self._poses = len(forces)
        distinct = count_distinct(forces)
        if distinct > self._distinct:
            self._person.sound(Sound.COUNTED)
            self._feed.telling.news()
        self._distinct = distinct
        return distinct >= WANTED_POSES and fit_truing(forces).claim is Claim.FULL

    def _step(self) -> Step:
        return Step(
            "lay down",
            "another face of a box, or askew against a wall; three seconds each",
            done=self._distinct,
            wanted=WANTED_POSES,
            needs=() if self._distinct else ("resting on something, not held in the air",),
            hold=Hold(self._held_s, POSE_S) if 0.0 < self._held_s < POSE_S else None,
        )
