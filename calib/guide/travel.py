"""Hands-free capture of a control's travel: the person presses, calib counts."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from calib.controls.presses import Presses, count_presses
from calib.guide.growing import Growing
from calib.guide.hand import Hand, Others, Where, hand_now, press_step
from calib.guide.protocols import Person, Sound, Step
from calib.guide.recording import Gauge
from calib.guide.telling import Telling
from calib.store.conversion import step, to_base
from calib.store.samples import EventKind, Samples

COUNT_EVERY_S = 0.2
"""Own choice, because a person waits no longer than that to hear that a press was counted."""

PATIENCE_S = 45.0
"""Own choice, because hands that need longer for one press have gone to fetch something."""

LAST_REST_S = 0.6
"""Own choice: the last rest is held twice as long as the shortest hold that is promised."""

_FALLS = (
    "it falls when pressed: if it is not wired so, a hand was on it at the start: Ctrl-C, and again"
)
"""What a control that began in the hand shows, until its presses are judged."""

_NOTHING = Hand(Where.UNKNOWN, 0.0, 0.0, 0)


class TravelWatch:
    """An observer that counts presses and has enough after as many as were asked for."""

    def __init__(
        self,
        person: Person,
        gauge: Gauge,
        others: Others,
        *,
        presses: int,
        clock: Callable[[], float],
    ) -> None:
        """Prepare to look on.

        Args:
            person: Is told what to do and hears what was counted.
            gauge: The control's live value.
            others: The controls that are not asked for.
            presses: How many full presses are wanted.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._gauge = gauge
        self._others = others
        self._channel = gauge.rig.channels[gauge.name]
        self._wanted = presses
        self._clock = clock
        self._telling = Telling(person, clock, patience_s=PATIENCE_S)
        self._time_s = Growing()
        self._volts = Growing()
        self._gaps: list[int] = []
        self._counted_s = -math.inf
        self._seen = self._seen_short = 0
        self._hand = _NOTHING
        self._presses: Presses | None = None

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured.

        Raises:
            BrokenOffError: Nobody has worked the control for too long.
        """
        self._take(samples)
        reading = self._gauge.look(samples, self._clock())
        device_s = float(self._time_s.array[-1]) if len(self._time_s) else 0.0
        if len(samples) and device_s - self._counted_s >= COUNT_EVERY_S:
            self._counted_s = device_s
            self._count()
        self._telling.show(self._step(), (reading,))
        if self._is_over():
            return True
        short = f" ({self._seen_short} were not held at the end)" if self._seen_short else ""
        self._telling.require_somebody(
            f"{self._hand.counted} of {self._wanted} presses of {self._gauge.name}{short}, and no "
            "other"
        )
        return False

    def _take(self, samples: Samples) -> None:
        for event in samples.events:
            if event.kind in (EventKind.GAP, EventKind.REPLUG):
                inside = int(np.searchsorted(samples.time_s, event.time_s, side="right"))
                self._gaps.append(len(self._time_s) + inside)
        self._telling.take(samples)
        if len(samples):
            self._time_s.extend(samples.time_s)
            self._volts.extend(to_base(self._channel, samples.values[:, self._gauge.index]))
            self._others.take(samples)

    def _count(self) -> None:
        presses = count_presses(
            self._time_s.array,
            self._volts.array,
            lsb_V=step(self._channel) or 0.0,
            gaps=_inside(self._gaps, len(self._time_s)),
        )
        self._presses = presses
        self._hand = hand = hand_now(presses, self._time_s.array)
        if hand.counted > self._seen:
            self._telling.news()
            enough = hand.counted >= self._wanted
            self._person.sound(Sound.DONE if enough else Sound.COUNTED)
        short = presses.half + presses.unheld
        if short > self._seen_short:
            self._person.sound(Sound.STOP)
        self._seen = max(self._seen, hand.counted)
        self._seen_short = max(self._seen_short, short)

    def _step(self) -> Step:
        needs: tuple[str, ...] = ()
        if self._presses is not None and (self._presses.half or self._presses.unheld):
            needs = ("full presses, each held for a second at the end; the short ones are out",)
        if self._presses is not None and self._presses.worked and self._presses.travel_V < 0.0:
            needs = (*needs, _FALLS)
        shown = press_step(self._hand, self._gauge.name, self._wanted, needs=needs)
        if self._hand.where is Where.REST and (other := self._others.worked):
            shown = replace(shown, instead=other)
        return shown

    def _is_over(self) -> bool:
        presses = self._presses
        return (
            presses is not None
            and presses.count >= self._wanted
            and self._hand.where is Where.REST
            and self._hand.rested_s >= LAST_REST_S
        )


def _inside(gaps: Sequence[int], count: int) -> list[int]:
    return [index for index in gaps if 0 < index < count]
