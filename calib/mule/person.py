"""The simulated person: does at the bench what the guide asks for, and answers its questions."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from calib.errors import StoppedError
from calib.guide.protocols import Card, Live, Sound
from calib.mule.device import Device
from calib.mule.stage import Stage

Reaction = Callable[[Stage, Live], None]
Answer = str | Callable[[], str]

WAIT_S: Final = 0.01
PATIENCE_S: Final = 20.0  # by the wall clock: no act at the bench takes as long


@dataclass
class SimulatedPerson:
    """Works the simulated bench unattended.

    Attributes:
        device: The bench's device, whose hands these are.
        reactions: What to do at each verb that the guide shows; nothing at any other.
        ready: What to do at each prompt to make something ready, by a word in it.
        answers: What to answer to each question, by a word in it.
        tell: Is told each new thing that the person was asked to do.
        heard: The sounds so far.
    """

    device: Device
    reactions: Mapping[str, Reaction] = field(default_factory=dict)
    ready: Mapping[str, Callable[[Stage], None]] = field(default_factory=dict)
    answers: Mapping[str, Answer] = field(default_factory=dict)
    tell: Callable[[str], None] = lambda text: None  # noqa: ARG005 (nobody listens)
    heard: list[Sound] = field(default_factory=list)
    _asked: str = ""

    def confirm_isolation(self, card: Card) -> None:
        """Nothing can turn on the simulated bench."""

    def show(self, live: Live) -> None:
        """Do what the step asks for, once the hands are free."""
        step = live.step
        asked = step.verb if step.wanted is None else f"{step.verb} {step.done}/{step.wanted}"
        if asked != self._asked:
            self._asked = asked
            self.tell(asked)
        reaction = self.reactions.get(step.verb)
        if reaction is not None and self.device.hands_free:
            self.device.act(lambda stage: reaction(stage, live))

    def sound(self, sound: Sound) -> None:
        """Hear the bell."""
        self.heard.append(sound)

    def wait_until_ready(self, prompt: str) -> None:
        """Do what the prompt asks for and come back when it is done."""
        self.tell(prompt)
        for word, act in self.ready.items():
            if word in prompt.casefold():
                self.device.act(act)
        self._until(lambda: self.device.hands_free)

    def answer(self, question: str, *, default: str | None = None) -> str:
        """Answer from what the person was told beforehand, else take the default.

        Raises:
            StoppedError: There is neither.
        """
        for word, told in self.answers.items():
            if word in question.casefold():
                return told if isinstance(told, str) else told()
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
        self._until(lambda: self.device.hands_free and not self.device.in_use)

    def _until(self, done: Callable[[], bool]) -> None:
        deadline_s = time.monotonic() + PATIENCE_S
        while not done():
            if time.monotonic() > deadline_s:
                raise StoppedError(
                    "The simulated bench did not come to rest.", "Run it again; tell us the seed."
                )
            time.sleep(WAIT_S)


def press_shown(stage: Stage, live: Live) -> None:
    """Work the control that is shown, snap and slow by turns, and let go."""
    name = live.readings[0].channel
    snap = live.step.done % 2 == 1
    stage.wait(0.6)
    stage.press(name, push_s=0.15 if snap else 0.9, hold_s=1.4, ease_s=0.0 if snap else 0.25)
    stage.wait(1.2)
