"""People at the simulated bench who do not do what the page says."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from calib.guide.protocols import Step
from calib.mule.person import Act, Hands, ObedientPerson, Pace
from calib.mule.stage import Stage

FOREVER: Final = 10_000


@dataclass(frozen=True, slots=True)
class Habits(Pace):
    """One person's ways; none of the bad ones unless it is switched on.

    Attributes:
        lets_go_early: Lets go as soon as it feels the end, whatever is asked.
        wrong_first: Presses of another control before the right one is found.
        half_first: Presses that go half way before they go all the way.
        elbows: Share of looks at the page at which an elbow hits Enter.
        leaves_after: Acts after which this person walks away.
        never_sits: Does not sit down.
        never_turns: Does not turn the machine, and does not touch it either.
        only_bounces: Does not turn the machine, and bounces it where it stands.
        leans_wrong: Leans to the left as the one who stands before the machine sees it.
        rear_for_front: Raises the rear wherever the front is asked for.
    """

    lets_go_early: bool = False
    wrong_first: int = 0
    half_first: int = 0
    elbows: float = 0.0
    leaves_after: int = FOREVER
    never_sits: bool = False
    never_turns: bool = False
    only_bounces: bool = False
    leans_wrong: bool = False
    rear_for_front: bool = False


HASTY: Final = Habits(react_s=(0.05, 0.2), push_s=(0.1, 0.2), lets_go_early=True)
SLOW: Final = Habits(react_s=(0.6, 1.5), push_s=(2.0, 4.0))


class HabitualPerson(ObedientPerson):
    """A person with habits.

    Attributes:
        pushed: How often each control was pressed.
    """

    def __init__(self, bench: Hands, habits: Habits | None = None, **given: Any) -> None:
        """Arguments as for an obedient person."""
        self._habits = Habits() if habits is None else habits
        super().__init__(bench, self._habits, **given)
        self._acts = 0
        self._reached = 1.0
        self._wrong_left, self._half_left = self._habits.wrong_first, self._habits.half_first
        self.pushed: dict[str, int] = {}

    def entered(self) -> bool:
        """Whether Enter was hit: because the page says so, or by an elbow."""
        enters = super().entered()
        elbow = self._habits.elbows > 0.0 and self._rng.random() < self._habits.elbows
        return enters or elbow

    def work(self, step: Step) -> None:
        """Do what is asked for, unless this person has left."""
        if self._acts < self._habits.leaves_after:
            super().work(step)

    def _act(self, step: Step) -> Act | None:
        act = super()._act(step)
        self._acts += act is not None
        return act

    def _must_let_go(self, step: Step, held: str) -> bool:
        early = step.verb == "hold" and self._habits.lets_go_early
        return early or super()._must_let_go(step, held)

    def _press(self, step: Step) -> Act | None:
        name, reach = step.control, 1.0
        further = step.how == "all the way" and self._reached < 1.0
        if self._held is not None and not further:
            return None
        if self._wrong_left > 0 and not step.instead:
            self._wrong_left -= 1
            name = "regen" if name == "throttle" else "throttle"
        if self._half_left > 0 and not further:
            self._half_left -= 1
            reach = 0.6
        self._reached = reach
        self.pushed[name] = self.pushed.get(name, 0) + 1
        return self._pushing(name, step.how, reach)

    def _act_for(self, step: Step) -> Act | None:
        habits, verb = self._habits, step.verb
        if verb in ("turn round", "turn back") and (habits.only_bounces or habits.never_turns):
            return Stage.bounce if habits.only_bounces else None
        if verb == "sit" and habits.never_sits:
            return None
        if habits.leans_wrong:
            verb = {"lean left": "lean right", "lean right": "lean left"}.get(verb, verb)
        if habits.rear_for_front:
            verb = {"front up": "rear up"}.get(verb, verb)
        return super()._act_for(replace(step, verb=verb))
