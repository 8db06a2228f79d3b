"""The tilt readings of a running line, kept for the procedure that looks on."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

from calib.guide.protocols import Person, Reading, Step
from calib.guide.telling import Telling
from calib.store.samples import EventKind, Samples
from calib.tilt.attitude import nose_up_deg
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import TiltSeries

Array = npt.NDArray[np.float64]

LOOK_HZ: Final = 100.0
"""Readings a second that a procedure looks at while it listens. Own choice, because a machine is
moved by hand; what is judged afterwards is the whole capture on disk."""

THINK_EVERY_S: Final = 0.4
"""Own choice, because a person waits no longer than that to hear that a pose was counted."""


class TiltFeed:
    """Tilt readings so far, thinned for looking on, and the live page about them."""

    def __init__(
        self,
        person: Person,
        inputs: TiltInputs,
        clock: Callable[[], float],
        *,
        patience_s: float = math.inf,
    ) -> None:
        """Prepare to look on.

        Args:
            person: Sees the live values.
            inputs: The tilt channels of the line.
            clock: The host's clock in seconds.
            patience_s: How long nothing new may happen.
        """
        self.telling = Telling(person, clock, patience_s=patience_s)
        self._inputs = inputs
        self._clock = clock
        self._rows: list[Array] = []
        self._times_s: list[Array] = []
        self._breaks_s: list[float] = []
        self._thought_s = -math.inf
        self._arrived_s = 0.0
        self._latest = self._low = self._high = math.nan
        self.elapsed_s = 0.0
        self.thin_s: Array = np.empty(0)
        """Times of the readings that ``series`` gave last, s."""

    def take(self, samples: Samples) -> bool:
        """Take in a run of samples; whether it is time to think about them again."""
        self.telling.take(samples)
        broken = (EventKind.GAP, EventKind.REPLUG, EventKind.RESET)
        self._breaks_s += [e.time_s for e in samples.events if e.kind in broken]
        if not len(samples):
            return False
        self._rows.append(samples.values)
        self._times_s.append(samples.time_s)
        self._arrived_s = self._clock()
        self.elapsed_s = float(samples.time_s[-1])
        self._note(samples)
        if self.elapsed_s - self._thought_s < THINK_EVERY_S:
            return False
        self._thought_s = self.elapsed_s
        return True

    def series(self, last_s: float = math.inf) -> TiltSeries:
        """The readings of the last so many seconds, thinned to a hundred a second."""
        time_s, rows = np.concatenate(self._times_s), np.vstack(self._rows)
        start = int(np.searchsorted(time_s, time_s[-1] - last_s))
        time_s, rows = time_s[start:], rows[start:]
        steps_s = np.diff(time_s)
        rate_hz = 1.0 / float(np.median(steps_s)) if steps_s.size and np.median(steps_s) else 1.0
        stride = max(1, round(rate_hz / LOOK_HZ))
        thin_s = self.thin_s = time_s[::stride]
        breaks = np.searchsorted(thin_s, self._breaks_s, side="right")
        return self._inputs.series(rows[::stride], rate_hz / stride, [int(b) for b in breaks])

    def show(self, step: Step) -> None:
        """Show what to do now and the pitch, some times a second."""
        known = not math.isnan(self._latest)
        reading = Reading(
            channel=self._inputs.pitch_name or "pitch",
            value=self._latest if known else None,
            unit="deg",
            low=self._low if known else None,
            high=self._high if known else None,
            age_s=self._clock() - self._arrived_s,
        )
        self.telling.show(step, (reading,))

    def _note(self, samples: Samples) -> None:
        """Newest, lowest and highest pitch."""
        part = self._inputs.series(samples.values[-1:], LOOK_HZ)
        pitch = part.pitch_deg
        if pitch is None and part.force_g is not None:
            pitch = nose_up_deg(part.force_g)
        if pitch is not None:
            self._latest = float(pitch[-1])
            self._low = float(np.fmin(self._low, self._latest))
            self._high = float(np.fmax(self._high, self._latest))
