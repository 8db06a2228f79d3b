"""Lines whose values carry their names, read one by one: pairs, JSON lines, NMEA sentences.

- Pairs: ``a0=512 a1=300``, with colons, commas or semicolons too. Names with blanks, units behind
  the numbers, quotes, words of a switch and missing values are taken where a line is no row of
  plain pairs: ``Throttle: 2.13 V, Tilt: -1.2 deg``.
- JSON lines: one object or array of numbers a line.
- NMEA 0183 transducer sentences: ``$--XDR,type,value,unit,name,...*hh``. Source: NMEA 0183,
  sentence XDR (groups of type, measurement, unit and name; the checksum is the exclusive or between
  ``$`` and ``*``); from memory.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import msgspec

from calib.link.layouts import cleaning
from calib.link.layouts.dialect import LONGEST_NAME, is_comment, is_name
from calib.link.layouts.rows import Kind, NotARowError
from calib.link.layouts.stamps import STAMP

MAX_DEPTH = 3
"""Objects within objects: own choice, ``{"imu": {"acc": [x, y, z]}}`` is the deepest seen."""

MAX_BRACKETS = 64
"""Opening brackets in a line: own choice; stops a line that is nothing else before it is parsed."""

_AS_NUMBER = {b"true": b"1", b"false": b"0"}
_NOT_FINITE = re.compile(rb"([:,\[]\s*)-?(?:NaN|Infinity)(?=\s*[,\]}])")
_members = msgspec.json.Decoder(dict[str, msgspec.Raw] | list[msgspec.Raw])

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
    + cleaning.UNIT
    + rb")(?![\w/^]|\s*[=:]))?(?=[\s,;]|$)"
)

_GROUP = 4


@dataclass(frozen=True, slots=True)
class Value:
    """One named value in a line.

    Args:
        name: Printable and not endless, but untrusted.
        text: Its number; empty where it is missing.
        is_stamp: It was a wall clock, and the number is its seconds.
        remarks: What was taken off it.
        unit: That stood behind it, untrusted.
    """

    name: str
    text: bytes
    is_stamp: bool = False
    remarks: frozenset[str] = frozenset()
    unit: str = ""


Parse = Callable[[bytes], list[Value]]
"""Values of a line, in order; raises NotARowError where it has none."""


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
        text = cleaning.unwrapped(text, remarks)
    values = []
    place, end = 0, len(text.rstrip(b" \t,;"))
    while place < end:
        pair = _DRESSED.match(text, place, end)
        if pair is None:
            raise NotARowError(Kind.TEXT)
        if pair["unit"]:
            remarks.add(cleaning.UNITS)
        field = cleaning.read_field(pair["value"], comma_parts=False, remarks=remarks)
        if field.kind != "word":
            name, unit = _name_of(pair["name"]), (pair["unit"] or b"").decode("utf-8", "replace")
            stamp = field.kind == "stamp"
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


def parse_json(line: bytes) -> list[Value]:
    """Numbers of a line by name, ``outer.inner`` where objects are nested; words are left out.

    Raises:
        NotARowError: It is no JSON, or has no numbers.
    """
    if b"NaN" in line or b"Infinity" in line:
        line = _NOT_FINITE.sub(rb"\1null", line)  # as some writers print it, though JSON has none
    if line.count(b"[") + line.count(b"{") > MAX_BRACKETS:
        raise NotARowError(Kind.TEXT)
    values = list(_flat(line, "", MAX_DEPTH))
    if not any(value.text for value in values):
        raise NotARowError(Kind.TEXT)
    return values


def _flat(raw: bytes, outer: str, depth: int) -> Iterator[Value]:
    """Values inside an object or array, each with its full name."""
    try:
        members = _members.decode(raw)
    except (msgspec.MsgspecError, UnicodeDecodeError):
        raise NotARowError(Kind.TEXT) from None
    if isinstance(members, list):
        letter = "" if outer else "c"
        members = {f"{letter}{place}": member for place, member in enumerate(members)}
    for name, member in members.items():
        full = f"{outer}.{name}" if outer else name
        yield from _value(full, bytes(member).strip(), depth)


def _value(name: str, text: bytes, depth: int) -> Iterator[Value]:
    if text[:1] in (b"{", b"["):
        if depth == 0:
            raise NotARowError(Kind.TEXT)
        yield from _flat(text, name, depth - 1)
    elif not is_name(name):
        raise NotARowError(Kind.TEXT)
    elif text == b"null":
        yield Value(name, b"", remarks=frozenset((cleaning.MISSING,)))
    elif text[:1] != b'"':
        yield Value(name, _AS_NUMBER.get(text, text))
    else:
        yield from _quoted(name, text[1:-1])


def _quoted(name: str, text: bytes) -> Iterator[Value]:
    """A number, a wall clock or a switch in quotes; other words are left out."""
    remarks: set[str] = set()
    try:
        field = cleaning.read_field(text, comma_parts=True, remarks=remarks)
    except NotARowError:
        return
    if field.kind not in ("word", "absent"):
        stamp = field.kind == "stamp"
        yield Value(name, field.text, stamp, frozenset(remarks | {cleaning.QUOTES}))


def parse_xdr(sentence: bytes) -> list[Value]:
    """Measurements of a transducer sentence by their names; by type and place where unnamed.

    Args:
        sentence: Without its checksum, which was right.

    Raises:
        NotARowError: It is another sentence, or its groups are not whole.
    """
    address, *fields = sentence.split(b",")
    if address[:1] != b"$" or address[3:] != b"XDR":
        raise NotARowError(Kind.OTHER)
    if not fields or len(fields) % _GROUP:
        raise NotARowError(Kind.COLUMNS)
    values = []
    for place in range(0, len(fields), _GROUP):
        kind, number, _, name = fields[place : place + _GROUP]
        shown = (name.strip() or b"%s%d" % (kind, place // _GROUP)).decode("utf-8", "replace")
        if not is_name(shown):
            raise NotARowError(Kind.TEXT)
        values.append(Value(shown, number))
    return values
