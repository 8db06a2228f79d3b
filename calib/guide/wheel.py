"""The wheel with the person: turned by hand from mark to mark, or pushed along a tape."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from calib.guide.protocols import Hold, Person, Reading, Sound, Step
from calib.guide.recording import Gauge
from calib.guide.telling import Telling
from calib.store.rig import Channel
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


class TurnWatch:
    """An observer that has enough once the wheel has turned and stands."""

    def __init__(
        self,
        person: Person,
        gauge: Gauge,
        channel: Channel,
        *,
        turns: int,
        clock: Callable[[], float],
    ) -> None:
        """Prepare to look on.

        Args:
            person: Turns the wheel.
            gauge: The sensor's live value.
            channel: The sensor's channel.
            turns: How many turns are asked for.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._gauge = gauge
        self._running = channel.unit == "pulses"
        self._turns = turns
        self._clock = clock
        self._telling = Telling(person, clock, patience_s=PATIENCE_S)
        self._before: float | None = None
        self._low = self._high = 0.0
        self._was_high = False
        self._changes = 0
        self._changed_s = self._now_s = 0.0
        self._longest_s = 0.0

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured.

        Raises:
            BrokenOffError: Nobody turned the wheel for too long.
        """
        self._telling.take(samples)
        reading = self._gauge.look(samples, self._clock())
        if len(samples):
            self._look(samples)
        entered = self._person.entered() and (self._changes > 0 or self._is_dumb)
        if entered or (self._changes and self._still_s >= self._wanted_s):
            self._person.sound(Sound.DONE)
            return True
        self._show(reading)
        self._telling.require_somebody("no pulse of the wheel")
        return False

    @property
    def _still_s(self) -> float:
        return self._now_s - self._changed_s

    @property
    def _is_dumb(self) -> bool:
        """Whether the wheel may have turned past a sensor that is dead."""
        return not self._changes and self._telling.elapsed_s > DUMB_S

    @property
    def _wanted_s(self) -> float:
        return max(STILL_S, LONGEST_GAPS * self._longest_s)

    def _look(self, samples: Samples) -> None:
        """Note when pulses came, and how far apart."""
        values = samples.values[:, self._gauge.index]
        for value, time_s in zip(values.tolist(), samples.time_s.tolist(), strict=True):
            self._now_s = time_s
            if np.isfinite(value) and self._changed(value):
                if self._changes:
                    self._longest_s = max(self._longest_s, time_s - self._changed_s)
                self._changes += 1
                self._changed_s = time_s
                self._telling.news()

    def _changed(self, value: float) -> bool:
        """Whether a pulse began or ended with this reading."""
        if self._before is None:
            self._before = self._low = self._high = value
            self._changed_s = self._now_s
            return False
        before, self._before = self._before, value
        if self._running:
            return value != before
        self._low, self._high = min(self._low, value), max(self._high, value)
        high = value > 0.5 * (self._low + self._high)
        was, self._was_high = self._was_high, high
        return self._high > self._low and high != was

    def _show(self, reading: Reading) -> None:
        made = f"{self._turns} turns"
        needs = ("no pulse comes: once it has turned, press Enter",) if self._is_dumb else ()
        step = Step(
            "turn", "by hand, one way, from mark to mark", needs=needs, control=self._gauge.name,
            how=made,
        )  # fmt: skip
        if self._changes and self._still_s > PAUSE_S:
            hold = Hold(self._still_s, self._wanted_s)
            step = Step("hands off", f"if all {made} are made; else turn on", hold=hold)
        self._telling.show(step, (reading,))
