"""The observer of a live check: asks for one act after the other and ends after the last."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from calib.checks.bench.switches import threshold_of
from calib.guide.check.acts import END_S, REST_S, Act, Flex, Rest, WorkControl, WorkSwitch
from calib.guide.check.seen import Seen
from calib.guide.protocols import Live, Person, Sound
from calib.guide.recording import SHOW_EVERY_S, gauges_for
from calib.store.rig import Rig
from calib.store.samples import Samples

PRESSES = 3
"""Presses of each control; own choice: a slow one for the shape, two quick for the return."""

THROWS = 2
"""Throws of each switch; own choice, so that chatter has two chances to be seen."""

LOOK_EVERY_S = 0.2
"""Device time between two looks; own choice, because nobody waits longer to hear a count."""


def acts_for(rig: Rig, names: Sequence[str], *, quick: bool) -> list[Act]:
    """What a check asks for, in order.

    Args:
        rig: The rig file.
        names: Channels that the line carries.
        quick: Rest and one press each, nothing else.
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
        acts.append(Flex(controls))
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
    ) -> None:
        """Prepare to look on.

        Args:
            person: Is told what to do and hears what was counted.
            rig: What the columns are.
            columns: Columns that the line carries.
            quick: Rest and one press each.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._clock = clock
        self._seen = Seen(rig, columns, [*rig.with_role("control"), *rig.with_role("switch")])
        self._gauges = {gauge.name: gauge for gauge in gauges_for(rig, columns, self._seen.names)}
        self._acts = acts_for(rig, self._seen.names, quick=quick)
        self._begun = False
        self._looked_s = self._shown_s = -math.inf

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        self._seen.take(samples)
        now_s = self._clock()
        readings = {name: gauge.look(samples, now_s) for name, gauge in self._gauges.items()}
        if len(samples) and self._seen.now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = self._seen.now_s
            self._go_on()
        if self._acts and now_s - self._shown_s >= SHOW_EVERY_S:
            self._shown_s = now_s
            act = self._acts[0]
            self._person.show(
                Live(
                    step=act.step(),
                    readings=tuple(readings[name] for name in act.about if name in readings),
                    samples=len(self._seen),
                    rejected_lines=self._seen.rejected_lines,
                    elapsed_s=self._seen.now_s,
                )
            )
        return not self._acts

    def _go_on(self) -> None:
        """Look at the act under way; when it is over, begin the next."""
        act = self._acts[0]
        if not self._begun:
            act.begin(self._seen)
            self._begun = True
        heard = act.look(self._seen)
        if heard is not None:
            self._person.sound(heard)
        if act.is_over(self._seen):
            self._acts.pop(0)
            self._begun = False
            if not self._acts:
                self._person.sound(Sound.DONE)
