"""The observer of a live check: asks for one act after the other and ends after the last."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from calib.checks.bench.switches import is_on_at, threshold_of
from calib.errors import BrokenOffError
from calib.guide.check.acts import (
    CONNECTORS,
    END_S,
    REST_S,
    Act,
    Flex,
    Rest,
    StillThere,
    WorkControl,
    WorkSwitch,
)
from calib.guide.check.seen import Seen
from calib.guide.protocols import Person, Reading, Sound
from calib.guide.recording import gauges_for
from calib.guide.telling import Telling
from calib.store.rig import Rig
from calib.store.samples import Samples

PRESSES = 3
"""Presses of each control; own choice: a slow one for the shape, two quick for the return."""

THROWS = 2
"""Throws of each switch; own choice, so that chatter has two chances to be seen."""

LOOK_EVERY_S = 0.2
"""Device time between two looks; own choice, because nobody waits longer to hear a count."""

SHOWS_NOTHING_S = 8.0
"""Time after which Enter says that a control is being worked and shows nothing; own choice, twice
what a slow hand takes for its first press."""

_ENTER = "nothing comes from {}: keep on, or press Enter, and the check goes on"


def acts_for(rig: Rig, names: Sequence[str], *, quick: bool, connectors: int) -> list[Act]:
    """What a check asks for, in order.

    Args:
        rig: The rig file.
        names: Channels that the line carries.
        quick: Rest and one press each, nothing else.
        connectors: How many there are to flex.
    """
    controls = [name for name in rig.with_role("control") if name in names]
    worked = [name for name in rig.worked_controls() if name in names]
    acts: list[Act] = [Rest("hands off", "touch nothing for three seconds", REST_S, controls)]
    for name in worked:
        others = [other for other in worked if other != name]
        acts.append(WorkControl(name, others, 1 if quick else PRESSES))
    if not quick:
        switches = [name for name in rig.with_role("switch") if name in names]
        acts.extend(WorkSwitch(name, threshold_of(rig.channels[name]), THROWS) for name in switches)
        acts.append(Flex(controls, connectors))
    acts.append(Rest("let go", "hands off, it is nearly done", END_S, controls))
    return acts


class CheckWatch:
    """An observer that has enough when every act is over."""

    def __init__(
        self,
        person: Person,
        rig: Rig,
        columns: Sequence[str],
        *,
        quick: bool,
        clock: Callable[[], float],
        connectors: int = CONNECTORS,
    ) -> None:
        """Prepare to look on.

        Args:
            person: Is told what to do and hears what was counted.
            rig: What the columns are.
            columns: Columns that the line carries.
            quick: Rest and one press each.
            clock: The host's clock in seconds.
            connectors: How many there are to flex.
        """
        self._person = person
        self._clock = clock
        self._rig = rig
        self._seen = Seen(rig, columns, [*rig.with_role("control"), *rig.with_role("switch")])
        self._gauges = {gauge.name: gauge for gauge in gauges_for(rig, columns, self._seen.names)}
        self._acts = acts_for(rig, self._seen.names, quick=quick, connectors=connectors)
        self._count = len(self._acts)
        self._answered: list[str] = []
        self._last_silent = False
        self._begun = False
        self._begun_s = 0.0
        self._looked_s = -math.inf
        self._telling = Telling(person, clock)

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured.

        Raises:
            BrokenOffError: Nobody is there any more.
        """
        self._seen.take(samples)
        self._telling.take(samples)
        now_s = self._clock()
        readings = {
            name: self._said(gauge.look(samples, now_s)) for name, gauge in self._gauges.items()
        }
        if len(samples) and self._seen.now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = self._seen.now_s
            self._go_on()
        if self._acts:
            act = self._acts[0]
            shown = tuple(readings[name] for name in act.about if name in readings)
            place = (self._count - len(self._acts) + 1, self._count)
            step = replace(act.step(), place=place)
            if self._shows_nothing(act):
                step = replace(step, needs=(*step.needs, _ENTER.format(" and ".join(act.about))))
            self._telling.show(step, shown)
        return not self._acts

    def _said(self, reading: Reading) -> Reading:
        """A switch's reading in words; any other as it is."""
        channel = self._rig.channels[reading.channel]
        if channel.role != "switch" or reading.value is None:
            return reading
        return replace(reading, words="on" if is_on_at(channel, reading.value) else "off")

    def _go_on(self) -> None:
        """Look at the act under way; when it is over, begin the next."""
        act = self._acts[0]
        if not self._begun:
            act.begin(self._seen)
            self._begun = True
            self._begun_s = self._seen.now_s
        heard = act.look(self._seen)
        if heard is not None:
            self._person.sound(heard)
        if self._person.entered() and self._shows_nothing(act):
            self._last_silent = False  # somebody is there, and says so
            self._end(act)
        elif act.is_over(self._seen):
            self._last_silent = act.is_work and not act.was_answered()
            self._end(act)

    def _shows_nothing(self, act: Act) -> bool:
        """Whether what is asked for has shown nothing for so long that it may be dead."""
        long = self._begun and self._seen.now_s - self._begun_s >= SHOWS_NOTHING_S
        return long and act.is_work and not act.was_answered()

    def _end(self, act: Act) -> None:
        """Leave an act; a control that showed nothing is followed by one that did."""
        self._acts.pop(0)
        self._begun = False
        if act.is_work and act.was_answered():
            self._answered += act.about
        if isinstance(act, StillThere) and self._last_silent:
            raise self._broken_off()
        if self._last_silent and not any(each.is_work for each in self._acts):
            self._ask_whether_still_there()
        if not self._acts:
            self._person.sound(Sound.DONE)

    def _ask_whether_still_there(self) -> None:
        if not self._answered:
            raise self._broken_off()
        name = self._answered[0]
        channel = self._rig.channels[name]
        threshold = threshold_of(channel) if channel.role == "switch" else None
        self._acts.insert(0, StillThere(name, threshold))
        self._count += 1
        self._last_silent = False

    def _broken_off(self) -> BrokenOffError:
        return BrokenOffError(
            "Broken off: nothing that was asked for was worked, and nobody said so with Enter.",
            "What was captured is kept and nothing was judged; records of before stand. Run it "
            "again; press Enter at a control that you work and that shows nothing.",
        )
