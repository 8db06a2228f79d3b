"""What every layout gives back, and the protocol that a layout fulfils."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
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


@dataclass(frozen=True, slots=True)
class Rejected:
    """One line that is no sample.

    Args:
        kind: Why.
        text: Its first HEAD_BYTES bytes as received: untrusted.
        arrival_s: When it was complete, by the computer's clock.
    """

    kind: Kind
    text: bytes
    arrival_s: float


class Block(msgspec.Struct, frozen=True):
    """What one push of bytes gave; a Struct because one is made for every read of the port.

    Args:
        numbers: Numbers as sent, a tuple a line, in the units of the device.
        rows: The same lines as text: fields as received, set as CSV (comma, decimal point).
        rejected: Lines that are no samples, in order of arrival.
        arrival_s: When the lines were complete by the computer's clock, in s.
    """

    numbers: list[Row]
    rows: list[str]
    rejected: list[Rejected]
    arrival_s: float

    @property
    def values(self) -> NDArray[np.float64]:
        """Numbers as a new array, shape (lines, columns)."""
        return as_array(self.numbers)


def as_array(numbers: list[Row]) -> NDArray[np.float64]:
    """Rows of one width as an array, shape (rows, columns); (0, 0) for none."""
    if not numbers:
        return np.empty((0, 0))
    width = len(numbers[0])
    flat = np.fromiter(chain.from_iterable(numbers), np.float64, len(numbers) * width)
    return flat.reshape(len(numbers), width)


def reject(kind: Kind, line: bytes, arrival_s: float) -> Rejected:
    """A rejected line, cut to what is kept of it."""
    return Rejected(kind, line[:HEAD_BYTES], arrival_s)


class Layout(Protocol):
    """A push decoder: bytes in any pieces, whole samples out."""

    @property
    def names(self) -> tuple[str, ...] | None:
        """Column names as the device gave them, None while it has given none."""

    @property
    def width(self) -> int | None:
        """Columns in a sample, None while they are not known."""

    def feed(self, chunk: bytes, arrival_s: float) -> Block:
        """Take bytes that arrived at arrival_s; give the samples they completed."""

    def resync(self) -> None:
        """Bytes were lost: what is held is no line, nor is what comes before the next end."""

    def finish(self, arrival_s: float) -> Block:
        """No more bytes will come: give what was held back, reject what is incomplete."""
