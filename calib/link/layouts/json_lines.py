"""JSON lines: one object or array of numbers a line."""

from __future__ import annotations

import re
from collections.abc import Iterator

import msgspec

from calib.link.layouts.block import Kind
from calib.link.layouts.cleaning import MISSING, QUOTES, FieldKind, read_field
from calib.link.layouts.dialect import is_name
from calib.link.layouts.named import Value
from calib.link.layouts.numbers import NotARowError

MAX_DEPTH = 3
"""Objects within objects: own choice, ``{"imu": {"acc": [x, y, z]}}`` is the deepest seen."""

MAX_BRACKETS = 64
"""Opening brackets in a line: own choice; stops a line that is nothing else before it is parsed."""

_AS_NUMBER = {b"true": b"1", b"false": b"0"}
_NOT_FINITE = re.compile(rb"([:,\[]\s*)-?(?:NaN|Infinity)(?=\s*[,\]}])")
_members = msgspec.json.Decoder(dict[str, msgspec.Raw] | list[msgspec.Raw])


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
    pairs = (
        members.items()
        if isinstance(members, dict)
        else ((f"c{place}" if not outer else str(place), raw) for place, raw in enumerate(members))
    )
    for name, member in pairs:
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
        yield Value(name, b"", remarks=frozenset((MISSING,)))
    elif text[:1] != b'"':
        yield Value(name, _AS_NUMBER.get(text, text))
    else:
        yield from _quoted(name, text[1:-1])


def _quoted(name: str, text: bytes) -> Iterator[Value]:
    """A number, a wall clock or a switch in quotes; other words are left out."""
    remarks: set[str] = set()
    try:
        field = read_field(text, comma_parts=True, remarks=remarks)
    except NotARowError:
        return
    if field.kind not in (FieldKind.WORD, FieldKind.ABSENT):
        stamp = field.kind is FieldKind.STAMP
        yield Value(name, field.text, stamp, frozenset(remarks | {QUOTES}))
