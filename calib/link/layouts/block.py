"""What every layout gives back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import msgspec
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

Row = tuple[float, ...]
"""Numbers of one line."""

HEAD_BYTES = 200
"""Bytes of a rejected line that are kept: own choice, enough to recognise what it was."""

LARGEST = 1e30
"""Bound on the magnitude of a number: own choice, so that its square and cube stay finite."""


class Kind(StrEnum):
    """Why a line is no sample, in our words for it."""

    HEADER = "header line"  # names the columns: kept, not counted as rejected
    COMMENT = "comment line"
    PARTIAL = "part of a line"  # the first after opening, or a last one without its end
    TEXT = "not numbers in this layout"  # a banner, a message, garbage
    COLUMNS = "other count of columns"  # numbers, but not as many as the other lines have
    SIZE = "number too large"  # beyond LARGEST, or not finite
    LONG = "line without end"
    CHECKSUM = "wrong or missing checksum"
    CHANGED = "after a header with other columns"
    OTHER = "a line of another kind"  # a sound one, such as a sentence without a measurement


HARMLESS = frozenset({Kind.HEADER, Kind.COMMENT, Kind.OTHER})
"""Lines that a sound logger sends beside its samples."""


@dataclass(frozen=True, slots=True)
class Rejected:
    """One line that is no sample.

    Args:
        kind: Why.
        text: Its first HEAD_BYTES bytes as received: untrusted.
        after: Samples of its block that came before it.
    """

    kind: Kind
    text: bytes
    after: int


class Block(msgspec.Struct, frozen=True):
    """What one push of bytes gave; a Struct because one is made for every read of the port.

    Args:
        numbers: Numbers as sent, line after line, in the units of the device; NaN where a field is
            missing.
        rows: The same lines as text: fields as received, set as CSV (comma, decimal point), empty
            where missing.
        rejected: Lines that are no samples, in order of arrival.
        arrival_s: When the lines were complete by the computer's clock, in s.
        remarks: What was cleaned off lines, or left out of them, in our words.
    """

    numbers: list[float]
    rows: list[str]
    rejected: list[Rejected]
    arrival_s: float
    remarks: list[str] = []

    def reject(self, kind: Kind, line: bytes) -> None:
        """Note a line that is no sample, cut to what is kept of it."""
        self.rejected.append(Rejected(kind, line[:HEAD_BYTES], len(self.rows)))

    @property
    def values(self) -> Floats:
        """Numbers as a new array, shape (lines, columns); (0, 0) without a line."""
        return joined([self], len(self.numbers) // len(self.rows) if self.rows else 0)[0]


def joined(blocks: Sequence[Block], width: int) -> tuple[Floats, Floats]:
    """Numbers of all lines, shape (n, width), and when each came, in s, shape (n,)."""
    numbers = [number for block in blocks for number in block.numbers]
    counts = [len(block.rows) for block in blocks]
    values = np.fromiter(numbers, np.float64, len(numbers)).reshape(sum(counts), width)
    return values, np.repeat([block.arrival_s for block in blocks], counts)
