"""Rows of numbers: the one rule for what is one, and what a layout gives back of them.

The rule is written once, in `parse_row`. `read_rows` hands rows in their plainest form to
msgspec's strict number reader, many in one call; the tests prove that it never differs from the
rule.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

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

_NUMBER = b"0123456789+-.eE"
_PLAIN_NUMBER = b"0123456789-. "
_Tame = Annotated[float, msgspec.Meta(gt=-LARGEST, lt=LARGEST)]
_tame = msgspec.json.Decoder(list[_Tame])


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


def joined(blocks: Sequence[Block], width: int) -> tuple[Floats, Floats]:
    """Numbers of all lines, shape (n, width), and when each came, in s, shape (n,)."""
    numbers = [number for block in blocks for number in block.numbers]
    counts = [len(block.rows) for block in blocks]
    values = np.fromiter(numbers, np.float64, len(numbers)).reshape(sum(counts), width)
    return values, np.repeat([block.arrival_s for block in blocks], counts)


class NotARowError(ValueError):
    """A line that is no row of numbers; the message is its Kind."""

    def __init__(self, kind: Kind) -> None:
        """Keep the kind."""
        super().__init__(kind)
        self.kind = kind


def parse_row(fields: list[bytes]) -> Row:
    """Numbers of one line, as sent.

    A field is a decimal number as C's printf writes it: sign, digits, at most one point, an
    exponent. Blanks around it do no harm. No digit grouping, no other script's digits, no NaN,
    no infinity, no magnitude from LARGEST on.

    Raises:
        NotARowError: With the kind of what was met.
    """
    try:
        row = tuple(map(float, fields))
    except ValueError:
        raise NotARowError(Kind.TEXT) from None
    if not row or b"".join(fields).translate(None, _NUMBER).strip(b" "):
        raise NotARowError(Kind.TEXT)  # float() also takes 1_0, nan, inf and other blanks
    if not max(row) < LARGEST > -min(row):
        raise NotARowError(Kind.SIZE)
    return row


def parse_fields(fields: list[bytes]) -> Row:
    """Numbers of one line, NaN for an empty field.

    Raises:
        NotARowError: As `parse_row`.
    """
    if all(fields):
        return parse_row(fields)
    there = iter(parse_row([field for field in fields if field]))
    return tuple(next(there) if field else math.nan for field in fields)


def read_rows(lines: bytes, width: int) -> list[float] | None:
    """Numbers of many comma-separated rows at once; None where any line is not plainly a row.

    What is left of the lines without digits, signs, points and blanks must be the commas and line
    ends of whole rows.

    Args:
        lines: Whole lines, each ended by LF.
        width: Columns in a row.
    """
    frame = lines.translate(None, _PLAIN_NUMBER)
    if frame != (b"," * (width - 1) + b"\n") * (len(frame) // width):
        return None
    try:
        numbers = _tame.decode(b"[" + lines[:-1].replace(b"\n", b",") + b"]")
    except msgspec.DecodeError:
        return None
    return numbers or None  # one blank line is no row
