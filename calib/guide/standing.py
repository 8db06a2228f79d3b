"""One standing of the machine: wait until it stands still, average as long as the noise needs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from calib.guide.protocols import Person, Sound, Step
from calib.guide.tilt_feed import TiltFeed
from calib.measure.coverage import KNOWN_FACTOR
from calib.store.samples import Samples
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import TiltReading, TiltSeries, reading_of, rests_of
from calib.tilt.stillness import WINDOW_S

WANTED_U_DEG: Final = 0.02
"""Standard uncertainty, degrees, at which averaging ends. Own choice: a fifth of what settling
leaves, so that the noise no longer matters."""

LEAST_S: Final = 4.0
"""Own choice: shortest average, s, because a suspension rings for a second or two."""

LONGEST_S: Final = 40.0
"""Own choice: longest average, s; a sensor noisier than that is told so by its uncertainty."""

PATIENCE_S: Final = 120.0
"""Own choice: a machine that has not stood for this long, s, is not going to."""

_LOOK_BACK_S: Final = 60.0


class StandingWatch:
    """An observer that has enough once the machine stood still for long enough."""

    def __init__(
        self,
        person: Person,
        inputs: TiltInputs,
        *,
        what: str,
        clock: Callable[[], float],
        after_a_move: bool = False,
    ) -> None:
        """Prepare to look on.

        Args:
            person: Is told what is waited for.
            inputs: The tilt channels of the line.
            what: The standing or pose, in words.
            clock: The host's clock in seconds.
            after_a_move: Wait until the machine was moved first, for hands-free use.
        """
        self._person = person
        self._feed = TiltFeed(person, inputs, clock)
        self._what = what
        self._must_move = after_a_move
        self._step = Step("wait", f"{what}: until it stands still")

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        if self._feed.take(samples) and self._is_enough():
            self._person.sound(Sound.DONE)
            return True
        self._feed.show(self._step)
        return self._feed.elapsed_s >= PATIENCE_S

    def _is_enough(self) -> bool:
        """Think about the readings so far."""
        series = self._feed.series(_LOOK_BACK_S)
        if self._must_move:
            self._must_move = not _was_moved(series)
            self._step = Step("move", f"{self._what}: when you are ready")
            return False
        reading = current_rest(series)
        if reading is None:
            self._step = Step("wait", f"{self._what}: until it stands still, hands off")
            return False
        if reading.hold_s >= LEAST_S and reading.u_pitch_deg <= WANTED_U_DEG:
            return True
        self._step = Step(
            "hands off",
            f"{self._what}: averaging, ± {KNOWN_FACTOR * reading.u_pitch_deg:.3f} degrees so far",
            done=int(min(reading.hold_s, LEAST_S)),
            wanted=int(LEAST_S),
        )
        return reading.hold_s >= LONGEST_S


def current_rest(series: TiltSeries) -> TiltReading | None:
    """The mean of the rest that still goes on; None while the machine moves."""
    stretches = rests_of(series, least_s=0.5).stretches
    if not stretches or stretches[-1].stop < series.count - round(WINDOW_S * series.rate_hz):
        return None
    return reading_of(series, stretches[-1])


def _was_moved(series: TiltSeries) -> bool:
    """Whether a plain movement of a second is in the readings."""
    if series.count < 2 * series.rate_hz:
        return False
    still = sum(stretch.count for stretch in rests_of(series, least_s=0.5).stretches)
    return series.count - still > series.rate_hz
