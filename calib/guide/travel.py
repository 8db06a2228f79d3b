"""Hands-free capture of a control's travel: the person presses, calib counts."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from calib.controls.presses import Presses, count_presses
from calib.guide.growing import Growing
from calib.guide.protocols import Live, Person, Sound, Step
from calib.guide.recording import SHOW_EVERY_S, Gauge
from calib.store.conversion import step, to_base
from calib.store.rig import Channel
from calib.store.samples import EventKind, Samples

COUNT_EVERY_S = 0.2
"""Own choice, because a person waits no longer than that to hear that a press was counted."""

PATIENCE_S = 45.0
"""Own choice, because hands that need longer for one press have gone to fetch something."""

FIRST_REST_S = 0.8
"""Own choice: long enough to know rest before the first press. Which end is rest hangs on it: a
capture that begins in the hand takes full travel for rest."""

LAST_REST_S = 0.6
"""Own choice: the last rest is held twice as long as the shortest hold that is promised."""


class TravelWatch:
    """An observer that counts presses and has enough after as many as were asked for."""

    def __init__(
        self,
        person: Person,
        gauge: Gauge,
        channel: Channel,
        *,
        presses: int,
        clock: Callable[[], float],
    ) -> None:
        """Prepare to look on.

        Args:
            person: Is told what to do and hears what was counted.
            gauge: The control's live value.
            channel: The control.
            presses: How many full presses are wanted.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._gauge = gauge
        self._channel = channel
        self._wanted = presses
        self._clock = clock
        self._time_s = Growing()
        self._volts = Growing()
        self._gaps: list[int] = []
        self._counted_s = self._shown_s = -math.inf
        self._seen = 0
        self._seen_half = 0
        self._last_counted_s = 0.0
        self._enough_since_s: float | None = None
        self._presses: Presses | None = None
        self._rejected = 0

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        now_s = self._clock()
        self._take(samples)
        reading = self._gauge.look(samples, now_s)
        device_s = float(self._time_s.array[-1]) if len(self._time_s) else 0.0
        if len(samples) and device_s - self._counted_s >= COUNT_EVERY_S:
            self._counted_s = device_s
            self._count(device_s)
        if now_s - self._shown_s >= SHOW_EVERY_S:
            self._shown_s = now_s
            self._person.show(
                Live(
                    step=self._step(),
                    readings=(reading,),
                    samples=len(self._time_s),
                    rejected_lines=self._rejected,
                    elapsed_s=device_s,
                )
            )
        return self._is_over(device_s)

    def _take(self, samples: Samples) -> None:
        self._rejected += len(samples.rejected)
        for event in samples.events:
            if event.kind in (EventKind.GAP, EventKind.REPLUG):
                inside = int(np.searchsorted(samples.time_s, event.time_s, side="right"))
                self._gaps.append(len(self._time_s) + inside)
        if len(samples):
            self._time_s.extend(samples.time_s)
            self._volts.extend(to_base(self._channel, samples.values[:, self._gauge.index]))

    def _count(self, device_s: float) -> None:
        presses = count_presses(
            self._time_s.array,
            self._volts.array,
            lsb_V=step(self._channel) or 0.0,
            gaps=_inside(self._gaps, len(self._time_s)),
        )
        self._presses = presses
        if presses.count > self._seen:
            self._last_counted_s = device_s
            enough = presses.count >= self._wanted
            self._person.sound(Sound.DONE if enough else Sound.COUNTED)
        if presses.half + presses.unheld > self._seen_half:
            self._person.sound(Sound.STOP)
        self._seen = max(self._seen, presses.count)
        self._seen_half = max(self._seen_half, presses.half + presses.unheld)

    def _step(self) -> Step:
        presses = self._presses
        wanted = self._wanted
        if presses is None or not (presses.worked or _stood_still(presses)):
            return Step("hand off", "do not touch it for a second", 0, wanted)
        if not presses.worked:
            return Step("press", "all the way, hold for a second, let go", 0, wanted)
        needs: tuple[str, ...] = ()
        if presses.half or presses.unheld:
            needs = ("full presses, each held for a moment at full travel",)
        if presses.count >= wanted:
            return Step("let go", "hands off, it is nearly done", presses.count, wanted)
        if presses.pressed_now:
            return Step("release", "let go, hand off for a second", presses.count, wanted, needs)
        return Step("press", "all the way, hold for a second", presses.count, wanted, needs)

    def _is_over(self, device_s: float) -> bool:
        if self._presses is None:
            return False
        if self._seen >= self._wanted and not self._presses.pressed_now:
            if self._enough_since_s is None:
                self._enough_since_s = device_s
            return device_s - self._enough_since_s >= LAST_REST_S
        self._enough_since_s = None
        return device_s - self._last_counted_s >= PATIENCE_S


def _inside(gaps: Sequence[int], count: int) -> list[int]:
    return [index for index in gaps if 0 < index < count]


def _stood_still(presses: Presses) -> bool:
    return any(plateau.hold_s >= FIRST_REST_S for plateau in presses.plateaus.found)
