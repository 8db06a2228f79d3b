"""What looks on at tilt readings: the machine moved, standing or shaken, the sensor laid down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from calib.book import entries
from calib.guide.protocols import Hold, Reading, Step
from calib.guide.seen import Floats, Needle, Seen
from calib.guide.watch import Watch
from calib.measure.coverage import KNOWN_FACTOR
from calib.measure.sliding import Run
from calib.store.samples import BREAKS, Samples
from calib.tilt.attitude import nose_up_deg
from calib.tilt.inputs import TiltInputs
from calib.tilt.poses import count_distinct, fit_truing
from calib.tilt.series import TiltReading, TiltSeries, reading_of, rests_of
from calib.tilt.stillness import WINDOW_S

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

LOOK_BACK_S: Final = 60.0
"""Own choice: as far back as a movement or a standing is looked for, s."""

LOOK_HZ: Final = 100.0
"""Readings a second that a procedure looks at while it listens. Own choice, because a machine is
moved by hand; what is judged afterwards is the whole capture on disk."""

THINK_EVERY_S: Final = 0.4
"""Own choice, because a person waits no longer than that to hear that a pose was counted."""

REST_S: Final = 3.0
"""Own choice: as long as a standing that is used for a zero, s."""

SHAKE_S: Final = 5.0
"""Own choice: half a dozen strokes, s."""

SHAKE_PATIENCE_S: Final = 90.0
"""Own choice: a shake that has not come by then, s, will not come."""

WANTED_POSES: Final = 12
"""Different poses for the whole truing: nine unknowns and three to check them with."""

POSE_S: Final = 3.0
"""Own choice: how long the sensor is to rest in each pose, s."""

POSE_PATIENCE_S: Final = 45.0
"""Own choice: no new pose for so long, s, means that the person has done what they wanted."""


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


def asked_for(entry: str) -> Asked:
    """A standing or pose as ``calib/data/standings.txt`` words it."""
    return Asked(**entries("standings")[entry])


@dataclass
class TiltWatch(Watch):
    """A watch of the tilt readings so far, thinned for looking on, with the pitch on its page.

    Attributes:
        inputs: The tilt channels of the line.
        thin_s: Times of the readings that ``series`` gave last, s.
    """

    think_every_s = THINK_EVERY_S

    inputs: TiltInputs
    seen: Seen = field(init=False, default_factory=Seen)
    thin_s: Floats = field(init=False)
    _breaks_s: list[float] = field(init=False, default_factory=list)
    _pitch: Needle = field(init=False)

    def __post_init__(self) -> None:
        """Show the pitch."""
        self._pitch = Needle(self.inputs.pitch_name or "pitch", "deg")

    def take(self, samples: Samples) -> None:
        """Note breaks in the line, and the newest pitch."""
        self._breaks_s += [each.time_s for each in samples.events if each.kind in BREAKS]
        if len(samples):
            part = self.inputs.series(samples.values[-1:], LOOK_HZ)
            pitch = part.pitch_deg
            if pitch is None:
                pitch = np.empty(0) if part.force_g is None else nose_up_deg(part.force_g)
            self._pitch.note(pitch, self.now_s)

    def series(self, last_s: float = math.inf) -> TiltSeries:
        """The readings of the last so many seconds, thinned to a hundred a second."""
        cut, rate_hz = self.seen.thinned(self.elapsed_s - last_s, LOOK_HZ)
        self.thin_s = self.seen.time_s[cut]
        breaks = np.searchsorted(self.thin_s, self._breaks_s, side="right").tolist()
        return self.inputs.series(self.seen.rows[cut], rate_hz or 1.0, breaks)

    def readings(self) -> list[Reading]:
        """The pitch."""
        return [self._pitch.now(self.now_s)]


@dataclass
class MovedWatch(TiltWatch):
    """An observer that waits until the machine was moved: nobody types with a hand on it.

    Attributes:
        asked: What is asked for.
        needs: Why it is asked for again.
    """

    patience_s = MOVE_PATIENCE_S

    asked: Asked
    needs: tuple[str, ...] = ()

    def think(self) -> bool:
        """Whether it was moved; nothing is said of less than two seconds."""
        series = self.series(LOOK_BACK_S)
        if series.count < 2 * series.rate_hz:
            return False
        stretches = rests_of(series, least_s=0.5)
        return longest_movement_s(stretches, series.count, series.rate_hz) >= MOVED_S

    def step(self) -> Step:
        """Move it."""
        return Step(self.asked.verb, self.asked.detail, needs=self.needs)

    def is_over(self) -> bool:
        """Whether Enter says that it stands ready."""
        return self.person.entered()

    def missing(self) -> str:
        """It was not moved."""
        return f"{self.asked.what}: the machine was not moved"


@dataclass
class StandingWatch(TiltWatch):
    """An observer that has enough once the machine stood still for long enough.

    Attributes:
        what: The standing or pose, in words.
        reading: The mean so far, of the rest that still goes on; None while the machine moves.
    """

    patience_s = PATIENCE_S

    what: str
    reading: TiltReading | None = field(init=False, default=None)

    def think(self) -> bool:
        """Whether the mean is good enough, or as good as it gets."""
        self.reading = reading = current_rest(self.series(LOOK_BACK_S))
        if reading is None or reading.hold_s < LEAST_S:
            return False
        noisy = reading.u_pitch_deg > WANTED_U_DEG and reading.hold_s < LONGEST_S
        return not noisy and self.done()

    def step(self) -> Step:
        """Let it stand."""
        reading = self.reading
        if reading is None:
            return Step("stand still", f"{self.what}: until it stands", hold=Hold(0.0, LEAST_S))
        by_noise_s = reading.hold_s * (reading.u_pitch_deg / WANTED_U_DEG) ** 2
        wanted_s = min(LONGEST_S, max(LEAST_S, by_noise_s))
        expanded_deg = KNOWN_FACTOR * reading.u_pitch_deg
        detail = f"{self.what}: averaging, ± {expanded_deg:.3f} degrees so far"
        return Step("stand still", detail, hold=Hold(min(reading.hold_s, wanted_s), wanted_s))

    def missing(self) -> str:
        """It never stood still."""
        return f"{self.what}: the machine did not stand still"


@dataclass
class SurgeWatch(TiltWatch):
    """An observer that has enough after a rest, a shake and a rest."""

    patience_s = SHAKE_PATIENCE_S

    _rested: bool = field(init=False, default=False)
    _shaken: bool = field(init=False, default=False)
    _moved_s: float = field(init=False, default=0.0)
    _rest_s: float = field(init=False, default=0.0)

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
        still = sum(map(len, rests_of(series, least_s=0.5)))
        self._moved_s = (series.count - still) / series.rate_hz
        if not self._shaken and self._moved_s >= SHAKE_S:
            self._shaken = True
            self.counted()
        return self._shaken and self._rest_s >= REST_S / 2 and self.done()

    def step(self) -> Step:
        """Rest, shake, rest."""
        if not self._rested:
            detail = "upright on level ground, hands off"
            return Step("hands off", detail, hold=Hold(self._rest_s, REST_S))
        if not self._shaken:
            detail = "push and pull at frame or seat, a hand's breadth, twice a second"
            return Step("shake", detail, hold=Hold(min(self._moved_s, SHAKE_S), SHAKE_S))
        return Step("hands off", "let it stand", hold=Hold(self._rest_s, REST_S / 2))

    def missing(self) -> str:
        """No shake came."""
        return "no shake came to its end"


@dataclass
class PosesWatch(TiltWatch):
    """An observer that counts different still poses and has enough when they claim everything.

    Its inputs are without an earlier truing.
    """

    patience_s = POSE_PATIENCE_S

    _poses: int = field(init=False, default=0)
    _distinct: int = field(init=False, default=0)
    _held_s: float = field(init=False, default=0.0)

    def think(self) -> bool:
        """Count the poses; whether they claim everything."""
        series = self.series()
        now = current_rest(series)
        self._held_s = 0.0 if now is None else now.hold_s
        means = [reading_of(series, still).force_g for still in rests_of(series)]
        forces = np.array([m for m in means if m is not None]).reshape(-1, 3)
        forces /= self.inputs.gravity_g
        if len(forces) == self._poses:
            return False
        self._poses = len(forces)
        distinct = count_distinct(forces)
        if distinct > self._distinct:
            self.counted()
        self._distinct = distinct
        enough = distinct >= WANTED_POSES and fit_truing(forces).claim == "full"
        return enough and self.done()

    def step(self) -> Step:
        """Lay it down otherwise."""
        detail = "another face of a box, or askew against a wall; three seconds each"
        needs = () if self._distinct else ("resting on something, not held in the air",)
        hold = Hold(self._held_s, POSE_S) if 0.0 < self._held_s < POSE_S else None
        return Step("lay down", detail, self._distinct, WANTED_POSES, needs, hold=hold)

    def is_over(self) -> bool:
        """Whether the person has done what they wanted."""
        return self.left_s <= 0.0


def current_rest(series: TiltSeries) -> TiltReading | None:
    """The mean of the rest that still goes on; None while the machine moves."""
    stretches = rests_of(series, least_s=0.5)
    if not stretches or stretches[-1].stop < series.count - round(WINDOW_S * series.rate_hz):
        return None
    return reading_of(series, stretches[-1])


def longest_movement_s(stretches: Sequence[Run], count: int, rate_hz: float) -> float:
    """The longest time between still stretches, s.

    Args:
        stretches: The still ones, in order of time.
        count: Readings in all.
        rate_hz: Readings a second.
    """
    edges = [0, *(edge for each in stretches for edge in (each.first, each.stop)), count]
    return max(b - a for a, b in zip(edges[::2], edges[1::2], strict=True)) / rate_hz
