"""The person at the simulated bench: knows what the page shows, and does that and only that."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import cycle
from typing import Final, Protocol

import numpy as np

from calib.errors import StoppedError
from calib.guide.events import EventStream, LiveEvent
from calib.guide.protocols import Card, Live, Sound, Step
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


@dataclass(frozen=True, slots=True)
class Pace:
    """How quickly a person works.

    Attributes:
        react_s: Shortest and longest time from seeing a verb to doing it.
        push_s: Shortest and longest time of a press.
    """

    react_s: tuple[float, float] = (0.15, 0.8)
    push_s: tuple[float, float] = (0.2, 3.0)


BRISK: Final = Pace(react_s=(0.15, 0.3), push_s=(0.2, 1.2))
"""Whoever shows the whole job in less than a minute."""


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
        pace: How quickly this person works.
        seed: Draws pace and pauses.
        ready: What to do at each prompt to make something ready, by a word in it.
        answers: What to answer to each question, by a word in it.
        tell: Is told each thing that happens, as a line of text.
        looks: Is told whether the person looks at a page, at each look.
    """

    def __init__(
        self,
        bench: Hands,
        pace: Pace | None = None,
        *,
        seed: int = 0,
        ready: Mapping[str, Act] | None = None,
        answers: Mapping[str, Answer] | None = None,
        tell: Callable[[str], None] = lambda text: None,  # noqa: ARG005 (nobody listens)
        looks: Callable[[bool], None] = lambda looking: None,  # noqa: ARG005 (nobody waits)
    ) -> None:
        """Nothing is known yet but how this person works."""
        self._bench = bench
        self._pace = Pace() if pace is None else pace
        self._rng = np.random.default_rng([seed, 53])
        self._ready = dict(ready or {})
        self._answers = dict(answers or {})
        self._tell = tell
        self._looks = looks
        self._events = EventStream(self._hear)
        self._held: str | None = None
        self._done: tuple[object, ...] = ()
        self._done_s = -AGAIN_S
        self._faces = cycle(QUARTER_FACES)
        self._seated = False
        self._way_m: float | None = None
        self._enters = False
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
        """Whether Enter was hit, because the page says so."""
        enters, self._enters = self._enters, False
        return enters

    def show(self, live: Live) -> None:
        """Look at the page."""
        self._events.look(live)
        self._looks(True)
        self.work(live.step)

    def work(self, step: Step) -> None:
        """Do what is asked for, once the hands are free."""
        if any("press Enter" in need for need in step.needs):
            self._enters = True
        act = self._act(step) if self._bench.hands_free else None
        if act is not None:
            pause_s = float(self._rng.uniform(*self._pace.react_s))

            def after_a_moment(stage: Stage) -> None:
                stage.wait(pause_s)
                act(stage)

            self._bench.act(after_a_moment)

    def _act(self, step: Step) -> Act | None:
        """What the page asks for now; None where it is done, or nothing is asked."""
        held = self._held
        if held is not None and self._must_let_go(step, held):
            self._held = None
            return lambda stage: _let_go(stage, held, self._ease_s(step))
        return self._press(step) if step.verb == "press" else self._once(step)

    def _must_let_go(self, step: Step, held: str) -> bool:
        other = step.verb == "press" and step.control not in ("", held)
        return other or step.verb in PUT_BACK or step.instead == held

    def _ease_s(self, step: Step) -> float:
        """How it is let go: with a snap where that is asked for."""
        snaps = "snap" in step.how or self._rng.random() < 0.5
        return 0.0 if snaps else float(self._rng.uniform(0.1, 0.4))

    def _press(self, step: Step) -> Act | None:
        """Press what is asked for all the way, where nothing is held yet."""
        return None if self._held is not None else self._pushing(step.control, step.how)

    def _pushing(self, name: str, how: str, reach: float = 1.0) -> Act:
        """Push a control in a way, as far as ``reach``, and stay there."""
        shortest_s, longest_s = self._pace.push_s
        middle_s = 0.5 * (shortest_s + longest_s)
        low_s, high_s = {
            "slowly": (middle_s, longest_s), "quickly": (shortest_s, min(middle_s, 0.6)),
        }.get(how, (shortest_s, longest_s))  # fmt: skip
        push_s = float(self._rng.uniform(low_s, max(low_s, high_s)))
        self._held = name
        return lambda stage: _push(stage, name, push_s, reach)

    def _set(self, stage: Stage, name: str, number: int) -> None:
        """Set the voltage that comes next, and write down what the meter shows of it."""
        stage.hold(name, HELD[min(number, len(HELD) - 1)], 0.2)
        if note := self._ready.get("voltage set"):
            note(stage)

    def _act_for(self, step: Step) -> Act | None:
        """What is done once for a verb; None for one that asks for nothing."""
        acts: dict[str, Act] = {
            "set": lambda stage: self._set(stage, step.control, step.done),
            "lay down": self._lay,
            "flex": lambda stage: stage.wiggle(0.0 if step.hold is None else step.hold.left_s),
            "shake": lambda stage: stage.shake(duration_s=7.0),
            "turn": lambda stage: stage.turn_wheel(float(step.how.split()[0])),
            "turn round": self._turn,
            "turn back": self._turn,
            "bounce": Stage.bounce,
            "sit": self._sit,
            "upright": _upright,
            "front up": lambda stage: stage.raise_axle(PLANK_MM),
            "rear up": lambda stage: stage.raise_axle(0.0, PLANK_MM),
            "lean left": lambda stage: stage.lean(LEAN_DEG),
            "lean right": lambda stage: stage.lean(-LEAN_DEG),
        }
        return acts.get(step.verb)

    def _turn(self, stage: Stage) -> None:
        if self._seated:
            self._seated = False
            stage.sit(seated=False)
        stage.stand_again(turned=True)

    def _sit(self, stage: Stage) -> None:
        self._seated = True
        stage.sit()

    def _lay(self, stage: Stage) -> None:
        stage.lay(next(self._faces))
        stage.wait(3.2)

    def _once(self, step: Step) -> Act | None:
        """An act is done once for each time that it is asked for; again where that did not do."""
        act = self._act_for(step)
        asked = (step.verb, step.control, step.done, step.place, step.needs)
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
            raise StoppedError.of("simulated-without-answer", question=question)
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
                raise StoppedError.of("simulated-without-rest")
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
