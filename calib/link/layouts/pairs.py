"""Name–value pairs: ``a0=512 a1=300``, with colons, commas or semicolons too."""

from __future__ import annotations

import re

from calib.link.layouts.block import Kind
from calib.link.layouts.dialect import COMMENT_MARKS, LONGEST_NAME
from calib.link.layouts.named import Value
from calib.link.layouts.numbers import NotARowError

_PAIR = re.compile(
    rb"\s*(?P<name>[A-Za-z_][\w./\[\]-]{0,%d})\s*[=:]\s*"
    rb"(?P<number>[+-]?(?:\d+(?:[.,]\d*)?|\.\d+)(?:[eE][+-]?\d+)?)"
    rb"(?:\s*[,;](?=\s|[A-Za-z_]|$)|(?=\s)|$)" % (LONGEST_NAME - 1)
)
"""A comma before a digit is a decimal comma; names begin with a letter, so that is never unsure."""


def parse_pairs(line: bytes) -> list[Value]:
    """Named values of a line.

    Raises:
        NotARowError: It is not pairs from end to end.
    """
    if line.lstrip().startswith(COMMENT_MARKS):
        raise NotARowError(Kind.COMMENT)
    values = []
    place, end = 0, len(line.rstrip())
    while place < end:
        pair = _PAIR.match(line, place, end)
        if pair is None:
            raise NotARowError(Kind.TEXT)
        number = pair["number"].replace(b",", b".")
        values.append(Value(pair["name"].decode("ascii"), number))
        place = pair.end()
    return values
