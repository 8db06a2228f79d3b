"""One standing of the machine: wait until it was moved, until it stands, and average for long."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.tilt_feed import TiltFeed
from calib.measure.coverage import KNOWN_FACTOR
from calib.store.samples import Samples
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import TiltReading, TiltSeries, reading_of, rests_of
from calib.tilt.stillness import WINDOW_S, Still

WANTED_U_DEG: Final = 0.02
"""Standard uncertainty, degrees, at which averaging ends. Own choice: a fifth of what settling
leaves, so that the noise no longer matters."""

LEAST_S: Final = 5.0
"""Own choice: shortest average, s, because a suspension rings for a second or two, and what is
judged afterwards at the full rate finds a rest to be a little shorter."""

LONGEST_S: Final = 40.0
"""Own choice: longest average, s; a sensor noisier than that is told so by its uncertainty."""

PATIENCE_S: Final = 120.0
"""Own choice: a machine that has not stood for this long, s, is not going to."""

MOVE_PATIENCE_S: Final = 300.0
"""Own choice: a machine is turned, or sat on, within five minutes, s, or nobody is there."""

MOVED_S: Final = 1.0
"""Own choice: shortest movement, s, after which a standing may begin; a knock is shorter."""

_LOOK_BACK_S: Final = 60.0


@dataclass(frozen=True, slots=True)
class Asked:
    """One standing that is asked for.

    Attributes:
        what: The standing or pose, in words.
        verb: What to do to get there, as loud as the screen allows.
        detail: The same in a sentence or two.
    """

    what: str
    verb: str
    detail: str


class MovedWatch:
    """An observer that waits until the machine was moved: nobody types with a hand on it."""

    def __init__(
        self,
        person: Person,
        inputs: TiltInputs,
        asked: Asked,
        *,
        clock: Callable[[], float],
        needs: tuple[str, ...] = (),
    ) -> None:
        """Prepare to look on.

        Args:
            person: Moves the machine.
            inputs: The tilt channels of the line.
            asked: What is asked for.
            clock: The host's clock in seconds.
            needs: Why it is asked for again.
        """
        self._person = person
        self._feed = TiltFeed(person, inputs, clock, patience_s=MOVE_PATIENCE_S)
        self._what = asked.what
        self._step = Step(asked.verb, asked.detail, needs=needs)

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether it was moved, or Enter says that it stands ready.

        Raises:
            BrokenOffError: Nobody has moved it for too long.
        """
        if self._feed.take(samples) and _moved_s(self._feed.series(_LOOK_BACK_S)) >= MOVED_S:
            return True
        self._feed.show(self._step)
        self._feed.telling.require_somebody(f"{self._what}: the machine was not moved")
        return self._person.entered()


class StandingWatch:
    """An observer that has enough once the machine stood still for long enough.

    Attributes:
        reading: The mean so far, of the rest that still goes on; None while the machine moves.
    """

    def __init__(
        self, person: Person, inputs: TiltInputs, *, what: str, clock: Callable[[], float]
    ) -> None:
        """Prepare to look on.

        Args:
            person: Is told what is waited for.
            inputs: The tilt channels of the line.
            what: The standing or pose, in words.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._feed = TiltFeed(person, inputs, clock, patience_s=PATIENCE_S)
        self._what = what
        self.reading: TiltReading | None = None

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured.

        Raises:
            BrokenOffError: It has not stood still for too long.
        """
        if self._feed.take(samples) and self._is_enough():
            self._person.sound(Sound.DONE)
            return True
        self._feed.show(self._step())
        self._feed.telling.require_somebody(f"{self._what}: the machine did not stand still")
        return False

    def _is_enough(self) -> bool:
        """Think about the readings so far."""
        self.reading = reading = current_rest(self._feed.series(_LOOK_BACK_S))
        if reading is None:
            return False
        return reading.hold_s >= LONGEST_S or (
            reading.hold_s >= LEAST_S and reading.u_pitch_deg <= WANTED_U_DEG
        )

    def _step(self) -> Step:
        reading = self.reading
        if reading is None:
            return Step("stand still", f"{self._what}: until it stands", hold=Hold(0.0, LEAST_S))
        by_noise_s = reading.hold_s * (reading.u_pitch_deg / WANTED_U_DEG) ** 2
        wanted_s = min(LONGEST_S, max(LEAST_S, by_noise_s))
        return Step(
            "stand still",
            f"{self._what}: averaging, ± {KNOWN_FACTOR * reading.u_pitch_deg:.3f} degrees so far",
            hold=Hold(min(reading.hold_s, wanted_s), wanted_s),
        )


def current_rest(series: TiltSeries) -> TiltReading | None:
    """The mean of the rest that still goes on; None while the machine moves."""
    stretches = rests_of(series, least_s=0.5).stretches
    if not stretches or stretches[-1].stop < series.count - round(WINDOW_S * series.rate_hz):
        return None
    return reading_of(series, stretches[-1])


def _moved_s(series: TiltSeries) -> float:
    """The longest movement in one go, s; nothing is said of less than two seconds."""
    if series.count < 2 * series.rate_hz:
        return 0.0
    stretches = rests_of(series, least_s=0.5).stretches
    return longest_movement_s(stretches, series.count, series.rate_hz)


def longest_movement_s(stretches: Sequence[Still], count: int, rate_hz: float) -> float:
    """The longest time between still stretches, s.

    Args:
        stretches: The still ones, in order of time.
        count: Readings in all.
        rate_hz: Readings a second.
    """
    edges = [0, *(edge for each in stretches for edge in (each.start, each.stop)), count]
    return max(b - a for a, b in zip(edges[::2], edges[1::2], strict=True)) / rate_hz
