"""Layouts in which each value carries its name: pairs, JSON lines, NMEA sentences.

Each has a function that reads one line; `Named` makes samples of what they read. A sample is one
round of names: all in one line, or spread over several lines that take turns.

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
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import msgspec

from calib.link.layouts import cleaning
from calib.link.layouts.dialect import LONGEST_NAME, MAX_COLUMNS, is_comment, is_name
from calib.link.layouts.lines import Layout
from calib.link.layouts.rows import Block, Kind, NotARowError, parse_fields, parse_row
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
        if (pair := _PAIR.match(line, place, end)) is None:
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
        if (pair := _DRESSED.match(text, place, end)) is None:
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
    remarks = {cleaning.QUOTES}
    with suppress(NotARowError):
        field = cleaning.read_field(text, comma_parts=True, remarks=remarks)
        if field.kind not in ("word", "absent"):
            yield Value(name, field.text, field.kind == "stamp", frozenset(remarks))


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


class Named(Layout):
    """Push decoder of lines of named values.

    The names settle at two rounds that agree; from then on a line with another name is rejected,
    and so is a round that a repeated name cuts short.

    Args:
        parse: Reads one line.
        parse_dressed: Reads a line that ``parse`` cannot, without its prefix; ``parse`` where None.
        whole_start: As of every layout.
        xor: As of every layout.
    """

    def __init__(
        self,
        parse: Parse,
        *,
        whole_start: bool,
        xor: bool = False,
        parse_dressed: Parse | None = None,
    ) -> None:
        """Start with nothing held."""
        super().__init__(whole_start=whole_start, xor=xor)
        self._parse = parse
        self._parse_dressed = parse_dressed or parse
        self._stamps: set[str] = set()
        self._units: dict[str, str] = {}
        self._round: dict[str, bytes] = {}
        self._first: dict[str, bytes] | None = None

    def resync(self) -> None:
        """Bytes were lost: what is held is no line, nor is what comes before the next end."""
        super().resync()
        self._round = {}

    def _release(self, block: Block) -> None:
        """Give the one round there was; one that is not whole is dropped."""
        if self.names is None and self._round:
            self._settle([self._first or self._round], block)

    def _take_whole(self, line: bytes, block: Block, *, first: bool) -> Kind | None:
        """Take one line in; the reason where it is no sample."""
        if first:
            return Kind.PARTIAL
        try:
            values = self._values(line)
            parse_row([value.text for value in values if value.text])
        except NotARowError as error:
            return error.kind
        if any(self._units.get(value.name, value.unit) != value.unit for value in values):
            return Kind.TEXT  # the same number in another unit is another number
        self._note(values)
        self._remark({remark for value in values for remark in value.remarks}, block)
        found = {value.name: value.text for value in values}
        if len(found) < len(values) or len(found) > MAX_COLUMNS:
            return Kind.COLUMNS
        if self.names is not None:
            return self._place(found, self.names, block)
        self._learn(found, block)
        return None

    def _note(self, values: Sequence[Value]) -> None:
        """Keep which names have a unit or hold a wall clock; it may stand in later lines only."""
        known = len(self._units), len(self._stamps)
        self._units |= {value.name: value.unit for value in values if value.text}
        self._stamps |= {value.name for value in values if value.is_stamp}
        if known != (len(self._units), len(self._stamps)):
            self._describe()

    def _values(self, line: bytes) -> list[Value]:
        """Values of a line, without what a logger may put before them.

        Raises:
            NotARowError: It has none.
        """
        try:
            return self._parse(line)
        except NotARowError as error:
            if error.kind is not Kind.TEXT:
                raise
        bared = cleaning.bare(line, named=True)
        values = self._parse_dressed(bared.text)
        if bared.lead is not None:
            values.insert(0, Value(bared.lead_name, bared.lead, bared.is_stamp))
        if bared.tail is not None:
            values.append(Value(cleaning.LOG_MS_NAME, bared.tail))
        values[-1] = replace(values[-1], remarks=values[-1].remarks | bared.remarks)
        return values

    def _learn(self, found: dict[str, bytes], block: Block) -> None:
        """A round ends where a name comes again; two rounds of the same names settle them."""
        if not found.keys() & self._round.keys():
            self._round |= found
            if len(self._round) > MAX_COLUMNS:
                self._round = found
        else:
            self._first, self._round = self._round, found
        if self._first is not None and self._first.keys() == self._round.keys():
            self._settle([self._first, self._round], block)

    def _settle(self, rounds: list[dict[str, bytes]], block: Block) -> None:
        """From here on the names are known."""
        self.names = tuple(rounds[0])
        self.width = len(self.names)
        self._describe()
        for each in rounds:
            self._give(each, block)

    def _describe(self) -> None:
        """Which columns have a unit, and which hold a wall clock, as far as lines have told."""
        columns = list(enumerate(self.names or ()))
        self.units = {place: self._units[name] for place, name in columns if self._units.get(name)}
        self.stamped = frozenset(place for place, name in columns if name in self._stamps)

    def _place(self, found: dict[str, bytes], names: tuple[str, ...], block: Block) -> Kind | None:
        """Add to the round, and give it out when it is whole."""
        if not found.keys() <= set(names):
            return Kind.COLUMNS
        cut_short = bool(found.keys() & self._round.keys())
        self._round = found if cut_short else self._round | found
        if len(self._round) == len(names):
            self._give(self._round, block)
        return Kind.COLUMNS if cut_short else None

    def _give(self, values: dict[str, bytes], block: Block) -> None:
        """One sample, in the settled order."""
        fields = [values[name] for name in self.names or ()]
        block.numbers.extend(parse_fields(fields))
        block.rows.append(b",".join(fields).decode("ascii"))
        self._round = {}
