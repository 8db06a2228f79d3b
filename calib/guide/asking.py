"""Numbers that a person types: a comma will do, and a slip is asked again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final, TypeVar

from calib.errors import StoppedError
from calib.guide.protocols import Person
from calib.store.plausible import SHOWN_V, Usual, number_at_prompt
from calib.store.text import neutral

TRIES: Final = 3
"""Own choice: how often an answer that will not do is asked again."""

T = TypeVar("T")


def number_of(usual: Usual, unit: str = "") -> Callable[[str], float | None]:
    """A reader of numbers within a range, with decimal point or comma, None for any other answer.

    Args:
        usual: The range in which a number can be meant.
        unit: A unit that may stand behind it.
    """

    def read(text: str) -> float | None:
        try:
            return number_at_prompt(text.strip().removesuffix(unit), usual)
        except ValueError:
            return None

    return read


def ask_until(
    person: Person,
    question: str,
    read: Callable[[str], T | None],
    again: str,
    *,
    default: str | None = None,
) -> T:
    """Ask until an answer will do.

    Args:
        person: Is asked.
        question: The question.
        read: What an answer says; None where it will not do.
        again: What is expected, put before the question when it is asked again.
        default: What Enter alone stands for.

    Raises:
        StoppedError: No answer did, or none can be had.
    """
    asked, answer = question, ""
    for _ in range(TRIES):
        answer = person.answer(asked, default=default)
        value = read(answer)
        if value is not None:
            return value
        asked = f"{again} {question}"
    raise StoppedError.of("unanswered", answer=neutral(answer, 30), question=question, again=again)


def one_of(words: Mapping[str, T]) -> Callable[[str], T | None]:
    """A reader of what some words stand for, None for any other answer."""
    return lambda answer: words.get(answer.strip().casefold())


def ask_volts_or(person: Person, question: str, nothing: str, again: str) -> float | None:
    """Volts of a display, or None for an answer that says there are none; asked again after a slip.

    Args:
        person: Is asked.
        question: The question.
        nothing: The answer for none, which Enter alone stands for.
        again: What is expected.

    Raises:
        StoppedError: No answer did, or none can be had.
    """
    number = number_of(SHOWN_V, "V")

    def read(answer: str) -> tuple[float | None] | None:
        """The number in a shell of its own: none is an answer too."""
        value = number(answer)
        return None if value is None and answer.strip() != nothing else (value,)

    (value,) = ask_until(person, question, read, again, default=nothing)
    return value


def ask_whole(person: Person, question: str, *, default: int, most: int) -> int:
    """A whole number from 1 to ``most``; asked again after a slip.

    Raises:
        StoppedError: No answer did, or none can be had.
    """
    number = number_of(Usual(1, most))

    def read(answer: str) -> int | None:
        value = number(answer)
        return int(value) if value is not None and value % 1 == 0 else None

    again = f"A whole number from 1 to {most}."
    return ask_until(person, question, read, again, default=str(default))
