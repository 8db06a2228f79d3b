"""Hands-free capture of a control's travel: the person presses, calib counts."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from calib.controls.presses import Presses, count_presses
from calib.guide.hand import LAST_REST_S, Hand, Others, Where, hand_now, press_step
from calib.guide.protocols import Sound, Step
from calib.guide.watch import COUNT_EVERY_S, ChannelWatch
from calib.store.samples import MISSING, Samples

PATIENCE_S = 45.0
"""Own choice, because hands that need longer for one press have gone to fetch something."""

_FALLS = (
    "it falls when pressed: if it is not wired so, a hand was on it at the start: Ctrl-C, and again"
)
"""What a control that began in the hand shows, until its presses are judged."""


@dataclass
class TravelWatch(ChannelWatch):
    """An observer that counts presses and has enough after as many as were asked for.

    Attributes:
        others: The controls that are not asked for.
        presses: How many full presses are wanted.
    """

    think_every_s = COUNT_EVERY_S
    patience_s = PATIENCE_S

    others: Others
    presses: int
    _gaps_s: list[float] = field(init=False, default_factory=list)
    _most_counted: int = field(init=False, default=0)
    _most_short: int = field(init=False, default=0)
    _hand: Hand = field(init=False, default=Hand(Where.UNKNOWN))
    _found: Presses | None = field(init=False, default=None)

    def take(self, samples: Samples) -> None:
        """Note gaps in the line, and what other controls do."""
        self._gaps_s += [event.time_s for event in samples.events if event.kind in MISSING]
        self.others.take(samples)

    def think(self) -> bool:
        """Count the presses."""
        time_s = self.seen.time_s
        volts, lsb_V = self.seen.values(self.gauge.name), self.gauge.code_width
        gaps = np.searchsorted(time_s, self._gaps_s, side="right").tolist()
        inside = [index for index in gaps if 0 < index < len(time_s)]
        self._found = presses = count_presses(time_s, volts, lsb_V=lsb_V, gaps=inside)
        self._hand = hand = hand_now(presses, time_s)
        if hand.counted > self._most_counted:
            self.counted(enough=hand.counted >= self.presses)
        if self._short > self._most_short:
            self.person.sound(Sound.STOP)
        self._most_counted = max(self._most_counted, hand.counted)
        self._most_short = max(self._most_short, self._short)
        return False

    @property
    def _short(self) -> int:
        """Presses that were not full, or not held."""
        return 0 if self._found is None else self._found.half + self._found.unheld

    def step(self) -> Step:
        """Press, hold or let go."""
        needs: tuple[str, ...] = ()
        if self._short:
            needs = ("full presses, each held for a second at the end; the short ones are out",)
        if self._found is not None and self._found.worked and self._found.travel_V < 0.0:
            needs = (*needs, _FALLS)
        shown = press_step(self._hand, self.gauge.name, self.presses, needs=needs)
        if self._hand.where is Where.REST and (other := self.others.worked):
            shown = replace(shown, instead=other)
        return shown

    def is_over(self) -> bool:
        """As many presses as are wanted, and at rest since."""
        presses, hand = self._found, self._hand
        enough = presses is not None and presses.count >= self.presses
        return enough and hand.where is Where.REST and hand.rested_s >= LAST_REST_S

    def missing(self) -> str:
        """The press that did not come."""
        short = f" ({self._most_short} were not held at the end)" if self._most_short else ""
        made = f"{self._hand.counted} of {self.presses} presses of {self.gauge.name}"
        return f"{made}{short}, and no other"
