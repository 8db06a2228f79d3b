"""A shake fore and aft with the person: rest, push and pull, rest."""

from __future__ import annotations

from typing import Final

from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.standing import TiltWatch, current_rest
from calib.guide.watch import Clock
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import rests_of

REST_S: Final = 3.0
"""Own choice: as long as a standing that is used for a zero, s."""

SHAKE_S: Final = 5.0
"""Own choice: half a dozen strokes, s."""

PATIENCE_S: Final = 90.0
"""Own choice: a shake that has not come by then, s, will not come."""


class SurgeWatch(TiltWatch):
    """An observer that has enough after a rest, a shake and a rest."""

    def __init__(self, person: Person, inputs: TiltInputs, *, clock: Clock) -> None:
        """Prepare to look on.

        Args:
            person: Shakes the machine.
            inputs: The tilt channels of the line.
            clock: The host's clock in seconds.
        """
        super().__init__(person, inputs, clock, patience_s=PATIENCE_S)
        self._rested = self._shaken = False
        self._moved_s = self._rest_s = 0.0

    def think(self) -> bool:
        """Whether it has rested, was shaken, and rests again."""
        series = self.series()
        rest = current_rest(series)
        self._rest_s = 0.0 if rest is None else rest.hold_s
        if not self._rested:
            self._rested = self._rest_s >= REST_S
            if self._rested:
                self.counted()
            return False
        still = sum(each.count for each in rests_of(series, least_s=0.5).stretches)
        self._moved_s = (series.count - still) / series.rate_hz
        if not self._shaken and self._moved_s >= SHAKE_S:
            self._shaken = True
            self.counted()
        if not self._shaken or self._rest_s < REST_S / 2:
            return False
        self.person.sound(Sound.DONE)
        return True

    def step(self) -> Step:
        """Rest, shake, rest."""
        if not self._rested:
            detail = "upright on level ground, hands off"
            return Step("hands off", detail, hold=Hold(self._rest_s, REST_S))
        if not self._shaken:
            return Step(
                "shake",
                "push and pull at frame or seat, a hand's breadth, twice a second",
                hold=Hold(min(self._moved_s, SHAKE_S), SHAKE_S),
            )
        return Step("hands off", "let it stand", hold=Hold(self._rest_s, REST_S / 2))

    def missing(self) -> str:
        """No shake came."""
        return "no shake came to its end"
