"""One command of the job, and what the simulated person knows beforehand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from calib.mule.person import Answer
from calib.mule.stage import Stage

GOOD: Final = frozenset({0})
ANY_VERDICT: Final = frozenset({0, 1})


@dataclass(frozen=True, slots=True)
class Task:
    """One command of the job.

    Attributes:
        arguments: The command and its options, without the rig file.
        ready: What they do at each prompt to make something ready, by a word in it.
        answers: What the person answers to each question, by a word in it.
        before: What is done at the bench before it.
        ends: Exit codes with which it may end.
        page: File into which what it prints goes; the terminal where None.
        speed: Seconds of bench time in one second while it runs.
    """

    arguments: tuple[str, ...]
    ready: Mapping[str, Callable[[Stage], None]] = field(default_factory=dict)
    answers: Mapping[str, Answer] = field(default_factory=dict)
    before: Callable[[Stage], None] | None = None
    ends: frozenset[int] = GOOD
    page: str | None = None
    speed: float = 25.0

    @property
    def text(self) -> str:
        """The command as it is typed."""
        return " ".join(self.arguments)
