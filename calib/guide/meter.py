"""Truing with a multimeter: the person sets voltages and freezes the meter, calib counts."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from calib.controls.meter import LEAST_HOLD_S, SAME_LEVEL_V, Stretch, still_stretches
from calib.guide.asking import ask_until, number_of
from calib.guide.growing import Growing
from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.recording import Gauge
from calib.guide.telling import Telling
from calib.store.conversion import step, to_base
from calib.store.plausible import METER_MV, METER_V
from calib.store.rig import Channel
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

Clock = Callable[[], float]

LEAST_MV_RATIO = 100.0
"""Own choice: no logger is off by a factor of a hundred; who reads the meter in mV is."""


class MeterWatch:
    """An observer that counts still voltages and has enough after as many as were asked for."""

    def __init__(
        self,
        person: Person,
        gauge: Gauge,
        channel: Channel,
        *,
        wanted: int,
        clock: Clock,
    ) -> None:
        """Prepare to look on.

        Args:
            person: Is told what to do and hears what was counted.
            gauge: The channel's live value.
            channel: The channel, as if never trued.
            wanted: How many still voltages are wanted.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._gauge = gauge
        self._channel = channel
        self._wanted = wanted
        self._clock = clock
        self._telling = Telling(person, clock, patience_s=PATIENCE_S)
        self._time_s = Growing()
        self._volts = Growing()
        self._counted_s = -PATIENCE_S
        self._found: tuple[Stretch, ...] = ()

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured.

        Raises:
            BrokenOffError: No new voltage was set for too long.
        """
        self._telling.take(samples)
        reading = self._gauge.look(samples, self._clock())
        if len(samples):
            self._time_s.extend(samples.time_s)
            self._volts.extend(to_base(self._channel, samples.values[:, self._gauge.index]))
        device_s = float(self._time_s.array[-1]) if len(self._time_s) else 0.0
        if len(samples) and device_s - self._counted_s >= COUNT_EVERY_S:
            self._counted_s = device_s
            self._count()
        self._telling.show(self._step(device_s), (reading,))
        if self._done >= self._wanted:
            return True
        self._telling.require_somebody(f"{self._done} of {self._wanted} voltages, and no other")
        return False

    @property
    def _done(self) -> int:
        return sum(stretch.hold_s >= HOLD_S for stretch in self._found)

    def _count(self) -> None:
        before = self._done
        self._found = still_stretches(
            self._time_s.array, self._volts.array, lsb_V=step(self._channel) or 0.0
        )
        if self._done > before:
            self._telling.news()
            enough = self._done >= self._wanted
            self._person.sound(Sound.DONE if enough else Sound.COUNTED)

    def _step(self, device_s: float) -> Step:
        newest = self._found[-1] if self._found else None
        stands = newest is not None and newest.end_s >= device_s - STANDS_S
        if newest is not None and stands and newest.hold_s < HOLD_S:
            return Step(
                "hold", "let go of nothing, freeze the meter", self._done, self._wanted,
                control=self._gauge.name, hold=Hold(newest.hold_s, HOLD_S),
            )  # fmt: skip
        detail = "a steady voltage: a spare potentiometer, or the control taped down"
        if self._done:
            detail = "write the meter's reading down; then set the next voltage"
        return Step("set", detail, self._done, self._wanted, control=self._gauge.name)


class ChangedWatch:
    """An observer that waits until the voltage is set: what stood there before is nobody's."""

    def __init__(
        self, person: Person, gauge: Gauge, channel: Channel, *, wanted: int, clock: Clock
    ) -> None:
        """Prepare to look on; arguments as for ``MeterWatch``."""
        self._person = person
        self._gauge = gauge
        self._channel = channel
        self._wanted = wanted
        self._clock = clock
        self._telling = Telling(person, clock, patience_s=PATIENCE_S)
        self._first: list[float] = []

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether the voltage has changed, or Enter says that it is set.

        Raises:
            BrokenOffError: Nothing was set for too long.
        """
        self._telling.take(samples)
        reading = self._gauge.look(samples, self._clock())
        detail = "a first steady voltage, or Enter if it is set already"
        step = Step("set", detail, 0, self._wanted, control=self._gauge.name)
        self._telling.show(step, (reading,))
        self._telling.require_somebody("no voltage was set")
        if not len(samples):
            return False
        volts = to_base(self._channel, samples.values[:, self._gauge.index])
        if len(self._first) < FIRST_READINGS:
            self._first += volts.tolist()
            return False
        moved_V = abs(float(np.median(volts)) - float(np.median(self._first)))
        return moved_V > CHANGED_V or self._person.entered()


def ask_meter_V(person: Person, stretches: tuple[Stretch, ...]) -> tuple[float, ...]:
    """What the multimeter showed at each still voltage, V, typed by the person afterwards.

    Raises:
        StoppedError: No number can be had.
    """
    return tuple(
        _ask_V(
            person,
            f"Voltage {index} of {len(stretches)} (the logger read {stretch.mean_V:.3f} V): "
            "what did the meter show, in V?",
            stretch.mean_V,
        )
        for index, stretch in enumerate(stretches, 1)
    )


def _ask_V(person: Person, question: str, near_V: float) -> float:
    """A reading of the meter, V; a thousand times what the logger read is asked about."""
    read = number_of(METER_MV, "V")
    value = ask_until(person, question, read, "A number in volts, such as 1.234.")
    if METER_V.holds(value) and abs(value) < LEAST_MV_RATIO * max(near_V, 0.1):
        return value
    meant = f"{value:g} V is far from the logger's {near_V:.3f} V. In mV, {value / 1000:g} V?"
    if ask_until(person, f"{meant} (yes/no)", _yes_or_no, "Yes or no."):
        return value / 1000.0
    return ask_until(person, question, number_of(METER_V, "V"), "A number in volts, such as 1.234.")


def _yes_or_no(answer: str) -> bool | None:
    return {"yes": True, "y": True, "no": False, "n": False}.get(answer.strip().casefold())
