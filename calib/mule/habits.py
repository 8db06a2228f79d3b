"""How a person works who does what the page says: at which pace, and with which bad habits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

FOREVER: Final = 10_000


@dataclass(frozen=True, slots=True)
class Habits:
    """One person's ways; none of the bad ones unless it is switched on.

    Attributes:
        react_s: Shortest and longest time from seeing a verb to doing it.
        push_s: Shortest and longest time of a press.
        lets_go_early: Lets go as soon as it feels the end, whatever is asked.
        wrong_first: Presses of another control before the right one is found.
        half_first: Presses that go half way before they go all the way.
        elbows: Share of looks at the page at which an elbow hits Enter.
        leaves_after: Acts after which this person walks away.
        never_sits: Does not sit down.
        never_turns: Does not turn the machine, and does not touch it either.
        only_bounces: Does not turn the machine, and bounces it where it stands.
        leans_wrong: Leans to the left as the one who stands before the machine sees it.
        rear_for_front: Raises the rear wherever the front is asked for.
    """

    react_s: tuple[float, float] = (0.15, 0.8)
    push_s: tuple[float, float] = (0.2, 3.0)
    lets_go_early: bool = False
    wrong_first: int = 0
    half_first: int = 0
    elbows: float = 0.0
    leaves_after: int = FOREVER
    never_sits: bool = False
    never_turns: bool = False
    only_bounces: bool = False
    leans_wrong: bool = False
    rear_for_front: bool = False


HASTY: Final = Habits(react_s=(0.05, 0.2), push_s=(0.1, 0.2), lets_go_early=True)
SLOW: Final = Habits(react_s=(0.6, 1.5), push_s=(2.0, 4.0))
BRISK: Final = Habits(react_s=(0.15, 0.3), push_s=(0.2, 1.2))
"""Whoever shows the whole job in less than a minute."""
