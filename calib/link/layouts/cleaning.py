"""What loggers put around their numbers, taken off one line by what the line itself shows.

Only a line that is no plain row comes here, so lines that need no cleaning pay nothing for it.
Nothing is guessed: a prefix has one of the forms of the trade, a unit is a known one, a word counts
as 0 or 1 only if it names the state of a switch. What stays unread refuses the line.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from calib.link.layouts.dialect import fields_in, separator_of
from calib.link.layouts.rows import Kind, NotARowError, parse_row
from calib.link.layouts.stamps import STAMP, seconds_of, stamp_s, stamp_text
from calib.store.text import neutral

COLOURS = "colour codes were taken off"
PREFIX = "a prefix was taken off each line"
BRACKETS = "brackets were taken off"
QUOTES = "quotes were taken off"
UNITS = "units were taken off the numbers"
WALL_CLOCK = "wall-clock text was read as seconds"
SWITCHED = "words of a switch count as 0 and 1"
WORDS = "a column of words was left out"
MISSING = "fields without a number count as missing"
REORDERED = "the header came again with its columns in another order, and was followed"

STAMP_NAME, LOG_MS_NAME, LOG_S_NAME, UNNAMED_NAME = "stamp", "log_ms", "log_s", "unnamed"
"""Names of columns that a prefix gives."""

_LABEL = re.compile(rb"[ -~]{1,40}")
"""A word in a column of words: of 40 printable bytes at most, own choice, as for names."""

_WORD = re.compile(rb"[A-Za-z_$#][ -~]{0,39}")
"""A word in place of a number, and no number gone wrong."""

_ESCAPE = re.compile(rb"\x1b(?:\[[0-9;:?]*[ -/]*[@-~]|[@-Z\\-_])")
_WALL = re.compile(
    rb"(?:[IWEDV] (?=\())?[\[(<{]?\s*(?P<stamp>" + STAMP.pattern + rb")\s*[\])>}]?"
    rb"(?:\s*(?:->|=>|>|\||:|-)\s+|(?!\s*[,;])\s+(?:->|=>)?\s*|(?=[\[({\"]))"
)
_COUNTED = re.compile(rb"[IWEDV] \((?P<ms>\d{1,15})\) [^:]{1,40}:\s*")
_SECONDS = re.compile(rb"\[\s*(?P<s>\d{1,9}\.\d{3,9})\]\s*(?!,|;|$)")
_LEVEL = re.compile(
    rb"[\[(<]?(?:TRACE|DEBUG|INFO|NOTICE|WARN|WARNING|ERROR|VERBOSE|LOG|DBG|INF|WRN|ERR)[\])>]?"
    rb"\s*[:|-]?\s+",
    re.IGNORECASE,
)
_NUMBER_AHEAD = rb"(?=[-+.\d(\[{<\"'])"
_TAG = re.compile(
    rb"(?:\[[A-Za-z_][\w ./-]{0,30}\]\s*[:-]?\s*"
    rb"|(?:[A-Za-z_][\w./-]{0,30}(?:\[\d+\])?:){1,3}\s*" + _NUMBER_AHEAD + rb"(?!\s*$)"
    rb"|[A-Za-z_][\w ./-]{0,30}(?:\s*->|\s*=>|>|:|\s-)\s+" + _NUMBER_AHEAD + rb")"
)
_NAME_AHEAD = re.compile(
    rb"(?:\[[A-Za-z_][\w ./-]{0,30}\]\s*[:-]?\s*|[A-Za-z_][\w ./-]{0,30}(?::|>|->|\s-)\s+)"
    rb"(?=[{\[(\"']|[A-Za-z_][\w ./()-]{0,40}[:=])"
)
_UNNAMED = re.compile(
    rb"[\"']?(?:" + STAMP.pattern + rb"|(?P<number>\d{1,15}(?:\.\d{1,9})?))[\"']?\s*[,;\t ]\s*"
    rb"(?=[A-Za-z_\"'{])"
)
"""A time or a count without a name, before values that have one."""
_PROMPT = re.compile(rb"(?:>{1,3}|\$|->|=>|\*)\s*(?=[-+.\d(\[{<\"']|[A-Za-z_][\w ]{0,40}[:=])")
_HEX = re.compile(rb"0[xX][0-9A-Fa-f]{1,12}")
UNIT = (
    rb"(?:mV|uV|\xc2\xb5V|kV|V|mA|A|m/s\^?2|m/s\xc2\xb2|rad/s|deg/s|dps|degrees|degree|deg|rad|mg|g"
    rb"|\xc2\xb0[CF]?|\xb0[CF]?|degC|degF|C|F|%|percent|counts|count|cnts|cnt|LSB|ms|us|\xc2\xb5s|s"
    rb"|sec|Hz|rpm|km/h|m/s|hPa|kPa|Pa|uT|G|ohm|kohm|K|W|volts|volt|mm|cm|m)"
)
"""Units of the trade, as written behind numbers."""
_WITH_UNIT = re.compile(
    rb"(?<![\w.])([-+]?(?:\d[\d.,]*|\.\d+)(?:[eE][-+]?\d{1,3})?)\s?("
    + UNIT
    + rb")(?![\w/^=:]|\s*[=:])"
)
_CLOSING = {b"[": b"]", b"(": b")", b"{": b"}", b"<": b">"}

_ABSENT = frozenset(
    b"nan|+nan|-nan|nan(ind)|-nan(ind)|null|none|nil|na|n/a|#n/a|undefined|missing|-|--|---|----|?|"
    b"***|inf|+inf|-inf|infinity|+infinity|-infinity|ovf|overflow".split(b"|")
) | {b""}
_ON = frozenset(b"high|hi|on|true|yes|pressed|closed|active|enabled".split(b"|"))
_OFF = frozenset(b"low|lo|off|false|no|released|open|inactive|disabled".split(b"|"))


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a line.

    Attributes:
        kind: What it holds.
        text: Its number, as it is to be kept; empty where it has none.
        word: A word in place of a number, untrusted.
    """

    kind: Literal["number", "absent", "switch", "stamp", "word"]
    text: bytes
    word: bytes = b""


@dataclass(frozen=True, slots=True)
class Bared:
    """A line without its prefix.

    Attributes:
        text: What is left.
        lead: Seconds of a wall clock, or of the logger's, that stood before it; None where none.
        lead_name: Name for that column.
        tail: Milliseconds that the logger's own prefix counted; None where it counted none.
        remarks: What was taken off.
    """

    text: bytes
    lead: bytes | None = None
    lead_name: str = STAMP_NAME
    tail: bytes | None = None
    remarks: frozenset[str] = frozenset()

    @property
    def is_stamp(self) -> bool:
        """Whether a wall clock stood before it."""
        return self.lead is not None and self.lead_name == STAMP_NAME

    @property
    def added(self) -> int:
        """Columns that the prefix gives."""
        return (self.lead is not None) + (self.tail is not None)


def bare(line: bytes, *, named: bool = False) -> Bared:
    """A line without colour codes and prefixes; what they tell of time is kept.

    Args:
        line: As received.
        named: Its values carry names, so that a word before a number may be one.
    """
    remarks: set[str] = set()
    text = line.strip(b" \t")
    if b"\x1b" in text:
        text = _ESCAPE.sub(b"", text).strip(b" \t")
        remarks.add(COLOURS)
    if b"|" in text and not any(mark in text for mark in (b",", b";", b"\t")):
        text = text.strip(b"| ").replace(b"|", b";")
        remarks.add(BRACKETS)
    lead = tail = None
    name = STAMP_NAME
    for _ in range(4):  # a stamp, a level, a name and a mark are the longest seen
        found = None
        if lead is None:
            found, lead, name = _leading(text, named=named)
            if lead is not None and name == STAMP_NAME:
                remarks.add(WALL_CLOCK)
        if lead is None and tail is None and (found := _COUNTED.match(text)) is not None:
            tail = found["ms"]
        if found is None:
            tag = (_NAME_AHEAD if named else _TAG).match(text)
            found = _LEVEL.match(text) or tag or _PROMPT.match(text)
        if found is None or found.end() == 0 or found.end() >= len(text):
            break
        text = text[found.end() :]
        remarks.add(PREFIX)
    return Bared(text, lead, name, tail, frozenset(remarks))


def _leading(text: bytes, *, named: bool) -> tuple[re.Match[bytes] | None, bytes | None, str]:
    """A time or a count before the values: what stands there, its number, and a column's name."""
    unnamed = _UNNAMED.match(text) if named else None
    for found in (_WALL.match(text), unnamed):
        if found is not None and (found["h"] or found["compact"]) and found.end() < len(text):
            seconds = seconds_of(found)
            if seconds is not None:
                return found, stamp_text(seconds), STAMP_NAME
    if counted := _SECONDS.match(text):
        return counted, counted["s"], LOG_S_NAME
    if unnamed is not None and unnamed["number"]:
        return unnamed, unnamed["number"], UNNAMED_NAME
    return None, None, STAMP_NAME


def units_in(text: bytes) -> tuple[bytes, ...]:
    """Units behind the numbers of a line, in order."""
    return tuple(found[1] for found in _WITH_UNIT.findall(text))


def unwrapped(text: bytes, remarks: set[str]) -> bytes:
    """What stands inside brackets, quotes or bars around the whole, units taken off."""
    inner = text
    if len(inner) > 1 and inner[-1:] == b";" and inner.count(b";") == 1:
        inner = inner[:-1].rstrip()
    if b"|" in inner:
        inner = inner.strip(b"| ").replace(b"|", b"," if b";" in inner else b";")
        remarks.add(BRACKETS)
    while inner[-1:] == _CLOSING.get(inner[:1]):
        apart = re.escape(inner[-1:]) + rb"\s*[,;]?\s*" + re.escape(inner[:1])
        between = [part.strip(b" ,;\t") for part in re.split(apart, inner[1:-1])]
        if any(inner[:1] in part or inner[-1:] in part for part in between):
            break
        inner = b",".join(between)
        remarks.add(BRACKETS)
    if inner[:1] == b'"' and inner[-1:] == b'"' and inner.count(b'"') == 2 and len(inner) > 2:
        inner = inner[1:-1]
        remarks.add(QUOTES)
    plain = _WITH_UNIT.sub(rb"\1", inner)
    if plain != inner:
        remarks.add(UNITS)
    return plain


def split_fields(text: bytes, separator: bytes, remarks: set[str]) -> list[bytes]:
    """Fields of a line; a separator inside quotes parts nothing."""
    if b'"' in text and separator != b" ":
        remarks.add(QUOTES)
        return [part.encode("latin-1") for part in fields_in(text.decode("latin-1"), separator)]
    return text.split() if separator == b" " else text.split(separator)


def read_field(field: bytes, *, comma_parts: bool, remarks: set[str]) -> Field:
    """One field.

    Args:
        field: As received.
        comma_parts: Commas separate fields here, so none is a decimal mark.
        remarks: What was taken off is added.

    Raises:
        NotARowError: It is nothing that can be read.
    """
    text = field.strip(b" \t")
    bare_text = text.strip(b"[](){}<>\"' ")
    if bare_text != text:
        remarks.add(QUOTES if text[:1] in b"\"'" else BRACKETS)
    folded = bare_text.lower()
    if folded in _ABSENT:
        remarks.add(MISSING)
        return Field("absent", b"")
    if (number := _number_in(bare_text, comma_parts=comma_parts)) is not None:
        return Field("number", number)
    if folded in _ON or folded in _OFF:
        remarks.add(SWITCHED)
        return Field("switch", b"1" if folded in _ON else b"0")
    if (seconds := stamp_s(bare_text)) is not None:
        remarks.add(WALL_CLOCK)
        return Field("stamp", stamp_text(seconds))
    if _WORD.fullmatch(bare_text):
        return Field("word", b"", bare_text)
    raise NotARowError(Kind.TEXT)


def read_label(field: bytes, remarks: set[str]) -> Field:
    """One field of a column of words: a word, whatever it looks like (``1R``).

    Raises:
        NotARowError: It is no printable text.
    """
    text = field.strip(b" \t\"'")
    if not text:
        remarks.add(MISSING)
        return Field("absent", b"")
    if not _LABEL.fullmatch(text):
        raise NotARowError(Kind.TEXT)
    return Field("word", b"", text)


def _number_in(text: bytes, *, comma_parts: bool) -> bytes | None:
    """A decimal or hexadecimal number with a decimal point; None where it is none.

    Raises:
        NotARowError: It is too large.
    """
    if _HEX.fullmatch(text):
        return b"%d" % int(text, 16)
    if not comma_parts and text.count(b",") == 1 and b"." not in text:
        text = text.replace(b",", b".")
    if not (text[-1:].isdigit() or text[-1:] == b"."):
        return None
    try:
        parse_row([text])
    except NotARowError as error:
        if error.kind is Kind.SIZE:
            raise
        return None
    return text


def fault_in(line: bytes) -> str:
    """``: 'LINE', where FAULT``: what of a line cannot be read, in words; empty without a line."""
    if not line:
        return ""
    return f": {neutral(line, 60)!r}, where {neutral(_fault_of(line), 90)}"


def _fault_of(line: bytes) -> str:
    """What of a line cannot be read; the field is quoted raw."""
    remarks: set[str] = set()
    text = unwrapped(bare(line).text, remarks)
    separator = separator_of(text)
    for place, field in enumerate(split_fields(text, separator, remarks), 1):
        shown = repr(field.strip().decode("utf-8", "replace"))
        try:
            read = read_field(field, comma_parts=separator == b",", remarks=remarks)
        except NotARowError as error:
            why = "is too large" if error.kind is Kind.SIZE else "is no number"
            return f"field {place}, {shown}, {why}"
        if read.kind == "word":
            return f"field {place}, {shown}, is a word"
    return "its count of fields is not that of the lines around it"
