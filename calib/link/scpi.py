"""Polled instruments that speak SCPI: each round of queries becomes one delimited line.

Queries only, and only to an instrument that the rig file declares.

Source: IEEE 488.2 (``*IDN?``, a query's header ends in a question mark) and SCPI-1999 (9.9E37 for
an overload, 9.91E37 for not a number, both over our bound on numbers); from memory.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from typing import Protocol

from calib.errors import RigError
from calib.store.rig import Rig
from calib.store.text import neutral

ANSWER_S = 2.0
"""Longest wait for an answer: own choice, over twice a bench multimeter's slow measurement."""

LONGEST_ANSWER = 256
"""Bytes in an answer at most: own choice."""

_QUERY = re.compile(r"\*?[A-Za-z][A-Za-z0-9:_]*\?( [\x21-\x3a\x3c-\x7e][\x20-\x3a\x3c-\x7e]*)?")
"""A header that ends in a question mark, then parameters without a semicolon, which would begin
another command."""


class Wire(Protocol):
    """What a poller needs of a transport."""

    def read(self) -> bytes:
        """What has come; nothing where nothing came for a short while."""

    def write(self, query: bytes) -> None:
        """Send a query."""

    def close(self) -> None:
        """Close it."""


class ScpiInstrument:
    """An instrument that answers queries.

    Args:
        wire: The open line.
        queries: One a column, checked.
        clock: The computer's monotonic clock, in s.
    """

    def __init__(
        self, wire: Wire, queries: tuple[str, ...], clock: Callable[[], float] = time.monotonic
    ) -> None:
        """Nothing is sent yet."""
        self._wire = wire
        self._queries = queries
        self._clock = clock
        self._missed = False

    @property
    def columns(self) -> int:
        """Answers in a round."""
        return len(self._queries)

    def identity(self) -> bytes:
        """What it says it is; empty where it does not say."""
        return self._ask("*IDN?") or b""

    def ask_all(self) -> list[bytes] | None:
        """The answers of one round, None where one of them did not come."""
        if self._missed:
            self._drop_late()
        answers = []
        for query in self._queries:
            answer = self._ask(query)
            if answer is None:
                self._missed = True
                return None
            answers.append(answer)
        return answers

    def close(self) -> None:
        """Close the line."""
        self._wire.close()

    def _ask(self, query: str) -> bytes | None:
        """The answer to one query, None where none came in ANSWER_S."""
        self._wire.write(query.encode("ascii") + b"\n")
        answer = b""
        give_up_s = self._clock() + ANSWER_S
        while b"\n" not in answer and self._clock() < give_up_s:
            answer += self._wire.read()
            if len(answer) > LONGEST_ANSWER:
                return None
        line, end, _ = answer.partition(b"\n")
        return line.strip().replace(b"\r", b" ") if end else None

    def _drop_late(self) -> None:
        """Let late answers go by, so that none is taken for the answer to the next query."""
        give_up_s = self._clock() + ANSWER_S
        while self._wire.read():
            if self._clock() > give_up_s:
                return
        self._missed = False


def checked_queries(rig: Rig) -> tuple[str, ...]:
    """The queries that a rig file declares.

    Raises:
        RigError: There is none, or one of them could do more than ask.
    """
    if not rig.link.queries:
        raise RigError(
            f"{rig.path}: layout 'scpi' needs queries.", 'Add: queries = ["MEAS:VOLT?"] to [link].'
        )
    for query in rig.link.queries:
        if not _QUERY.fullmatch(query):
            raise RigError(
                f"{rig.path}: {neutral(query)!r} is no plain query; a query's first word ends in a "
                "question mark.",
                "calib only asks: take the command out of the rig file.",
            )
    return rig.link.queries
