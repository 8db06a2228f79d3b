"""What a live flow shows, one mechanism for all: some frames a second, silence, patience."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

from calib.errors import BrokenOffError
from calib.guide.events import CABLE
from calib.guide.protocols import Live, Person, Reading, Step
from calib.store.samples import EventKind, Samples

SHOW_EVERY_S: Final = 0.05
"""Own choice: twenty times a second, what an eye takes for motion."""

SILENT_S: Final = 1.0
"""Own choice: ten times the longest wait between two looks at a line, and before a hand gets
nervous."""

SHOWN_LEFT_S: Final = 25.0
"""Own choice: from when on the time that is left is shown, s."""

_AWAY = (EventKind.GAP, EventKind.REPLUG, EventKind.RESET)


class Telling:
    """Counts what comes, shows the step, says that the cable is off, and knows when nobody is left.

    Patience runs on the device's clock without its gaps: while a line is silent, or away, nobody
    can do what is asked, so nobody is blamed for the time.
    """

    def __init__(
        self, person: Person, clock: Callable[[], float], *, patience_s: float = math.inf
    ) -> None:
        """Prepare to show.

        Args:
            person: Sees it.
            clock: The host's clock, s.
            patience_s: How long nothing new may happen.
        """
        self._person = person
        self._clock = clock
        self._patience_s = patience_s
        self._shown_s = -math.inf
        self._arrived_s: float | None = None
        self._away_s = self._news_s = 0.0
        self.samples = self.rejected_lines = 0
        self.elapsed_s = 0.0

    def take(self, samples: Samples) -> None:
        """Count a run of samples."""
        self.rejected_lines += len(samples.rejected)
        self._away_s += sum(each.duration_s for each in samples.events if each.kind in _AWAY)
        if len(samples):
            self.samples += len(samples)
            self.elapsed_s = float(samples.time_s[-1])
            self._arrived_s = self._clock()

    def news(self) -> None:
        """Something was done that was asked for: patience begins anew."""
        self._news_s = self._patient_s

    @property
    def left_s(self) -> float:
        """What is left of the patience, s."""
        return self._patience_s - (self._patient_s - self._news_s)

    def require_somebody(self, asked: str) -> None:
        """End the flow where nobody has worked for too long.

        Args:
            asked: What was waited for, as in "no press of throttle".

        Raises:
            BrokenOffError: So it is.
        """
        if self.left_s <= 0.0:
            raise BrokenOffError(
                f"Broken off: {asked} for {self._patience_s:.0f} s.",
                "What was captured is kept and nothing was judged; records of before stand. "
                "Run it again.",
            )

    def show(self, step: Step, readings: Sequence[Reading]) -> None:
        """Show what to do now and the live values, some times a second."""
        now_s = self._clock()
        if now_s - self._shown_s < SHOW_EVERY_S:
            return
        self._shown_s = now_s
        silent_s = 0.0 if self._arrived_s is None else now_s - self._arrived_s
        if silent_s > SILENT_S:
            text = f"no line for {silent_s:.0f} s: look at plug and power; it goes on by itself"
            step = replace(step, verb=CABLE, control="", how="", detail=text, hold=None, instead="")
        elif self.left_s <= SHOWN_LEFT_S:
            step = replace(step, left_s=max(0.0, self.left_s))
        self._person.show(
            Live(
                step=step,
                readings=tuple(readings),
                samples=self.samples,
                rejected_lines=self.rejected_lines,
                elapsed_s=max(0.0, self.elapsed_s),
            )
        )

    @property
    def _patient_s(self) -> float:
        return max(0.0, self.elapsed_s - self._away_s)
