"""The delimited layout: numbers apart by comma, semicolon, tab or blanks, one sample a line.

Header or none, any line end, a point or (where the comma does not separate) a comma as decimal
mark. A line that is no plain row is cleaned (`cleaning.py`); what is none for all that is rejected,
counted and kept.
"""

from __future__ import annotations

import re
from collections import deque
from dataclasses import dataclass

from calib.link.layouts.block import Block, Kind, Row
from calib.link.layouts.cleaning import (
    ENCODED,
    LOG_MS_NAME,
    REORDERED,
    UNITS,
    WORDS,
    Bared,
    Field,
    FieldKind,
    bare,
    read_field,
    read_label,
    split_fields,
    units_in,
    unwrapped,
)
from calib.link.layouts.dialect import (
    COMMENT_MARKS,
    MAX_COLUMNS,
    Dialect,
    Header,
    is_units,
    read_header,
    separator_of,
)
from calib.link.layouts.lines import LineCutter
from calib.link.layouts.numbers import BlockReader, NotARowError, parse_fields, parse_row
from calib.link.layouts.xor import verified

WORDS_HELD = 8
"""Lines of words that are held until numbers come: own choice, a banner is shorter."""

SMALL_BYTES = 200
"""A batch with dirt is parted down to this, then read line by line: measured, not critical."""

PLAIN_SHARE = 0.1
"""Share of a batch that must be plain before its first dirty line for a cut there: own choice, so
that a batch full of dirt is not looked through once a line."""

_NUMBER_STARTS = frozenset(b"0123456789+-.")
_PLAIN = Bared(b"")
_WHOLE_SECONDS = re.compile(rb":[0-5]\d:[0-6]\d$")


@dataclass(frozen=True, slots=True)
class _Words:
    """A line that may be the header, until numbers come and decide it."""

    header: Header
    bared: Bared
    raw: bytes
    otherwise: Kind


@dataclass(frozen=True, slots=True)
class _Line:
    """A line that was read as numbers; all but the first four only where it had to be cleaned."""

    dialect: Dialect
    row: Row
    text: str
    raw: bytes
    bared: Bared = _PLAIN
    words: tuple[tuple[int, bytes], ...] = ()
    stamped: frozenset[int] = frozenset()
    absent: frozenset[int] = frozenset()  # places without a number
    remarks: frozenset[str] = frozenset()
    units: tuple[bytes, ...] = ()


class Delimited:
    """Push decoder of the delimited layout.

    The dialect settles at the first line that agrees with a header before it, or at two numeric
    lines in a row that agree with each other; from then on a line that does not fit is rejected.

    Args:
        whole_start: The first byte fed begins a line (a file), rather than falling somewhere
            inside one (a port just opened): then a first line of numbers is not believed.
        xor: Every line ends in an NMEA 0183 style checksum; lines that fail it are rejected.
        separator: One of dialect.SEPARATORS; None to find it.
        decimal: The decimal mark, a point or a comma; None to find it.
    """

    def __init__(
        self,
        *,
        whole_start: bool,
        xor: bool = False,
        separator: bytes | None = None,
        decimal: bytes | None = None,
    ) -> None:
        """Start with nothing held."""
        self.names: tuple[str, ...] | None = None
        self.stamped: frozenset[int] = frozenset()
        self._dialect: Dialect | None = None
        self._cutter = LineCutter(from_start=whole_start)
        self._remarked: set[str] = set()
        self._dirty = False  # the last line had to be cleaned
        self._wordy: frozenset[int] = frozenset()  # columns in which no number was seen yet
        self._labels: frozenset[int] = frozenset()  # columns of words since the first row
        self._prefix = _PLAIN  # what stands before lines, once the dialect is known
        self._order: list[int] | None = None  # of a header that came again in another order
        self._changed = False
        self._units: tuple[bytes, ...] = ()  # behind the numbers of the first row
        self._xor = xor
        self._believe = whole_start
        self._separator = separator
        self._mark = decimal or b""
        self._words: deque[_Words] = deque()
        self._waiting: _Line | None = None
        self._to_csv = b""
        self._reader: BlockReader | None = None  # once the dialect is known, without checksums

    @property
    def width(self) -> int | None:
        """Columns in a line, None while they are not known."""
        return None if self._dialect is None else self._dialect.width

    @property
    def units(self) -> dict[int, str]:
        """Units that stand behind the numbers, by place; none where not each number has one."""
        width = (self.width or 0) - self._prefix.added
        lead = self._prefix.lead is not None
        texts = [unit.decode("utf-8", "replace") for unit in self._units]
        return {place + lead: unit for place, unit in enumerate(texts) if len(texts) == width}

    @property
    def separator(self) -> bytes | None:
        """One of dialect.SEPARATORS, None while it is not known."""
        return self._separator

    @property
    def decimal_mark(self) -> bytes:
        """The decimal mark, a point or a comma; nothing while none was met."""
        return self._mark

    def feed(self, chunk: bytes, arrival_s: float) -> Block:
        """Take bytes that arrived at arrival_s; give the samples they completed."""
        lines = self._cutter.feed(chunk)
        block = Block([], [], [], arrival_s)
        if self._cutter.recoded:
            self._remark(frozenset((ENCODED,)), block)
        if self._cutter.long:
            for line in self._cutter.take_long():
                block.reject(Kind.LONG, line)
        if lines:
            self._read(lines, block)
        return block

    def resync(self) -> None:
        """Bytes were lost: what is held is no line, nor is what comes before the next end."""
        self._cutter = LineCutter()
        self._believe = False

    def finish(self, arrival_s: float) -> Block:
        """Give the line that waited for a second one; reject what has no end."""
        block = Block([], [], [], arrival_s)
        if self._waiting is not None:
            self._settle(self._waiting, block)
        while self._words:
            self._drop_words(block)
        rest = self._cutter.take_rest()
        if rest.strip():
            block.reject(Kind.PARTIAL, rest)
        return block

    def _read(self, lines: bytes, block: Block) -> None:
        """All lines in one call; where one of them needs a closer look, in pieces around it."""
        if self._reader is not None and self._believe and not self._dirty:
            if self._read_all(lines, self._reader, block):
                return
            if len(lines) > SMALL_BYTES:
                pieces = self._pieces(lines, self._reader)
                if len(pieces) > 1:
                    for piece in pieces:
                        self._read(piece, block)
                    return
        self._read_each(lines, block)

    def _pieces(self, lines: bytes, reader: BlockReader) -> list[bytes]:
        """What is plain up to the first line that is not, that line, the rest; else two halves."""
        stop = reader.plain_bytes(
            lines if self._separator == b"," else lines.translate(self._to_csv)
        )
        if PLAIN_SHARE * len(lines) <= stop < len(lines):
            end = lines.index(b"\n", stop) + 1
            return [lines[:stop], lines[stop:end], lines[end:]]
        half = lines.rfind(b"\n", 0, len(lines) // 2) + 1
        return [lines[:half], lines[half:]] if half else [lines]

    def _read_each(self, lines: bytes, block: Block) -> None:
        """Line by line."""
        for line in lines.split(b"\n"):
            if line.strip():
                kind = self._take(line, block)
                if kind is not None:
                    block.reject(kind, line)

    def _read_all(self, lines: bytes, reader: BlockReader, block: Block) -> bool:
        """Whether all lines could be read in one call."""
        mark = self._mark
        if self._separator != b",":
            found = self._mark_of(lines)
            if found is None:
                return False
            mark = found
            lines = lines.translate(self._to_csv)
        numbers = reader.read(lines)
        if numbers is None:
            return False
        if b" " in lines:
            lines = lines.replace(b" ", b"")
        self._mark = mark
        if self._wordy:
            self._wordy = frozenset()
        block.numbers.extend(numbers)
        block.rows.extend(lines[:-1].decode().split("\n"))
        return True

    def _take(self, line: bytes, block: Block) -> Kind | None:
        """Take one line in; the reason where it is no sample."""
        if self._changed:
            return Kind.CHANGED
        first, self._believe = not self._believe, True
        if self._xor:
            payload = verified(line)
            if payload is None:
                return Kind.PARTIAL if first else Kind.CHECKSUM
            line, first = payload, False  # a line with a good checksum is whole
        if not line.strip():
            return Kind.TEXT
        if line.lstrip(b" \t")[0] not in _NUMBER_STARTS:
            kind = self._take_words(line, block, first=first)
            return Kind.PARTIAL if first and kind is Kind.TEXT else kind
        if first:
            return Kind.PARTIAL
        return self._take_row(line, block)

    def _take_row(self, line: bytes, block: Block) -> Kind | None:
        """Take a line of numbers in, cleaned where it must be."""
        try:
            read = self._read_line(line)
        except NotARowError as error:
            if error.kind is not Kind.TEXT:
                return error.kind
            try:
                read = self._read_dirty(line)
            except NotARowError as worse:
                bared = bare(line)
                header = read_header(bared.text, self._separator) if bared.remarks else None
                return worse.kind if header is None else self._hold(header, bared, line, block)
        return self._place(read, block)

    def _take_words(self, line: bytes, block: Block, *, first: bool) -> Kind | None:
        """A header, a comment, a row with something around it, or none; None while not known."""
        comment = line.lstrip().startswith(COMMENT_MARKS)
        bared = bare(line)
        header = read_header(bared.text, self._separator)
        if header is None or (comment and len(header.names) == 1):
            other = Kind.COMMENT if comment else Kind.TEXT
            return other if comment or first else self._take_row(line, block)
        return self._hold(header, bared, line, block)

    def _hold(self, header: Header, bared: Bared, line: bytes, block: Block) -> Kind | None:
        """A line that may be the header: held until numbers come; None while not known."""
        other = Kind.COMMENT if line.lstrip().startswith(COMMENT_MARKS) else Kind.TEXT
        if self._dialect is None:
            self._words.append(_Words(header, bared, line, other))
            if len(self._words) > WORDS_HELD:
                self._drop_words(block)
            return None
        return self._again(header, line, block, other)

    def _again(self, header: Header, line: bytes, block: Block, other: Kind) -> Kind | None:
        """A line of words after samples: the header again, another one, or a row of words."""
        if self._dialect is None:
            return other
        names = self._named(header, self._dialect, self._prefix)
        if names is not None and self.names in (None, names):
            self.names = names
            self._order = None
            return Kind.HEADER
        known = set(self.names or ())
        if names is not None and set(names) == known:
            self._order = [names.index(name) for name in self.names or ()]
            self._reader = None
            self._remark(frozenset((REORDERED,)), block)
            return Kind.HEADER
        try:
            read = self._read_dirty(line)
        except NotARowError:
            plain = header.separator != b" " and all(" " not in name for name in header.names)
            shared = len(known & set(header.names))
            as_wide = names is not None and plain and len(names) > 1
            if known and (as_wide or 2 * shared >= max(2, len(header.names))):
                self._changed, self._reader = True, None  # nor may many lines at once be rows
                return Kind.CHANGED
            return other
        return self._place(read, block)

    def _read_line(self, line: bytes) -> _Line:
        """A line by the rule.

        Raises:
            NotARowError: It is no row of numbers.
        """
        separator = self._separator or separator_of(line)
        plain, mark = line, self._mark
        if separator != b",":
            found = self._mark_of(line)
            if found is None:
                raise NotARowError(Kind.TEXT)
            plain, mark = line.replace(b",", b"."), found
        fields = plain.split() if separator == b" " else plain.split(separator)
        row = parse_row(self._trimmed(fields, 0))
        if len(row) > MAX_COLUMNS:
            raise NotARowError(Kind.COLUMNS)
        self._mark = mark
        text = ",".join([part.strip().decode("ascii") for part in fields])
        return _Line(Dialect(separator, len(row)), row, text, line)

    def _trimmed(self, fields: list[bytes], added: int) -> list[bytes]:
        """Fields without an empty last one, unless that is a column: some end each with a mark."""
        if len(fields) > 1 and not fields[-1].strip():
            width = len(fields) + added
            known = (
                any(len(words.header.names) in (len(fields), width) for words in self._words)
                if self._dialect is None
                else width == self._dialect.width
            )
            if not known:
                fields.pop()
        return fields

    def _read_dirty(self, line: bytes) -> _Line:
        """A line with something around its numbers, or without some of them.

        Raises:
            NotARowError: It is no row of numbers for all that.
        """
        bared = bare(line)
        remarks = set(bared.remarks)
        text = unwrapped(bared.text, remarks)
        separator = self._separator or separator_of(text)
        raw = self._trimmed(split_fields(text, separator, remarks), bared.added)
        raw = self._with_comma_seconds(raw, separator, bared.added)
        comma_parts = separator == b","
        labels = {place - (bared.lead is not None) for place in self._labels}
        fields = [
            read_label(field, remarks)
            if place in labels
            else read_field(field, comma_parts=comma_parts, remarks=remarks)
            for place, field in enumerate(raw)
        ]
        self._mark = self._mark_in(raw, fields, comma_parts=comma_parts)
        if not any(field.kind in (FieldKind.NUMBER, FieldKind.SWITCH) for field in fields):
            raise NotARowError(Kind.TEXT, raw[0] if raw else b"")
        lead = [] if bared.lead is None else [bared.lead]
        tail = [] if bared.tail is None else [bared.tail]
        texts = [*lead, *(field.text for field in fields), *tail]
        if len(texts) > MAX_COLUMNS:
            raise NotARowError(Kind.COLUMNS)
        places = [(place + len(lead), field) for place, field in enumerate(fields)]
        words = tuple((place, each.word) for place, each in places if each.kind is FieldKind.WORD)
        units = units_in(bared.text) if UNITS in remarks else ()
        if self._dialect is not None and (
            any(place not in self._wordy | self._labels for place, _ in words)
            or set(units) - set(self._units)
        ):
            raise NotARowError(Kind.TEXT, words[0][1] if words else b"".join(units))
        stamped = {place for place, each in places if each.kind is FieldKind.STAMP}
        return _Line(
            Dialect(separator, len(texts)),
            parse_fields(texts),
            b",".join(texts).decode("ascii"),
            line,
            bared,
            words,
            frozenset(stamped | ({0} if bared.is_stamp else set())),
            frozenset(place for place, each in places if not each.text),
            frozenset(remarks | ({WORDS} if words else set())),
            units,
        )

    def _with_comma_seconds(self, raw: list[bytes], separator: bytes, added: int) -> list[bytes]:
        """Fields in which a time of day got its decimals back that a comma had parted from it.

        Only where the header or the lines before have one column less.
        """
        if separator != b"," or len(raw) < 3 or not _WHOLE_SECONDS.search(raw[0]):
            return raw
        width = len(raw) + added - 1
        known = (
            any(len(words.header.names) in (len(raw) - 1, width) for words in self._words)
            if self._dialect is None
            else width == self._dialect.width
        )
        return [raw[0] + b"." + raw[1], *raw[2:]] if known and raw[1].isdigit() else raw

    def _mark_in(self, raw: list[bytes], fields: list[Field], *, comma_parts: bool) -> bytes:
        """The decimal mark of a cleaned line, as `_mark_of`.

        Raises:
            NotARowError: There are two.
        """
        numbers = [
            text for text, field in zip(raw, fields, strict=True) if field.kind is FieldKind.NUMBER
        ]
        mark = self._mark if comma_parts else self._mark_of(b";".join(numbers))
        if mark is None:
            raise NotARowError(Kind.TEXT, raw[0])
        return mark

    def _mark_of(self, lines: bytes) -> bytes | None:
        """The decimal mark so far, b"" while none was met; None where two were.

        One of two marks would group thousands, and nobody could say which.
        """
        comma, point = b"," in lines, b"." in lines
        if not comma and not point:
            return self._mark
        mark = b"," if comma else b"."
        return None if (comma and point) or self._mark not in (b"", mark) else mark

    def _place(self, line: _Line, block: Block) -> Kind | None:
        """Give the row out, or hold it until a second line agrees with it."""
        if self._dialect is not None:
            if line.dialect.width != self._dialect.width:
                return Kind.COLUMNS
            self._give(line, block)
            return None
        waiting, self._waiting = self._waiting, line
        same = waiting is not None and waiting.dialect == line.dialect
        if waiting is not None and same and waiting.words == line.words:
            self._settle(waiting, block)
            return self._place(line, block)
        if waiting is not None:
            block.reject(Kind.COLUMNS, waiting.raw)
        talk = bool(line.words) and line.dialect.separator == b" "
        if not talk and any(self._names_in(words, line) is not None for words in self._words):
            self._settle(line, block)
        return None

    def _give(self, line: _Line, block: Block) -> None:
        """Give a row out, in the order of the first header."""
        self._dirty = bool(line.remarks)
        if self._wordy:
            self._wordy &= line.absent
        if line.remarks:
            self._remark(line.remarks, block)
        row, text = line.row, line.text
        if self._order is not None:
            fields = text.split(",")
            row = tuple(row[place] for place in self._order)
            text = ",".join([fields[place] for place in self._order])
        block.numbers.extend(row)
        block.rows.append(text)

    def _remark(self, remarks: frozenset[str], block: Block) -> None:
        """Say once what was cleaned."""
        fresh = remarks - self._remarked
        if fresh:
            self._remarked |= fresh
            block.remarks.extend(sorted(fresh))

    def _named(self, header: Header, dialect: Dialect, prefix: Bared) -> tuple[str, ...] | None:
        """Names of all columns by a header, those of a prefix too; None where it does not fit."""
        count, names = dialect.width - prefix.added, header.names
        if header.separator != dialect.separator and count > 1:
            return None
        tail = () if prefix.tail is None else (LOG_MS_NAME,)
        if len(names) == count:
            lead = () if prefix.lead is None else (prefix.lead_name,)
            return (*lead, *names, *tail)
        if prefix.lead is None:
            return None
        if len(names) == count + 1:
            return (*names, *tail)
        if prefix.is_stamp and len(names) == count + 2:  # a date, and a time of day
            return (f"{names[0]} {names[1]}", *names[2:], *tail)
        return None

    def _names_in(self, words: _Words, line: _Line) -> tuple[str, ...] | None:
        """Names that a held line of words gives the columns of a line."""
        names = self._named(words.header, line.dialect, line.bared)
        if names is not None or words.header.separator == line.dialect.separator:
            return names
        again = read_header(words.bared.text, line.dialect.separator)
        return None if again is None else self._named(again, line.dialect, line.bared)

    def _settle(self, line: _Line, block: Block) -> None:
        """From this line on the dialect is known."""
        self._dialect = line.dialect
        self._separator = line.dialect.separator
        self._waiting = None
        self._prefix = line.bared
        self._wordy = line.absent
        self._labels = frozenset(place for place, _ in line.words)
        self._units = line.units
        self.stamped = line.stamped
        while self._words:
            names = self._names_in(self._words[0], line)
            units = is_units(self._words[0].bared.text, line.dialect.separator)
            if names is not None and not (self.names and units):
                self.names = names
                block.reject(Kind.HEADER, self._words.popleft().raw)
            else:
                self._drop_words(block)
        if not self._xor:
            self._reader = BlockReader(line.dialect.width)
            apart = b" \t" if self._separator == b" " else self._separator
            self._to_csv = bytes.maketrans(b"," + apart, b"." + b"," * len(apart))
        self._place(line, block)

    def _drop_words(self, block: Block) -> None:
        """The oldest held line of words was no header."""
        words = self._words.popleft()
        block.reject(words.otherwise, words.raw)
