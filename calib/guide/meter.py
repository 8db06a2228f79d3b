"""Truing with a multimeter: the person sets voltages and freezes the meter, calib counts."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from calib.controls.meter import LEAST_HOLD_S, SAME_LEVEL_V, Stretch, still_stretches
from calib.guide.asking import ask_until, number_of, one_of
from calib.guide.protocols import Hold, Person, Step
from calib.guide.seen import Gauge, Seen
from calib.guide.watch import ChannelWatch
from calib.store.plausible import METER_MV, METER_V
from calib.store.samples import Samples

COUNT_EVERY_S = 0.25
"""Own choice, because a person waits no longer than that to hear that a voltage was counted."""

HOLD_S = 2.0 * LEAST_HOLD_S
"""Own choice: twice the shortest stretch, so that what was counted live is found again."""

PATIENCE_S = 180.0
"""Own choice, because a voltage that takes longer to set is not going to be."""

STANDS_S = 0.5
"""Own choice: how old the end of a stretch may be that still goes on, s."""

CHANGED_V = 3.0 * SAME_LEVEL_V
"""Own choice: three times what makes two stretches one level."""

FIRST_READINGS = 20
"""Own choice: readings of what stood on the wire before anything was set."""

LEAST_MV_RATIO = 100.0
"""Own choice: no logger is off by a factor of a hundred; who reads the meter in mV is."""

_YES_OR_NO = {"yes": True, "y": True, "no": False, "n": False}


@dataclass
class MeterWatch(ChannelWatch):
    """An observer that counts still voltages and has enough after as many as were asked for.

    Attributes:
        untrued: The channel's live value as if never trued.
        wanted: How many still voltages are wanted.
    """

    think_every_s = COUNT_EVERY_S
    patience_s = PATIENCE_S

    untrued: Gauge
    wanted: int
    _done: int = field(init=False, default=0)
    _found: tuple[Stretch, ...] = field(init=False, default=())

    def __post_init__(self) -> None:
        """Show the channel, and keep its untrued readings."""
        super().__post_init__()
        self.seen = Seen([self.untrued])

    def think(self) -> bool:
        """Count the voltages that stood still for long enough."""
        volts = self.seen.values(self.untrued.name)
        self._found = still_stretches(self.seen.time_s, volts, lsb_V=self.untrued.code_width)
        before, self._done = self._done, sum(each.hold_s >= HOLD_S for each in self._found)
        if self._done > before:
            self.counted(enough=self._done >= self.wanted)
        return False

    def step(self) -> Step:
        """Set a voltage, or hold it."""
        name = self.untrued.name
        newest = self._found[-1] if self._found else None
        stands = newest is not None and newest.end_s >= self.elapsed_s - STANDS_S
        if newest is not None and stands and newest.hold_s < HOLD_S:
            hold, detail = Hold(newest.hold_s, HOLD_S), "let go of nothing, freeze the meter"
            return Step("hold", detail, self._done, self.wanted, control=name, hold=hold)
        detail = "a steady voltage: a spare potentiometer, or the control taped down"
        if self._done:
            detail = "write the meter's reading down; then set the next voltage"
        return Step("set", detail, self._done, self.wanted, control=name)

    def is_over(self) -> bool:
        """Whether as many as are wanted were held."""
        return self._done >= self.wanted

    def missing(self) -> str:
        """The voltage that was not set."""
        return f"{self._done} of {self.wanted} voltages, and no other"


@dataclass
class ChangedWatch(ChannelWatch):
    """An observer that waits until the voltage is set: what stood there before is nobody's.

    Attributes are those of ``MeterWatch``.
    """

    patience_s = PATIENCE_S

    untrued: Gauge
    wanted: int
    _first: list[float] = field(init=False, default_factory=list)
    _moved_V: float | None = field(init=False, default=None)

    def take(self, samples: Samples) -> None:
        """How far the voltage is from the first readings; None while they are taken."""
        self._moved_V = None
        volts = self.untrued.values(samples) if len(samples) else np.empty(0)
        if len(self._first) < FIRST_READINGS:
            self._first += volts.tolist()
        elif len(volts):
            self._moved_V = abs(float(np.median(volts)) - float(np.median(self._first)))

    def step(self) -> Step:
        """Set the first voltage."""
        detail = "a first steady voltage, or Enter if it is set already"
        return Step("set", detail, 0, self.wanted, control=self.untrued.name)

    def is_over(self) -> bool:
        """Whether the voltage has changed, or Enter says that it is set."""
        moved_V = self._moved_V
        return moved_V is not None and (moved_V > CHANGED_V or self.person.entered())

    def missing(self) -> str:
        """Nothing was set."""
        return "no voltage was set"


def ask_meter_V(person: Person, stretches: tuple[Stretch, ...]) -> tuple[float, ...]:
    """What the multimeter showed at each still voltage, V, typed by the person afterwards.

    Raises:
        StoppedError: No number can be had.
    """
    return tuple(
        _ask_V(person, f"Voltage {index} of {len(stretches)}", stretch.mean_V)
        for index, stretch in enumerate(stretches, 1)
    )


def _ask_V(person: Person, which: str, near_V: float) -> float:
    """A reading of the meter, V; a thousand times what the logger read is asked about."""
    question = f"{which} (the logger read {near_V:.3f} V): what did the meter show, in V?"
    read = number_of(METER_MV, "V")
    value = ask_until(person, question, read, "A number in volts, such as 1.234.")
    if METER_V.holds(value) and abs(value) < LEAST_MV_RATIO * max(near_V, 0.1):
        return value
    meant = f"{value:g} V is far from the logger's {near_V:.3f} V. In mV, {value / 1000:g} V?"
    if ask_until(person, f"{meant} (yes/no)", one_of(_YES_OR_NO), "Yes or no."):
        return value / 1000.0
    return ask_until(person, question, number_of(METER_V, "V"), "A number in volts, such as 1.234.")
