"""The person at the simulated bench: knows what the page shows, and does that and only that."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Mapping
from typing import Final, Protocol

import numpy as np

from calib.errors import StoppedError
from calib.guide.events import EventStream, LiveEvent
from calib.guide.protocols import Card, Live, Sound, Step
from calib.mule.habits import Habits
from calib.mule.hands import QUARTER_FACES
from calib.mule.stage import Stage

Act = Callable[[Stage], None]
Answer = str | Callable[[], str]

WAIT_S: Final = 0.01
PATIENCE_S: Final = 20.0  # by the wall clock: no act at the bench takes as long
AGAIN_S: Final = 15.0  # bench time after which what is still asked for is done once more
PLANK_MM: Final = 90.0
LEAN_DEG: Final = 10.0
HELD: Final = (0.5, 1.0, 0.0)  # where a meter's reader holds the control, share of its travel
TURNS: Final = re.compile(r"\b(\d+) turns?\b")
PUT_BACK: Final = {"let go", "hand off", "hands off"}
"""Verbs at which no control is held any more."""


class Hands(Protocol):
    """A bench whose hands can be told what to do."""

    @property
    def now_s(self) -> float:
        """Bench time."""

    @property
    def hands_free(self) -> bool:
        """Whether everything that was asked for is done."""

    @property
    def in_use(self) -> bool:
        """Whether somebody listens to its logger."""

    def act(self, act: Act) -> None:
        """Have the hands do something as soon as they can."""


class ObedientPerson:
    """Works the simulated bench by what the page says, at its own pace.

    Args:
        bench: The bench.
        habits: How this person works.
        seed: Draws pace and slips.
        ready: What to do at each prompt to make something ready, by a word in it.
        answers: What to answer to each question, by a word in it.
        tell: Is told each thing that happens, as a line of text.
        looks: Is told whether the person looks at a page, at each look.
        plank_mm: Height of the plank.
    """

    def __init__(
        self,
        bench: Hands,
        habits: Habits | None = None,
        *,
        seed: int = 0,
        ready: Mapping[str, Act] | None = None,
        answers: Mapping[str, Answer] | None = None,
        tell: Callable[[str], None] = lambda text: None,  # noqa: ARG005 (nobody listens)
        looks: Callable[[bool], None] = lambda looking: None,  # noqa: ARG005 (nobody waits)
    ) -> None:
        """Nothing is known yet but how this person works."""
        self._bench = bench
        self._habits = Habits() if habits is None else habits
        self._rng = np.random.default_rng([seed, 53])
        self._ready = dict(ready or {})
        self._answers = dict(answers or {})
        self._tell = tell
        self._looks = looks
        self._events = EventStream(self._hear)
        self._held: str | None = None
        self._reached = 1.0
        self._wrong_left, self._half_left = self._habits.wrong_first, self._habits.half_first
        self._done: tuple[object, ...] = ()
        self._done_s = -AGAIN_S
        self._acts = 0
        self._faces = 0
        self._seated = False
        self._way_m: float | None = None
        self._enters = False
        self.pushed: dict[str, int] = {}
        self.heard: list[Sound] = []
        self.events: list[LiveEvent] = []
        self.questions: list[str] = []

    def _hear(self, event: LiveEvent) -> None:
        self.events.append(event)
        self._tell(event.text)

    def confirm_isolation(self, card: Card) -> None:
        """Nothing can turn on the simulated bench; that it was asked is kept."""
        self.questions.append(card.title)

    def sound(self, sound: Sound) -> None:
        """Hear the bell."""
        self.heard.append(sound)
        self._events.hear(sound)

    def entered(self) -> bool:
        """Whether Enter was hit: because the page says so, or by an elbow."""
        enters, self._enters = self._enters, False
        elbow = self._habits.elbows > 0.0 and self._rng.random() < self._habits.elbows
        return enters or elbow

    def show(self, live: Live) -> None:
        """Do what the page asks for, once the hands are free."""
        self._events.look(live)
        self._looks(True)
        if self._acts >= self._habits.leaves_after:
            return
        if any("press Enter" in need for need in live.step.needs):
            self._enters = True
        if not self._bench.hands_free:
            return
        act = self._act(live.step, live)
        if act is not None:
            pause_s = float(self._rng.uniform(*self._habits.react_s))
            self._acts += 1

            def after_a_moment(stage: Stage) -> None:
                stage.wait(pause_s)
                act(stage)

            self._bench.act(after_a_moment)

    def _act(self, step: Step, live: Live) -> Act | None:
        """What the page asks for now; None where it is done, or nothing is asked."""
        held = self._held
        if held is not None and self._must_let_go(step, held):
            self._held = None
            return lambda stage: _let_go(stage, held, self._ease_s(step))
        if step.verb == "press":
            return self._press(step)
        if step.verb == "set":
            return self._once(step, self._set(step))
        if step.verb == "lay down":
            return self._once(step, self._lay, live.step.done)
        return self._once(step, self._machine(step))

    def _must_let_go(self, step: Step, held: str) -> bool:
        if step.verb in PUT_BACK or step.instead == held:
            return True
        if step.verb == "hold" and self._habits.lets_go_early:
            return True
        return bool(step.control) and step.verb == "press" and held != step.control

    def _ease_s(self, step: Step) -> float:
        """How it is let go: with a snap where that is asked for."""
        snaps = "snap" in step.how or self._rng.random() < 0.5
        return 0.0 if snaps else float(self._rng.uniform(0.1, 0.4))

    def _press(self, step: Step) -> Act | None:
        name = step.control
        further = step.how == "all the way" and self._reached < 1.0
        if self._held is not None and not further:
            return None
        shortest_s, longest_s = self._habits.push_s
        middle_s = 0.5 * (shortest_s + longest_s)
        low_s, high_s = {
            "slowly": (middle_s, longest_s), "quickly": (shortest_s, min(middle_s, 0.6)),
        }.get(step.how, (shortest_s, longest_s))  # fmt: skip
        push_s = float(self._rng.uniform(low_s, max(low_s, high_s)))
        if self._wrong_left > 0 and not step.instead:
            self._wrong_left -= 1
            name = "regen" if name == "throttle" else "throttle"
        self._reached = 1.0
        if self._half_left > 0 and not further:
            self._half_left -= 1
            self._reached = 0.6
        self._held, reach = name, self._reached
        self.pushed[name] = self.pushed.get(name, 0) + 1
        return lambda stage: _push(stage, name, push_s, reach)

    def _set(self, step: Step) -> Act:
        """Set the voltage that comes next, and write down what the meter shows of it."""
        name, position = step.control, HELD[min(step.done, len(HELD) - 1)]

        def hold(stage: Stage) -> None:
            stage.hold(name, position, 0.2)
            for note in self._notes:
                note(stage)

        return hold

    @property
    def _notes(self) -> list[Act]:
        """What is to be done when a voltage is set."""
        return [act for word, act in self._ready.items() if word == "voltage set"]

    def _machine(self, step: Step) -> Act | None:
        """What is done with the whole machine."""
        habits = self._habits
        if step.verb == "flex":
            left_s = 0.0 if step.hold is None else step.hold.left_s
            return lambda stage: stage.wiggle(left_s)
        if step.verb == "shake":
            return lambda stage: stage.shake(duration_s=7.0)
        if step.verb == "turn":
            turns = float(step.how.split()[0])
            return lambda stage: stage.turn_wheel(turns)
        if step.verb in ("turn round", "turn back"):
            if habits.only_bounces:
                return Stage.bounce
            return None if habits.never_turns else self._turn
        if step.verb == "bounce":
            return Stage.bounce
        if step.verb == "sit":
            return None if habits.never_sits else self._sit
        return self._pose(step.verb)

    def _pose(self, verb: str) -> Act | None:
        side = -1.0 if self._habits.leans_wrong else 1.0
        front = (0.0, PLANK_MM) if self._habits.rear_for_front else (PLANK_MM, 0.0)
        poses: dict[str, Act] = {
            "upright": _upright,
            "front up": lambda stage: stage.raise_axle(*front),
            "rear up": lambda stage: stage.raise_axle(0.0, PLANK_MM),
            "lean left": lambda stage: stage.lean(side * LEAN_DEG),
            "lean right": lambda stage: stage.lean(-side * LEAN_DEG),
        }
        return poses.get(verb)

    def _turn(self, stage: Stage) -> None:
        if self._seated:
            self._seated = False
            stage.sit(seated=False)
        stage.stand_again(turned=True)

    def _sit(self, stage: Stage) -> None:
        self._seated = True
        stage.sit()

    def _lay(self, stage: Stage) -> None:
        stage.lay(QUARTER_FACES[self._faces % len(QUARTER_FACES)])
        self._faces += 1
        stage.wait(3.2)

    def _once(self, step: Step, act: Act | None, *more: object) -> Act | None:
        """An act is done once for each time that it is asked for; again where that did not do."""
        asked = (step.verb, step.control, step.done, step.place, step.needs, *more)
        now_s = self._bench.now_s
        if asked == self._done and now_s - self._done_s < AGAIN_S:
            return None
        if act is not None or asked[:3] != self._done[:3]:
            self._done, self._done_s = asked, now_s
        return act

    def leave_page(self) -> None:
        """Nothing is left standing: each thing is told as it happens."""
        self._looks(False)

    def wait_until_ready(self, prompt: str) -> None:
        """Do what the prompt asks for and come back when it is done."""
        self._looks(False)
        self._tell(prompt)
        self.questions.append(prompt)
        for word, act in self._ready.items():
            if word in prompt.casefold():
                self._bench.act(act)
        turns = TURNS.search(prompt)
        if turns is not None and "along the tape" in prompt:
            seated = "nobody on it" not in prompt
            self._bench.act(lambda stage: self._push_along(stage, int(turns[1]), seated=seated))
        self._until(lambda: self._bench.hands_free)

    def _push_along(self, stage: Stage, turns: int, *, seated: bool) -> None:
        """Push it, and keep in mind what the tape says."""
        if seated:
            stage.sit()
        self._way_m = stage.push_along(turns)
        if seated:
            stage.sit(seated=False)

    def answer(self, question: str, *, default: str | None = None) -> str:
        """Answer from what the person was told beforehand or read off the tape; else the default.

        Raises:
            StoppedError: There is neither.
        """
        self.questions.append(question)
        for word, told in self._answers.items():
            if word in question.casefold():
                return told if isinstance(told, str) else told()
        if self._way_m is not None and "way along the tape" in question.casefold():
            return f"{self._way_m:.3f}"
        if default is None:
            raise StoppedError(
                f"The simulated person has no answer to {question!r}.", "Run it with a real one."
            )
        return default

    def step_back(self) -> None:
        """Wait until nothing is left to do and the port is closed.

        Raises:
            StoppedError: The bench does not come to rest.
        """
        self._looks(False)
        self._until(lambda: self._bench.hands_free and not self._bench.in_use)

    def _until(self, done: Callable[[], bool]) -> None:
        deadline_s = time.monotonic() + PATIENCE_S
        while not done():
            if time.monotonic() > deadline_s:
                raise StoppedError(
                    "The simulated bench did not come to rest.", "Run it again; tell us the seed."
                )
            time.sleep(WAIT_S)


def _push(stage: Stage, name: str, push_s: float, reach: float) -> None:
    if name in stage.controls:
        stage.push(name, push_s=push_s, reach=reach)
    else:
        stage.work_brake(closed=True)


def _let_go(stage: Stage, name: str, ease_s: float) -> None:
    if name in stage.controls:
        stage.let_go(name, ease_s=ease_s)
    else:
        stage.work_brake(closed=False)


def _upright(stage: Stage) -> None:
    """Put the machine back from whatever pose it is in."""
    if abs(stage.blocks_mm.last) > 1.0:
        stage.raise_axle(0.0)
    elif abs(stage.lean_left_deg.last) > 1.0:
        stage.lean(0.0)
