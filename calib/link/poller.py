"""Rounds of questions to a polled instrument, each made one delimited line.

So a polled instrument is a line like any other, and its answers meet the same strict decoder.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Protocol

PAUSE_S = 0.02
"""Longest sleep between two rounds before the reader is given its turn: own choice."""


class Instrument(Protocol):
    """Something that answers."""

    @property
    def columns(self) -> int:
        """Answers in a round."""

    def identity(self) -> bytes:
        """What it says it is; empty where it does not say."""

    def ask_all(self) -> list[bytes] | None:
        """The answers of one round, None where one of them did not come."""

    def close(self) -> None:
        """Let go of it."""


class Poller:
    """A source of lines: the identity as a comment, a header, then one line a round.

    Args:
        instrument: Is asked.
        poll_s: Time between two rounds, in s.
        clock: The computer's monotonic clock, in s.
    """

    def __init__(
        self, instrument: Instrument, poll_s: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        """Nothing is asked yet."""
        self._instrument = instrument
        self._poll_s = poll_s
        self._clock = clock
        self._due_s: float | None = None

    def read(self) -> bytes:
        """The lines of one round; nothing while none is due or an answer did not come.

        Raises:
            PortError: The line has gone.
        """
        if self._due_s is None:
            names = ",".join(f"q{place}" for place in range(self._instrument.columns))
            identity = self._instrument.identity()
            self._due_s = self._clock()
            return b"# " + identity + b"\n" + names.encode() + b"\n"
        wait_s = self._due_s - self._clock()
        if wait_s > 0:
            time.sleep(min(wait_s, PAUSE_S))
            return b""
        self._due_s = max(self._due_s + self._poll_s, self._clock())
        answers = self._instrument.ask_all()
        return b"" if answers is None else b",".join(answers) + b"\n"

    def close(self) -> None:
        """Let go of the instrument."""
        self._instrument.close()
