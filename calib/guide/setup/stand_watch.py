"""A standing while no column is known for tilt: the machine was moved, and stands still again."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calib.guide.growing import Growing
from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.standing import MOVE_PATIENCE_S, Asked, longest_movement_s
from calib.guide.telling import Telling
from calib.guide.tilt_feed import LOOK_HZ, THINK_EVERY_S
from calib.store.samples import Samples
from calib.tilt.stillness import WINDOW_S, Rests, find_rests

Floats = NDArray[np.float64]

STAND_S: Final = 3.0
"""How long a standing is listened to, s: own choice; what is looked for is many times the noise."""

MOVED_S: Final = 0.8
"""Own choice: shortest movement, s; a wheel rolled onto a plank takes two, of which a noisy sensor
shows half."""

LEAST_SHIFT: Final = 2.0
"""Own choice: a shift of the mean from one window to the next that may be a slow movement, in the
noise of the column."""

LOOK_BACK_S: Final = 60.0
"""Own choice: as far back as a movement is looked for, s."""


class StandWatch:
    """An observer that has enough once the machine was moved and has stood still since.

    Attributes:
        still_rows: Readings at the end of what was seen that belong to the standing.
    """

    def __init__(
        self,
        person: Person,
        asked: Asked,
        columns: int,
        skip: Collection[int],
        *,
        clock: Callable[[], float],
    ) -> None:
        """Prepare to look on.

        Args:
            person: Moves the machine.
            asked: The standing.
            columns: How many columns the line carries.
            skip: Columns that are no tilt: clock and controls.
            clock: The host's clock, s.
        """
        self._person = person
        self._asked = asked
        self._telling = Telling(person, clock, patience_s=MOVE_PATIENCE_S)
        self._time_s = Growing()
        self._values = {index: Growing() for index in range(columns) if index not in skip}
        self._thought_s = 0.0
        self._moved = False
        self._held_s = 0.0
        self.still_rows = 0

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured. Enter says that it stands ready.

        Raises:
            BrokenOffError: Nobody has moved it for too long, or it never stood still.
        """
        self._telling.take(samples)
        if len(samples):
            self._time_s.extend(samples.time_s)
            for index, grown in self._values.items():
                grown.extend(np.nan_to_num(samples.values[:, index]))
        if self._person.entered():
            self._moved = True
        if self._telling.elapsed_s - self._thought_s >= THINK_EVERY_S:
            self._thought_s = self._telling.elapsed_s
            self._think()
        if self._held_s >= STAND_S:
            self._person.sound(Sound.DONE)
            return True
        self._telling.show(self._step(), ())
        missing = "did not stand still" if self._moved else "was not moved"
        self._telling.require_somebody(f"{self._asked.what}: the machine {missing}")
        return False

    def _think(self) -> None:
        """Whether it has moved, and for how long it stands since."""
        time_s = self._time_s.array
        first = int(np.searchsorted(time_s, time_s[-1] - LOOK_BACK_S))
        step_s = float(np.median(np.diff(time_s[first:]))) if len(time_s) - first > 1 else 0.0
        if step_s <= 0.0 or not self._values:
            return
        stride = max(1, round(1.0 / (step_s * LOOK_HZ)))
        rate_hz = 1.0 / (step_s * stride)
        rows = np.column_stack([grown.array[first::stride] for grown in self._values.values()])
        stretches = rests_of_columns(rows, rate_hz).stretches
        if not self._moved and longest_movement_s(stretches, len(rows), rate_hz) >= MOVED_S:
            self._moved = True
            self._telling.news()
        stands = bool(stretches) and stretches[-1].stop >= len(rows) - round(WINDOW_S * rate_hz)
        self._held_s = stretches[-1].count / rate_hz if stands and self._moved else 0.0
        self.still_rows = len(time_s) - first - stretches[-1].start * stride if stands else 0

    def _step(self) -> Step:
        if not self._moved:
            return Step(self._asked.verb, self._asked.detail)
        hold = Hold(min(self._held_s, STAND_S), STAND_S)
        return Step("stand still", f"{self._asked.what}: until it stands", hold=hold)


def rests_of_columns(rows: Floats, rate_hz: float) -> Rests:
    """The still stretches of columns in units that nobody knows yet.

    Each column counts by its own noise, which is taken from neighbouring readings: a coarse one
    that does not change has half its step for noise.

    Args:
        rows: Readings, shape (n, columns).
        rate_hz: Readings a second.
    """
    steps = np.abs(np.diff(rows, axis=0))
    least = np.array([column[column > 0.0].min(initial=np.inf) for column in steps.T])
    noise = np.maximum(np.median(steps, axis=0), 0.5 * np.where(np.isfinite(least), least, 1.0))
    return find_rests(
        rows / noise, rate_hz, most_unrest=np.inf, least_s=0.5, least_shift=LEAST_SHIFT
    )
