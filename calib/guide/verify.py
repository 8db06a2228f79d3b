"""Ask the person what the controller shows after typing in, and what the wheel did."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from calib.checks.sheet.verify import CREEP_S, Answers, Creep
from calib.guide.asking import ask_until, ask_volts_or, one_of
from calib.guide.protocols import Person
from calib.store.acts import Wording

_NOT_READ: Final = "-"
_CREEPS: Final[dict[str, tuple[Creep | None]]] = {
    "still": ("still",), "creeps": ("creeps",), _NOT_READ: (None,),
}  # fmt: skip


def ask_verify(person: Person, channel: str, wording: Wording) -> Answers:
    """Read the four figures from the controller's display, then watch the wheel.

    Args:
        person: Reads and types.
        channel: The control.
        wording: How it is spoken of: one that brakes does not drive.

    Raises:
        StoppedError: No answer can be had, or none that was offered.
    """
    asked = f"{channel}: is the logger's tap still on? (yes/no)"
    yes_or_no = one_of({"yes": True, "no": False})
    is_on = ask_until(person, asked, yes_or_no, "Yes or no.", default="yes")
    read = Answers(
        rest_V=_volts(person, f"{channel}: volts that the controller shows, hand off"),
        start_V=_volts(person, f"{channel}: its setting for '{wording.start}'"),
        end_V=_volts(person, f"{channel}: its setting for '{wording.end}'"),
        full_V=_volts(person, f"{channel}: volts that it shows at full travel, drive disabled"),
        unplugged_between=not is_on,
    )
    asked = (
        f"{channel}: wheel up, lowest limits, brake cut proven, hand off for {CREEP_S} s. "
        f"What did the wheel do? (still/creeps, {_NOT_READ} if not tried)"
    )
    again = f"still, creeps or {_NOT_READ}."
    (creep,) = ask_until(person, asked, one_of(_CREEPS), again, default=_NOT_READ)
    return replace(read, creep=creep)


def _volts(person: Person, question: str) -> float | None:
    asked = f"{question} ({_NOT_READ} if it does not show it)"
    return ask_volts_or(person, asked, _NOT_READ, f"Volts such as 0.93, or {_NOT_READ}.")
