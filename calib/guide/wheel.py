"""The wheel with the person: turned by hand from mark to mark, or pushed along a tape."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

from calib.guide.protocols import Hold, Sound, Step
from calib.guide.watch import ChannelWatch
from calib.store.samples import Samples
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

    patience_s = PATIENCE_S

    turns: int
    _before: float | None = field(init=False, default=None)
    _low: float = field(init=False, default=0.0)
    _high: float = field(init=False, default=0.0)
    _was_high: bool = field(init=False, default=False)
    _changes: int = field(init=False, default=0)
    _changed_s: float = field(init=False, default=0.0)
    _longest_s: float = field(init=False, default=0.0)

    def take(self, samples: Samples) -> None:
        """Note when pulses came, and how far apart."""
        values = self.gauge.values(samples) if len(samples) else samples.time_s
        for value, time_s in zip(values.tolist(), samples.time_s.tolist(), strict=True):
            if not math.isfinite(value):
                continue
            if self._before is None:
                self._before = self._low = self._high = value
                self._changed_s = time_s
            elif self._has_changed(self._before, value):
                if self._changes:
                    self._longest_s = max(self._longest_s, time_s - self._changed_s)
                self._changes += 1
                self._changed_s = time_s
                self.news()
            self._before = value

    def _has_changed(self, before: float, value: float) -> bool:
        """Whether a pulse began or ended with this reading."""
        if self.gauge.unit == "pulses":
            return value != before
        self._low, self._high = min(self._low, value), max(self._high, value)
        high = value > 0.5 * (self._low + self._high)
        was, self._was_high = self._was_high, high
        return self._high > self._low and high != was

    @property
    def _still_s(self) -> float:
        return self.elapsed_s - self._changed_s

    @property
    def _is_dumb(self) -> bool:
        """Whether the wheel may have turned past a sensor that is dead."""
        return not self._changes and self.elapsed_s > DUMB_S

    @property
    def _wanted_s(self) -> float:
        return max(STILL_S, LONGEST_GAPS * self._longest_s)

    def step(self) -> Step:
        """Turn it, or let it stand."""
        made = f"{self.turns} turns"
        if self._changes and self._still_s > PAUSE_S:
            hold = Hold(self._still_s, self._wanted_s)
            return Step("hands off", f"if all {made} are made; else turn on", hold=hold)
        needs = ("no pulse comes: once it has turned, press Enter",) if self._is_dumb else ()
        return Step(
            "turn", "by hand, one way, from mark to mark", needs=needs, control=self.gauge.name,
            how=made,
        )  # fmt: skip

    def is_over(self) -> bool:
        """Whether it has turned and stands, or Enter says so."""
        entered = self.person.entered() and (self._changes > 0 or self._is_dumb)
        over = entered or (self._changes > 0 and self._still_s >= self._wanted_s)
        if over:
            self.person.sound(Sound.DONE)
        return over

    def missing(self) -> str:
        """No pulse came."""
        return "no pulse of the wheel"
