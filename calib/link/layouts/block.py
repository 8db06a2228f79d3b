"""What every layout gives back, and the protocol that a layout fulfils."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Protocol

import msgspec
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

Row = tuple[float, ...]
"""Numbers of one line."""

HEAD_BYTES = 200
"""Bytes of a rejected line that are kept: own choice, enough to recognise what it was."""

LARGEST = 1e30
"""Bound on the magnitude of a number: own choice, so that its square and cube stay finite."""


class Kind(StrEnum):
    """Why a line is no sample."""

    HEADER = "header"  # names the columns: kept, not counted as rejected
    COMMENT = "comment"
    PARTIAL = "partial"  # the first line after opening, or a last one without its end
    TEXT = "text"  # not numbers in the layout: a banner, a message, garbage
    COLUMNS = "columns"  # numbers, but not as many as the other lines have
    SIZE = "size"  # a number beyond LARGEST, or not finite
    LONG = "long"  # a line without end
    CHECKSUM = "checksum"
    CHANGED = "changed"  # a header with other columns, and all that comes after it
    OTHER = "other"  # a sound line of another kind, such as a sentence that carries no measurement


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
    def values(self) -> NDArray[np.float64]:
        """Numbers as a new array, shape (lines, columns); (0, 0) without a line."""
        return as_array(self.numbers, len(self.rows))


def as_array(numbers: list[float], rows: int) -> NDArray[np.float64]:
    """Numbers, row after row, as an array of shape (rows, columns); (0, 0) without a row."""
    columns = len(numbers) // rows if rows else 0
    return np.fromiter(numbers, np.float64, len(numbers)).reshape(rows, columns)


class Layout(Protocol):
    """A push decoder: bytes in any pieces, whole samples out."""

    @property
    def names(self) -> tuple[str, ...] | None:
        """Column names as the device gave them, None while it has given none."""

    @property
    def width(self) -> int | None:
        """Columns in a sample, None while they are not known."""

    @property
    def units(self) -> dict[int, str]:
        """Units that stand behind the numbers, by place of the column; untrusted."""

    @property
    def stamped(self) -> frozenset[int]:
        """Places of the columns that hold a wall clock, as seconds."""

    def feed(self, chunk: bytes, arrival_s: float) -> Block:
        """Take bytes that arrived at arrival_s; give the samples they completed."""

    def resync(self) -> None:
        """Bytes were lost: what is held is no line, nor is what comes before the next end."""

    def finish(self, arrival_s: float) -> Block:
        """No more bytes will come: give what was held back, reject what is incomplete."""
