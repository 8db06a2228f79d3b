"""What happens in a live flow, as one stream of events that every renderer is told.

A flow shows a :class:`~calib.guide.protocols.Live` ten times a second: the whole state, for a page
that is drawn anew each time. Lines, speech and whoever only wants to know what changed listen to
the events instead, which come from those same states and sounds and from nothing else. So what a
page shows, what a line says and what is spoken can never differ.

A renderer is a function of one :class:`LiveEvent`, or of each state, or both. ``text`` is a whole
short sentence, already neutral; ``step`` is the state it came from (verb, control, how, count, what
is left of a hold).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import Final

from calib.guide.protocols import Live, Sound, Step
from calib.store.documents.finding import Document
from calib.store.text import neutral

CABLE: Final = "cable"
"""The verb of a line that is silent: whoever shows it waits, and goes on when lines come back."""

TOLD_LEFT_S: Final = (20.0, 10.0)
"""Own choice: when the time that is left is told, s, to a person who does not see it run."""

DONE: Final = "Done."
"""How a flow is over that nothing and nobody stopped."""

KEPT: Final = "What was captured is kept and nothing was judged; records of before stand."
"""What is left of a flow that broke off."""

_LONGEST: Final = 120
_LONGEST_PROMPT: Final = 400


class Kind(Enum):
    """What happened."""

    ASKED = "asked"
    """Another verb, control or way: ``step`` says which."""
    HOLDING = "holding"
    """A hold, a rest or a settling began: ``step.hold`` says how long it is to last."""
    COUNTED = "counted"
    """One more: ``step.done`` of ``step.wanted``."""
    UNCOUNTED = "not counted"
    """Something was done that does not count, or a count was taken back; ``text`` says why."""
    ENOUGH = "enough"
    """As many as are wanted."""
    INSTEAD = "wrong control"
    """Something else was worked than was asked for: ``step.instead``."""
    SILENT = "silent"
    """Nothing comes from the logger any more; the flow waits."""
    BACK = "back"
    """Lines come again, and the flow goes on where it was."""
    LEFT = "time left"
    """Nobody has worked for long: ``step.left_s`` until the flow ends as broken off."""
    MOVES = "moves"
    """A channel that is only watched has left its place: ``step.control``."""
    RESTS = "rests"
    """It stands again; ``text`` says where, and through what it went."""
    PROMPTED = "prompted"
    """The flow waits for a key or a word at the keyboard; ``step.verb`` is what to do first."""
    ENDED = "ended"
    """The flow is over; ``text`` says how."""
    JUDGED = "judged"
    """The verdict is there: ``step.verb`` is its word."""


@dataclass(frozen=True, slots=True)
class LiveEvent:
    """One thing that happened.

    Attributes:
        kind: What.
        text: The same as a short sentence, neutral.
        step: What was asked at that moment.
    """

    kind: Kind
    text: str
    step: Step


Listener = Callable[[LiveEvent], None]
Onlooker = Callable[[Live], None]
Reader = Callable[[Document], None]


@dataclass(frozen=True, slots=True)
class Audience:
    """Who is told besides the terminal.

    Attributes:
        listeners: Told each event.
        onlookers: Shown each state, after the events that it brought.
        readers: Given the document that a command ends with, after its verdict was told.
    """

    listeners: tuple[Listener, ...] = ()
    onlookers: tuple[Onlooker, ...] = ()
    readers: tuple[Reader, ...] = ()

    def judged(self, document: Document) -> None:
        """Tell all of them what came of it."""
        word = document.verdict.value
        for listener in self.listeners:
            listener(LiveEvent(Kind.JUDGED, f"{word.capitalize()}.", Step(word)))
        for reader in self.readers:
            reader(document)


class EventStream:
    """Makes events of what a flow shows and rings, and tells every listener of each."""

    def __init__(self, *listeners: Listener, audience: Audience | None = None) -> None:
        """Tell ``listeners``, in their order, then the audience."""
        audience = Audience() if audience is None else audience
        self._listeners = (*listeners, *audience.listeners)
        self._onlookers = audience.onlookers
        self._before: Step | None = None
        self._silent = False

    def look(self, live: Live) -> None:
        """Take in what is shown now."""
        step = live.step
        before, self._before = self._before, step
        for kind, text in self._changes(before, step):
            self._tell(kind, text, step)
        for onlooker in self._onlookers:
            onlooker(live)

    def hear(self, sound: Sound) -> None:
        """Take in what is rung: three bells are the only sound that no state shows."""
        if sound is Sound.STOP and self._before is not None:
            needs = self._before.needs
            self._tell(Kind.UNCOUNTED, f"Not counted. {_sentence(*needs[:1])}", self._before)

    def prompt(self, verb: str, text: str) -> None:
        """Something is asked for at the keyboard, ``verb`` before it."""
        self._tell(Kind.PROMPTED, text, Step(verb), _LONGEST_PROMPT)

    def end(self, text: str) -> None:
        """The flow is over."""
        if self._before is not None:
            self._tell(Kind.ENDED, text, self._before)
            self._before = None

    def _changes(self, before: Step | None, step: Step) -> Iterator[tuple[Kind, str]]:
        if step.verb == CABLE:
            if not self._silent:
                self._silent = True
                yield Kind.SILENT, f"Cable. {_sentence(step.detail)}"
            return
        if self._silent:
            self._silent = False
            yield Kind.BACK, "The logger is back."
        if before is not None and before.verb != CABLE:
            yield from _counts(before, step)
        if step.instead and (before is None or before.instead != step.instead):
            yield Kind.INSTEAD, f"That is {step.instead}. Let go of it. {asked_text(step)}"
        elif before is None or _asks(before) != _asks(step):
            holds = step.hold is not None and step.hold.wanted_s > 0.0
            yield (Kind.HOLDING if holds else Kind.ASKED), asked_text(step)
        yield from _left(before, step)

    def _tell(self, kind: Kind, text: str, step: Step, longest: int = _LONGEST) -> None:
        event = LiveEvent(kind, neutral(text.strip(), longest), step)
        for listener in self._listeners:
            listener(event)


def asked_text(step: Step) -> str:
    """What is asked for, as a short sentence: "Throttle: press, slowly. 1 of 3."."""
    words = f"{step.control}: {step.verb}" if step.control else step.verb
    asked = f"{words}, {step.how}" if step.how else words
    left_s = 0.0 if step.hold is None else step.hold.left_s
    held = f"{left_s:.1f} s" if left_s > 0.0 else ""
    count = "" if step.wanted is None else f"{step.done} of {step.wanted}"
    return _sentence(asked, held, count, step.detail)


def _sentence(*parts: str) -> str:
    return " ".join(part[:1].upper() + part[1:].rstrip(".") + "." for part in parts if part)


def _asks(step: Step) -> tuple[object, ...]:
    return step.verb, step.control, step.how, step.place


def _counts(before: Step, step: Step) -> Iterator[tuple[Kind, str]]:
    about = {before.control, step.control} - {""}
    same = before.wanted is not None and before.place == step.place and len(about) < 2
    if not same or before.done == step.done or step.wanted != before.wanted:
        return
    count = f"{step.done} of {step.wanted}"
    if step.done < before.done:
        yield Kind.UNCOUNTED, f"Taken back: {count}. {_sentence(*step.needs[:1])}"
    elif step.done == step.wanted:
        yield Kind.ENOUGH, f"Counted: {count}, enough."
    else:
        yield Kind.COUNTED, f"Counted: {count}."


def _left(before: Step | None, step: Step) -> Iterator[tuple[Kind, str]]:
    if step.left_s is None or before is None:
        return
    earlier_s = float("inf") if before.left_s is None else before.left_s
    if any(step.left_s <= mark_s < earlier_s for mark_s in TOLD_LEFT_S):
        yield Kind.LEFT, f"{step.left_s:.0f} s left; then it ends as broken off."
