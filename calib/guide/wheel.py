"""The wheel with the person: turned by hand from mark to mark, or pushed along a tape."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from calib.guide.protocols import Hold, Step
from calib.guide.seen import Floats
from calib.guide.watch import COUNT_EVERY_S, ChannelWatch
from calib.store.text import counted

STILL_S: Final = 4.0
"""Own choice: a wheel that gives no pulse for so long has been let go, s."""

LONGEST_GAPS: Final = 2.5
"""Own choice: and for so many times the longest wait between two pulses before, so that a wheel
with one magnet may be turned slowly."""

PAUSE_S: Final = 2.0
"""Own choice: a wheel that stands for so long may have been let go, s."""

DUMB_S: Final = 25.0
"""Own choice: a sensor that gave no pulse for so long may never give one, s."""

PATIENCE_S: Final = 90.0
"""Own choice: a wheel that does not turn within that is not going to, s."""


def push_prompt(turns: int, *, seated: bool) -> str:
    """What is to be done before the way is read off the tape.

    Args:
        turns: Of the driven wheel, whose sensor the controller counts.
        seated: Whether the rider's weight is to be on.
    """
    who = "somebody seated, and a second person at the machine" if seated else "nobody on it"
    return (
        f"PUSH. With {who}, valve of the driven wheel at the bottom: chalk the floor there, push "
        f"it straight along the tape for {counted(turns, 'turn')}, valve at the bottom again, "
        "chalk again."
    )


@dataclass
class TurnWatch(ChannelWatch):
    """An observer that has enough once the wheel has turned and stands.

    Attributes:
        turns: How many turns are asked for.
    """

    think_every_s = COUNT_EVERY_S  # each look goes over the whole record
    patience_s = PATIENCE_S

    turns: int
    _changes_s: Floats = field(init=False, default_factory=lambda: np.empty(0))
    """When a pulse began or ended, s."""

    def think(self) -> bool:
        """Note when pulses came."""
        there = np.isfinite(self.seen.rows[:, 0])
        values, time_s = self.seen.rows[there, 0], self.seen.time_s[there]
        if self.gauge.unit != "pulses":
            low, high = np.minimum.accumulate(values), np.maximum.accumulate(values)
            values = np.where(values > 0.5 * (low + high), 1.0, 0.0)
        changes_s = time_s[1:][np.diff(values) != 0.0]
        if len(changes_s) > len(self._changes_s):
            self.news()
        self._changes_s = changes_s
        return False

    @property
    def _stand(self) -> Hold | None:
        """How long the wheel had stood at the last look; None before it gave a pulse."""
        if not len(self._changes_s):
            return None
        wanted_s = max(STILL_S, LONGEST_GAPS * float(np.diff(self._changes_s).max(initial=0.0)))
        return Hold(self._thought_s - float(self._changes_s[-1]), wanted_s)

    @property
    def _is_dumb(self) -> bool:
        """Whether the wheel may have turned past a sensor that is dead."""
        return self._stand is None and self.elapsed_s > DUMB_S

    def step(self) -> Step:
        """Turn it, or let it stand."""
        made, stand = f"{self.turns} turns", self._stand
        if stand is not None and stand.done_s > PAUSE_S:
            return Step("hands off", f"if all {made} are made; else turn on", hold=stand)
        needs = ("no pulse comes: once it has turned, press Enter",) if self._is_dumb else ()
        detail, name = "by hand, one way, from mark to mark", self.gauge.name
        return Step("turn", detail, needs=needs, control=name, how=made)

    def is_over(self) -> bool:
        """Whether it has turned and stands, or Enter says so."""
        stand = self._stand
        entered = self.person.entered() and (stand is not None or self._is_dumb)
        over = entered or (stand is not None and stand.left_s <= 0.0)
        return over and self.done()

    def missing(self) -> str:
        """No pulse came."""
        return "no pulse of the wheel"
