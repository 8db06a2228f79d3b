"""The two small protocols through which a procedure speaks to the person and to the line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum
from typing import Protocol

from calib.store.samples import Samples


class Sound(Enum):
    """What is heard from two metres: the value is how many times the bell rings."""

    COUNTED = 1
    DONE = 2
    STOP = 3


@dataclass(frozen=True, slots=True)
class Card:
    """Cautions of one flow, and the word to type once they are met.

    Attributes:
        title: What the flow does to the machine, short.
        lines: The cautions, one sentence each.
        word: What the person types to say that the drive is isolated.
        kind: Which isolation that is; another kind is asked for again.
    """

    title: str
    lines: tuple[str, ...]
    word: str
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Hold:
    """How far something is that takes its time: a hold, a rest, a settling.

    Attributes:
        done_s: How long it has lasted, s.
        wanted_s: How long it is to last, s.
    """

    done_s: float
    wanted_s: float

    @property
    def left_s(self) -> float:
        """What is left of it, s."""
        return max(0.0, self.wanted_s - self.done_s)


@dataclass(frozen=True, slots=True)
class Step:
    """What to do now.

    Attributes:
        verb: One verb, as loud as the screen allows: "press", "hold", "let go".
        detail: What it is about, short.
        done: How many are counted.
        wanted: How many are wanted; None where there is no count.
        needs: What is still needed before the flow is over, short lines.
        control: What the verb is about, as loud as the verb; empty where that is the machine.
        how: In which way, nearly as loud: "slowly", "let it snap".
        hold: How far a hold or a rest is.
        place: Number of this step and count of all, where a flow has several.
        instead: What was worked in place of what was asked for; louder than the verb.
        left_s: Time until the flow ends as broken off, s; None while there is plenty.
    """

    verb: str
    detail: str = ""
    done: int = 0
    wanted: int | None = None
    needs: tuple[str, ...] = ()
    control: str = field(default="", kw_only=True)
    how: str = field(default="", kw_only=True)
    hold: Hold | None = field(default=None, kw_only=True)
    place: tuple[int, int] | None = field(default=None, kw_only=True)
    instead: str = field(default="", kw_only=True)
    left_s: float | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class Reading:
    """One channel's live value.

    Attributes:
        channel: Its name in the rig file.
        value: The newest value in ``unit``; None before the first.
        unit: Unit of ``value``, ``low`` and ``high``.
        low: Lowest seen so far.
        high: Highest seen so far.
        age_s: Seconds since the newest sample arrived: a dead line must look dead.
        words: The value as it is said where that is no number: a switch is on or off.
    """

    channel: str
    value: float | None
    unit: str
    low: float | None = None
    high: float | None = None
    age_s: float = 0.0
    words: str = ""


@dataclass(frozen=True, slots=True)
class Live:
    """What the screen shows while a flow runs."""

    step: Step
    readings: tuple[Reading, ...] = field(default=())
    samples: int = 0
    rejected_lines: int = 0
    elapsed_s: float = 0.0


class Person(Protocol):
    """Whoever works the machine: at a terminal, or simulated."""

    def confirm_isolation(self, card: Card) -> None:
        """Show the card and wait for its word, once per live session.

        Raises:
            StoppedError: The word did not come.
        """

    def show(self, live: Live) -> None:
        """Show what to do now and the live values; called some five times a second."""

    def sound(self, sound: Sound) -> None:
        """Ring the bell."""

    def entered(self) -> bool:
        """Whether Enter was pressed since this was last asked, while a live page was up."""

    def leave_page(self) -> None:
        """Leave the live page: its flow is over, and what is said next must stay to be read."""

    def wait_until_ready(self, prompt: str) -> None:
        """Ask for something to be done with no sample needed meanwhile, and wait for Enter.

        Raises:
            StoppedError: The person would rather stop.
        """

    def answer(self, question: str, *, default: str | None = None) -> str:
        """Ask for a word or a number.

        Raises:
            StoppedError: No answer can be had.
        """


class Line(Protocol):
    """A running logger, or the replay of one."""

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns of ``Samples.values``, in order."""

    def blocks(self) -> Iterator[Samples]:
        """Runs of samples in order, at least one every 0.1 s on a live line, maybe empty.

        Raises:
            PortError: The cable went; nothing decodable came.
        """
