"""Truing with a multimeter: the person sets voltages and freezes the meter, calib counts."""

from __future__ import annotations

from collections.abc import Callable

from calib.controls.meter import LEAST_HOLD_S, Stretch, still_stretches
from calib.errors import StoppedError
from calib.guide.growing import Growing
from calib.guide.protocols import Live, Person, Sound, Step
from calib.guide.recording import SHOW_EVERY_S, Gauge
from calib.store.conversion import step, to_base
from calib.store.plausible import METER_V, number_at_prompt
from calib.store.rig import Channel
from calib.store.samples import Samples

COUNT_EVERY_S = 0.25
"""Own choice, because a person waits no longer than that to hear that a voltage was counted."""

HOLD_S = 2.0 * LEAST_HOLD_S
"""Own choice: twice the shortest stretch, so that what was counted live is found again."""

PATIENCE_S = 180.0
"""Own choice, because a voltage that takes longer to set is not going to be."""

TRIES = 3
"""Own choice: how often an answer that is no number is asked again."""


class MeterWatch:
    """An observer that counts still voltages and has enough after as many as were asked for."""

    def __init__(
        self,
        person: Person,
        gauge: Gauge,
        channel: Channel,
        *,
        wanted: int,
        clock: Callable[[], float],
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
        self._time_s = Growing()
        self._volts = Growing()
        self._rejected = 0
        self._counted_s = self._shown_s = -PATIENCE_S
        self._news_s = 0.0
        self._done: tuple[Stretch, ...] = ()

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        now_s = self._clock()
        self._rejected += len(samples.rejected)
        reading = self._gauge.look(samples, now_s)
        if len(samples):
            self._time_s.extend(samples.time_s)
            self._volts.extend(to_base(self._channel, samples.values[:, self._gauge.index]))
        device_s = float(self._time_s.array[-1]) if len(self._time_s) else 0.0
        if len(samples) and device_s - self._counted_s >= COUNT_EVERY_S:
            self._counted_s = device_s
            self._count(device_s)
        if now_s - self._shown_s >= SHOW_EVERY_S:
            self._shown_s = now_s
            self._person.show(
                Live(self._step(), (reading,), len(self._time_s), self._rejected, device_s)
            )
        return len(self._done) >= self._wanted or device_s - self._news_s >= PATIENCE_S

    def _count(self, device_s: float) -> None:
        found = still_stretches(
            self._time_s.array, self._volts.array, lsb_V=step(self._channel) or 0.0
        )
        done = tuple(stretch for stretch in found if stretch.hold_s >= HOLD_S)
        if len(done) > len(self._done):
            self._news_s = device_s
            enough = len(done) >= self._wanted
            self._person.sound(Sound.DONE if enough else Sound.COUNTED)
            self._done = done

    def _step(self) -> Step:
        count = len(self._done)
        verb = "hold" if count == 0 else "next"
        detail = "set a steady voltage, freeze the meter, write its reading down"
        return Step(verb, detail, count, self._wanted)


def ask_meter_V(person: Person, stretches: tuple[Stretch, ...]) -> tuple[float, ...]:
    """What the multimeter showed at each still voltage, V, typed by the person afterwards.

    Raises:
        StoppedError: No number can be had.
    """
    return tuple(
        _ask_number(
            person,
            f"Voltage {index} of {len(stretches)} (the logger read {stretch.mean_V:.3f} V): "
            "what did the meter show, in V?",
        )
        for index, stretch in enumerate(stretches, 1)
    )


def _ask_number(person: Person, question: str) -> float:
    for _ in range(TRIES):
        try:
            return number_at_prompt(person.answer(question), METER_V)
        except ValueError:
            question = "A number in volts, such as 1.234:"
    raise StoppedError(
        "No number was given for the meter's reading.", "Type the reading in volts, such as 1.234."
    )
