"""What a hand control does to the machine, and the words that pages use for its two values."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

Acts = Literal["drive", "brake"]


@dataclass(frozen=True, slots=True)
class Wording:
    """How a control is spoken of.

    Attributes:
        start: The name of the dead band's start.
        end: The name of its end.
        zone: What the stretch between them does, on a ruler.
        effect: What the controller must see none of while the hand is off.
    """

    start: str
    end: str
    zone: str
    effect: str


WORDINGS: Final[dict[Acts | None, Wording]] = {
    "drive": Wording("drive takes up at", "full drive from", "drive", "drive"),
    "brake": Wording("braking starts at", "full braking from", "braking", "braking"),
    None: Wording("takes up at", "full from", "in use", "effect"),
}
"""By what it does; None where neither the rig file nor its name says it."""

_PLAIN: Final[dict[str, Acts]] = {
    "throttle": "drive",
    "accelerator": "drive",
    "regen": "brake",
    "brake": "brake",
}


def acts_by_name(name: str) -> Acts | None:
    """What a control does, where its name says it plainly; None for a lever, a grip or a thumb.

    >>> acts_by_name("regen_left"), acts_by_name("lever")
    ('brake', None)
    """
    meant = {_PLAIN[word] for word in re.split(r"[^a-z]+", name.casefold()) if word in _PLAIN}
    return meant.pop() if len(meant) == 1 else None
