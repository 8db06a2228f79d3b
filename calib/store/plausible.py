"""Numbers that a person types, and the ranges that the trade knows for them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from calib.store.text import neutral

_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")


@dataclass(frozen=True, slots=True)
class Usual:
    """The range in which a number can be meant.

    Attributes:
        low: Lowest, itself included.
        high: Highest, itself included.
        unit: The unit of both; empty for a bare number.
    """

    low: float
    high: float
    unit: str = ""

    def __str__(self) -> str:
        """The range in words."""
        return f"{self.low:g} to {self.high:g} {self.unit}".rstrip()

    def holds(self, number: float) -> bool:
        """Whether a number can be meant; one that is none cannot."""
        return math.isfinite(number) and self.low <= number <= self.high


SHOWN_DEG: Final = Usual(-180.0, 180.0, "degrees")
"""What a display of an angle can show."""

SHOWN_V: Final = Usual(0.0, 30.0, "V")
"""What a controller's display can show of a hand control; own choice, some show a doubled scale."""

WHEELBASE_MM: Final = Usual(300.0, 3000.0, "mm")
AID_STARTS_DEG: Final = Usual(1.0, 45.0, "degrees")
AID_ENDED_DEG: Final = Usual(2.0, 80.0, "degrees")
DIVE_DEG: Final = Usual(0.0, 20.0, "degrees")
"""Own choices: from a child's machine to a long two-seater; no aid acts on the flat, and no machine
balances beyond 60 degrees."""

DURATION_S: Final = Usual(0.1, 31_536_000.0, "s")
"""Own choice: up to a year."""

METER_V: Final = Usual(-1.0, 120.0, "V")
"""What a meter shows at a logger's wire; own choice: packs of such machines end at 84 V."""

METER_MV: Final = Usual(-1000.0, 120_000.0)
"""The same where the meter may have been read in mV, before it is asked."""


def number_in(text: str, usual: Usual) -> float:
    """The number that was typed; a zero has no sign.

    Args:
        text: As typed, with a decimal point.
        usual: The range in which it can be meant.

    Raises:
        ValueError: It is no number, or none that can be meant; the text says what was expected.
    """
    typed = text.strip()
    if not _NUMBER.fullmatch(typed):
        raise ValueError(f"{neutral(typed, 30)!r} is no number; type it as 0.5")
    number = float(typed)
    if not usual.holds(number):
        raise ValueError(f"{neutral(typed, 30)} is not within {usual}")
    return number + 0.0


def number_at_prompt(text: str, usual: Usual) -> float:
    """The same where somebody answers by hand: a decimal comma will do.

    Raises:
        ValueError: As `number_in`.
    """
    return number_in(text.replace(",", "."), usual)
