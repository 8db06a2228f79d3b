"""Name–value pairs: ``a0=512 a1=300``, with colons, commas or semicolons too.

Names with blanks, units behind the numbers, quotes, words of a switch and missing values are taken
where a line is no row of plain pairs: ``Throttle: 2.13 V, Tilt: -1.2 deg``.
"""

from __future__ import annotations

import re

from calib.link.layouts.block import Kind
from calib.link.layouts.cleaning import UNIT, UNITS, FieldKind, read_field, unwrapped
from calib.link.layouts.dialect import LONGEST_NAME, is_comment
from calib.link.layouts.named import Value
from calib.link.layouts.numbers import NotARowError
from calib.link.layouts.stamps import STAMP

_PAIR = re.compile(
    rb"\s*(?P<name>[A-Za-z_][\w./\[\]-]{0,%d})\s*[=:]\s*"
    rb"(?P<number>[+-]?(?:\d+(?:[.,]\d*)?|\.\d+)(?:[eE][+-]?\d+)?)"
    rb"(?:\s*[,;](?=\s|[A-Za-z_]|$)|(?=\s)|$)" % (LONGEST_NAME - 1)
)
"""A comma before a digit is a decimal comma; names begin with a letter, so that is never unsure."""

_DRESSED = re.compile(
    rb"[\s,;]*[\"']?(?P<name>[A-Za-z_](?:[\w ./\[\]()%-]|[\x80-\xff]){0,60}?)[\"']?"
    rb"\s*(?:=>|->|[=:])\s*[\"']?(?P<value>"
    + re.sub(rb"\?P<(\w+)>", rb"?:", STAMP.pattern).replace(rb"(?P=dash)", rb"[-/.]?")
    + rb"|[+-]?(?:\d+(?:[.,]\d+)?|\.\d+)\.?(?:[eE][+-]?\d{1,3})?|0[xX][0-9A-Fa-f]+"
    rb"|[A-Za-z][\w/]{0,20}|#N/A|-{1,4}|\?|)[\"']?(?:\s?(?P<unit>"
    + UNIT
    + rb")(?![\w/^]|\s*[=:]))?(?=[\s,;]|$)"
)


def parse_pairs(line: bytes) -> list[Value]:
    """Named values of a line.

    Raises:
        NotARowError: It is not pairs from end to end.
    """
    if is_comment(line):
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


def parse_dressed_pairs(line: bytes) -> list[Value]:
    """Named values of a line that has more than names and numbers.

    Raises:
        NotARowError: It is not pairs from end to end, or has no number.
    """
    remarks: set[str] = set()
    text = line.strip()
    if text[:1] in (b"{", b"[", b"(", b"<", b"|") or b"|" in text:
        text = unwrapped(text, remarks)
    values = []
    place, end = 0, len(text.rstrip(b" \t,;"))
    while place < end:
        pair = _DRESSED.match(text, place, end)
        if pair is None:
            raise NotARowError(Kind.TEXT)
        if pair["unit"]:
            remarks.add(UNITS)
        field = read_field(pair["value"], comma_parts=False, remarks=remarks)
        if field.kind is not FieldKind.WORD:
            name, unit = _name_of(pair["name"]), (pair["unit"] or b"").decode("utf-8", "replace")
            stamp = field.kind is FieldKind.STAMP
            values.append(Value(name, field.text, stamp, frozenset(remarks), unit))
        place = pair.end()
    if not any(value.text for value in values):
        raise NotARowError(Kind.TEXT)
    return values


def _name_of(raw: bytes) -> str:
    """A name as text, without what it cannot hold."""
    try:
        name = raw.decode("utf-8").strip()
    except UnicodeDecodeError:
        name = raw.decode("cp1252", "replace").strip()
    if not name.isprintable() or "\ufffd" in name:
        raise NotARowError(Kind.TEXT)
    return name
