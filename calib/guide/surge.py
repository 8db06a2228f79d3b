"""A shake fore and aft with the person: rest, push and pull, rest."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.standing import current_rest
from calib.guide.tilt_feed import TiltFeed
from calib.store.samples import Samples
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import rests_of

REST_S: Final = 3.0
"""Own choice: as long as a standing that is used for a zero, s."""

SHAKE_S: Final = 5.0
"""Own choice: half a dozen strokes, s."""

PATIENCE_S: Final = 90.0
"""Own choice: a shake that has not come by then, s, will not come."""


class SurgeWatch:
    """An observer that has enough after a rest, a shake and a rest."""

    def __init__(self, person: Person, inputs: TiltInputs, *, clock: Callable[[], float]) -> None:
        """Prepare to look on.

        Args:
            person: Shakes the machine.
            inputs: The tilt channels of the line.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._feed = TiltFeed(person, inputs, clock, patience_s=PATIENCE_S)
        self._rested = self._shaken = False
        self._moved_s = self._rest_s = 0.0

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        if self._feed.take(samples) and self._think():
            self._person.sound(Sound.DONE)
            return True
        self._feed.show(self._step())
        self._feed.telling.require_somebody("no shake came to its end")
        return False

    def _think(self) -> bool:
        series = self._feed.series()
        rest = current_rest(series)
        if not self._rested:
            self._rest_s = 0.0 if rest is None else rest.hold_s
            self._rested = self._rest_s >= REST_S
            if self._rested:
                self._feed.telling.news()
                self._person.sound(Sound.COUNTED)
            return False
        still = sum(each.count for each in rests_of(series, least_s=0.5).stretches)
        self._moved_s = (series.count - still) / series.rate_hz
        if not self._shaken and self._moved_s >= SHAKE_S:
            self._shaken = True
            self._feed.telling.news()
            self._person.sound(Sound.COUNTED)
        self._rest_s = 0.0 if rest is None else rest.hold_s
        return self._shaken and rest is not None and rest.hold_s >= REST_S / 2

    def _step(self) -> Step:
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
