"""Ask the person what the controller shows after typing in, and what the wheel did."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from calib.checks.sheet.verify import CREEP_S, Shown
from calib.errors import UsageError
from calib.guide.protocols import Person
from calib.store.plausible import SHOWN_V, number_in

Creep = Literal["still", "creeps"]

_NOT_READ = "-"
_CREEP: dict[str, Creep | None] = {"still": "still", "creeps": "creeps", _NOT_READ: None}


@dataclass(frozen=True, slots=True)
class Answers:
    """What the person said of one control after typing in."""

    shown: Shown
    creep: Creep | None
    unplugged_between: bool


def ask_verify(person: Person, channel: str) -> Answers:
    """Read the four figures from the controller's display, then watch the wheel.

    Args:
        person: Reads and types.
        channel: The control.

    Raises:
        UsageError: An answer is not a number or none of the words that were offered.
        StoppedError: No answer can be had.
    """
    is_on = _is_yes(
        person.answer(f"{channel}: is the logger's tap still on? (yes/no)", default="yes")
    )
    shown = Shown(
        rest_V=_volts(person, f"{channel}: volts that the controller shows, hand off"),
        start_V=_volts(person, f"{channel}: its setting for where the drive takes up"),
        end_V=_volts(person, f"{channel}: its setting for full drive"),
        full_V=_volts(person, f"{channel}: volts that it shows at full travel, drive disabled"),
    )
    word = person.answer(
        f"{channel}: wheel up, lowest limits, brake cut proven, hand off for {CREEP_S} s. "
        f"What did the wheel do? (still/creeps, {_NOT_READ} if not tried)",
        default=_NOT_READ,
    )
    return Answers(shown, _creep(word), unplugged_between=not is_on)


def _volts(person: Person, question: str) -> float | None:
    answer = person.answer(f"{question} ({_NOT_READ} if it does not show it)", default=_NOT_READ)
    text = answer.strip().removesuffix("V").strip().replace(",", ".")
    if text == _NOT_READ:
        return None
    try:
        return number_in(text, SHOWN_V)
    except ValueError as error:
        raise UsageError(f"Volts: {error}.", f"Type them as 0.93, or {_NOT_READ}.") from error


def _creep(answer: str) -> Creep | None:
    word = answer.strip().casefold()
    if word not in _CREEP:
        raise UsageError(
            f"{answer!r} says nothing of the wheel.", f"Type still, creeps or {_NOT_READ}."
        )
    return _CREEP[word]


def _is_yes(answer: str) -> bool:
    word = answer.strip().casefold()
    if word not in ("yes", "no"):
        raise UsageError(f"{answer!r} is neither yes nor no.", "Type yes or no.")
    return word == "yes"
