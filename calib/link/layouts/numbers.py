"""The one rule for what is a row of numbers, and the fast way to read rows that keep it.

The rule is written once, in `parse_row`. `BlockReader` hands rows in their plainest form to
msgspec's strict number reader, many in one call; the tests prove that it never differs from the
rule.
"""

from __future__ import annotations

import math
from typing import Annotated

import msgspec
import numpy as np

from calib.link.layouts.block import LARGEST, Kind, Row

_NUMBER = b"0123456789+-.eE"
_PLAIN_NUMBER = b"0123456789-. "
_Tame = Annotated[float, msgspec.Meta(gt=-LARGEST, lt=LARGEST)]


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


class BlockReader:
    """Reads many comma-separated rows of one width at once.

    Args:
        width: Columns in a row.
    """

    def __init__(self, width: int) -> None:
        """Build what every row of this width looks like without its numbers."""
        self._width = width
        self._frame = b"," * (width - 1) + b"\n"
        self._decode = msgspec.json.Decoder(list[_Tame]).decode

    def read(self, lines: bytes) -> list[float] | None:
        """Numbers of whole lines, each ended by LF; None where any line is not plainly a row.

        What is left of the lines without digits, signs, points and blanks must be the commas and
        line ends of whole rows.
        """
        frame = lines.translate(None, _PLAIN_NUMBER)
        rows = len(frame) // self._width
        if frame != self._frame * rows:
            return None
        try:
            numbers: list[float] = self._decode(b"[" + lines[:-1].replace(b"\n", b",") + b"]")
        except msgspec.DecodeError:
            return None
        return numbers if numbers else None  # one blank line is no row

    def plain_bytes(self, lines: bytes) -> int:
        """Bytes of the whole lines before the first that has not the frame of a row."""
        frame = lines.translate(None, _PLAIN_NUMBER)
        rows, stop = 0, len(frame) // self._width + 1
        while stop - rows > 1:  # the first ``rows`` have it, and the first ``stop`` have not
            middle = (rows + stop) // 2
            plain = frame.startswith(self._frame * middle)
            rows, stop = (middle, stop) if plain else (rows, middle)
        if not rows:
            return 0
        ends = np.flatnonzero(np.frombuffer(lines, np.uint8) == ord("\n"))
        return int(ends[rows - 1]) + 1
