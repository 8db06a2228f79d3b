"""The observer of a live check: asks for one act after the other and ends after the last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from calib.checks.bench.switches import is_on_at, threshold_of
from calib.errors import BrokenOffError
from calib.guide.check import acts
from calib.guide.events import KEPT
from calib.guide.protocols import Reading, Sound, Step
from calib.guide.recording import gauges_for
from calib.guide.seen import Gauge, Seen
from calib.guide.watch import COUNT_EVERY_S, Watch
from calib.store.rig import Rig

PRESSES = 3
"""Presses of each control; own choice: a slow one for the shape, two quick for the return."""

THROWS = 2
"""Throws of each switch; own choice, so that chatter has two chances to be seen."""

SHOWS_NOTHING_S = 8.0
"""Time after which Enter says that a control is being worked and shows nothing; own choice, twice
what a slow hand takes for its first press."""

_STILL_THERE = "nothing came from the one before: this shows that somebody is there"
_ENTER = "nothing comes from {}: keep on, or press Enter, and the check goes on"


@dataclass
class CheckWatch(Watch):
    """An observer that has enough when every act is over.

    Attributes:
        rig: What the columns are.
        columns: Columns that the line carries.
        quick: Rest and one press each.
        connectors: How many there are to flex.
    """

    think_every_s = COUNT_EVERY_S

    rig: Rig
    columns: Sequence[str]
    quick: bool
    connectors: int = acts.CONNECTORS
    seen: Seen = field(init=False)
    _acts: list[acts.Act] = field(init=False)
    _count_of_all: int = field(init=False)
    _answered: list[str] = field(init=False, default_factory=list)
    _begun_s: float | None = field(init=False, default=None)
    _proof: acts.Act | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        """Show what is worked, and know what to ask for."""
        names = [*self.rig.with_role("control"), *self.rig.with_role("switch")]
        self.gauges = gauges_for(self.rig, self.columns, names)
        self.seen = Seen(self.gauges)
        self._acts = self._acts_in_order(list(self.seen.gauges))
        self._count_of_all = len(self._acts)

    def _acts_in_order(self, names: Sequence[str]) -> list[acts.Act]:
        """What a check asks for, of the channels that the line carries."""
        rig = self.rig
        controls = [name for name in rig.with_role("control") if name in names]
        worked = [name for name in rig.worked_controls() if name in names]
        rest = acts.Rest("hands off", "touch nothing for three seconds", acts.REST_S, controls)
        asked: list[acts.Act] = [rest]
        for name in worked:
            others = [other for other in worked if other != name]
            asked.append(acts.WorkControl(name, others, 1 if self.quick else PRESSES))
        if not self.quick:
            for name in rig.with_role("switch"):
                if name in names:
                    asked.append(acts.WorkSwitch(name, threshold_of(rig.channels[name]), THROWS))
            asked.append(acts.Flex(controls, self.connectors))
        asked.append(acts.Rest("let go", "hands off, it is nearly done", acts.END_S, controls))
        return asked

    def think(self) -> bool:
        """Look at the act under way; when it is over, begin the next. Whether all are over."""
        act = self._acts[0]
        if self._begun_s is None:
            act.begin(self.seen)
            self._begun_s = self.elapsed_s
        heard = act.look(self.seen)
        if heard is not None:
            self.person.sound(heard)
        if self.person.entered() and self._shows_nothing(act):
            self._end(act, silent=False)  # somebody is there, and says so
        elif act.is_over():
            self._end(act, silent=_is_silent(act))
        return not self._acts

    def step(self) -> Step:
        """What the act under way asks for."""
        act = self._acts[0]
        step = act.step()
        needs = (_STILL_THERE,) if act is self._proof else step.needs
        if self._shows_nothing(act):
            needs = (*needs, _ENTER.format(" and ".join(act.about)))
        number = self._count_of_all - len(self._acts) + 1
        return replace(step, place=(number, self._count_of_all), needs=needs)

    def readings(self) -> list[Reading]:
        """What the act is about."""
        return [self._said(self.seen.gauges[name]) for name in self._acts[0].about]

    def _said(self, gauge: Gauge) -> Reading:
        """A switch's reading in words; any other as it is."""
        reading, channel = gauge.now(self.now_s), self.rig.channels[gauge.name]
        if channel.role != "switch" or reading.value is None:
            return reading
        return replace(reading, words="on" if is_on_at(channel, reading.value) else "off")

    def _shows_nothing(self, act: acts.Act) -> bool:
        """Whether what is asked for has shown nothing for so long that it may be dead."""
        long = self._begun_s is not None and self.seen.now_s - self._begun_s >= SHOWS_NOTHING_S
        return long and _is_silent(act)

    def _end(self, act: acts.Act, *, silent: bool) -> None:
        """Leave an act; a control that showed nothing is followed by one that did."""
        self._acts.pop(0)
        self._begun_s = None
        if isinstance(act, acts.Work) and act.was_answered():
            self._answered += act.about
        if silent and not any(isinstance(each, acts.Work) for each in self._acts):
            self._ask_whether_still_there(act)
        if not self._acts:
            self.person.sound(Sound.DONE)

    def _ask_whether_still_there(self, silent: acts.Act) -> None:
        """Have a control that answered worked once more: the one before showed nothing.

        A dead wire and a person who has left look alike on the line; only the second makes no
        finding.

        Raises:
            BrokenOffError: None ever answered, or the one that was asked for did not again.
        """
        if not self._answered or silent is self._proof:
            raise BrokenOffError.of("nothing-worked", kept=KEPT)
        name = self._answered[0]
        channel = self.rig.channels[name]
        if channel.role == "switch":
            self._proof = acts.WorkSwitch(name, threshold_of(channel), 1)
        else:
            self._proof = acts.WorkControl(name, (), 1)
        self._acts.insert(0, self._proof)
        self._count_of_all += 1


def _is_silent(act: acts.Act) -> bool:
    """Whether somebody has to be there for an act, and nothing came of it."""
    return isinstance(act, acts.Work) and not act.was_answered()
