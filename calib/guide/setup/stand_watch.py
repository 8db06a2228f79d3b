"""A standing while no column is known for tilt: the machine was moved, and stands still again."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.seen import Seen
from calib.guide.standing import (
    LOOK_BACK_S,
    LOOK_HZ,
    MOVE_PATIENCE_S,
    THINK_EVERY_S,
    Asked,
    longest_movement_s,
)
from calib.guide.watch import Clock, Watch
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


class StandWatch(Watch):
    """An observer that has enough once the machine was moved and has stood still since.

    Attributes:
        still_rows: Readings at the end of what was seen that belong to the standing.
    """

    think_every_s = THINK_EVERY_S

    def __init__(
        self,
        person: Person,
        asked: Asked,
        columns: int,
        skip: Collection[int],
        *,
        clock: Clock,
    ) -> None:
        """Prepare to look on.

        Args:
            person: Moves the machine.
            asked: The standing.
            columns: How many columns the line carries.
            skip: Columns that are no tilt: clock and controls.
            clock: The host's clock, s.
        """
        self._seen = Seen()
        super().__init__(person, clock, seen=self._seen, patience_s=MOVE_PATIENCE_S)
        self._asked = asked
        self._looked_at = [index for index in range(columns) if index not in skip]
        self._moved = False
        self._held_s = 0.0
        self.still_rows = 0

    def take(self, samples: Samples) -> None:  # noqa: ARG002 (a key says it, not the line)
        """Enter says that it stands ready."""
        if self.person.entered():
            self._moved = True

    def think(self) -> bool:
        """Whether it has moved, and stands for long enough since."""
        cut = self._seen.since(self.elapsed_s - LOOK_BACK_S)
        time_s, rows = self._seen.time_s[cut], self._seen.rows[cut][:, self._looked_at]
        step_s = float(np.median(np.diff(time_s))) if len(time_s) > 1 else 0.0
        if step_s <= 0.0 or not self._looked_at:
            return False
        stride = max(1, round(1.0 / (step_s * LOOK_HZ)))
        rate_hz = 1.0 / (step_s * stride)
        thin = np.nan_to_num(rows[::stride])
        stretches = rests_of_columns(thin, rate_hz).stretches
        if not self._moved and longest_movement_s(stretches, len(thin), rate_hz) >= MOVED_S:
            self._moved = True
            self.news()
        stands = bool(stretches) and stretches[-1].stop >= len(thin) - round(WINDOW_S * rate_hz)
        self._held_s = stretches[-1].count / rate_hz if stands and self._moved else 0.0
        self.still_rows = len(rows) - stretches[-1].start * stride if stands else 0
        if self._held_s < STAND_S:
            return False
        self.person.sound(Sound.DONE)
        return True

    def step(self) -> Step:
        """Move it, then let it stand."""
        if not self._moved:
            return Step(self._asked.verb, self._asked.detail)
        hold = Hold(min(self._held_s, STAND_S), STAND_S)
        return Step("stand still", f"{self._asked.what}: until it stands", hold=hold)

    def missing(self) -> str:
        """It was not moved, or moves on."""
        missing = "did not stand still" if self._moved else "was not moved"
        return f"{self._asked.what}: the machine {missing}"


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
