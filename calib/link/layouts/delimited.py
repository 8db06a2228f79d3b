"""The delimited layout: numbers apart by comma, semicolon, tab or blanks, one sample a line.

Header or none, any line end, a point or (where the comma does not separate) a comma as decimal
mark. A line that is no plain row is cleaned (`cleaning.py`); what is none for all that is rejected,
counted and kept.
"""

from __future__ import annotations

import re
from collections import deque
from dataclasses import dataclass

from calib.link.layouts import cleaning, dialect, rows
from calib.link.layouts.cleaning import Bared
from calib.link.layouts.dialect import Header
from calib.link.layouts.lines import Layout
from calib.link.layouts.rows import Block, Kind, NotARowError, Row

WORDS_HELD = 8
"""Lines of words that are held until numbers come: own choice, a banner is shorter."""

SMALL_BYTES = 200
"""A batch with dirt is parted down to this, then read line by line: measured, not critical."""

_NUMBER_STARTS = frozenset(b"0123456789+-.")
_PLAIN = Bared(b"")
_WHOLE_SECONDS = re.compile(rb":[0-5]\d:[0-6]\d$")


@dataclass(frozen=True, slots=True)
class _Words:
    """A line that may be the header, until numbers come and decide it."""

    header: Header
    text: bytes  # without its prefix
    raw: bytes
    otherwise: Kind


@dataclass(frozen=True, slots=True)
class _Line:
    """A line that was read as numbers; all but the first four only where it had to be cleaned."""

    separator: bytes
    row: Row
    text: str
    raw: bytes
    bared: Bared = _PLAIN
    words: tuple[tuple[int, bytes], ...] = ()
    stamped: frozenset[int] = frozenset()
    absent: frozenset[int] = frozenset()  # places without a number
    remarks: frozenset[str] = frozenset()
    units: tuple[bytes, ...] = ()

    @property
    def width(self) -> int:
        """Its columns."""
        return len(self.row)

    def names_by(self, header: Header) -> tuple[str, ...] | None:
        """Names of all columns by a header, those of a prefix too; None where it does not fit."""
        prefix, names = self.bared, header.names
        count = self.width - prefix.added
        if header.separator != self.separator and count > 1:
            return None
        tail = () if prefix.tail is None else (cleaning.LOG_MS_NAME,)
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

    def names_in(self, words: _Words) -> tuple[str, ...] | None:
        """Names that a held line of words gives its columns; None where it gives none."""
        names = self.names_by(words.header)
        if names is not None or words.header.separator == self.separator:
            return names
        again = dialect.read_header(words.text, self.separator)
        return None if again is None else self.names_by(again)


class Delimited(Layout):
    """Push decoder of the delimited layout.

    The dialect settles at the first line that agrees with a header before it, or at two numeric
    lines in a row that agree with each other; from then on a line that does not fit is rejected.

    Args:
        whole_start: As of every layout.
        xor: As of every layout.
        separator: One of dialect.SEPARATORS; None to find it.
        decimal: The decimal mark, a point or a comma; None to find it.

    Attributes:
        separator: As given or found, None while it is not known.
        decimal_mark: As given or found; nothing while none was met.
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
        super().__init__(whole_start=whole_start, xor=xor)
        self.separator = separator
        self.decimal_mark = decimal or b""
        self._settled: _Line | None = None  # by which the dialect is known
        self._dirty = False  # the last line had to be cleaned
        self._wordy: frozenset[int] = frozenset()  # columns in which no number was seen yet
        self._labels: frozenset[int] = frozenset()  # columns of words since the first row
        self._order: list[int] | None = None  # of a header that came again in another order
        self._changed = False
        self._words: deque[_Words] = deque()
        self._waiting: _Line | None = None
        self._to_csv = b""
        self._at_once = False  # many lines may be read so: the dialect is known, no checksums

    def _release(self, block: Block) -> None:
        """Give the line that waited for a second one."""
        if self._waiting is not None:
            self._settle(self._waiting, block)
        while self._words:
            self._drop_words(block)

    def _read(self, lines: bytes, block: Block) -> None:
        """All lines in one call; where one of them needs a closer look, in halves, down to it."""
        if self._at_once and self._believe and not self._dirty:
            if self._read_all(lines, block):
                return
            half = lines.rfind(b"\n", 0, len(lines) // 2) + 1
            if len(lines) > SMALL_BYTES and half:
                self._read(lines[:half], block)
                self._read(lines[half:], block)
                return
        super()._read(lines, block)

    def _read_all(self, lines: bytes, block: Block) -> bool:
        """Whether all lines could be read in one call."""
        mark: bytes | None = self.decimal_mark
        if self.separator != b",":
            mark = self._mark_of(lines, self.separator)
            lines = lines.translate(self._to_csv)
        numbers = rows.read_rows(lines, self.width or 1)
        if mark is None or numbers is None:
            return False
        lines = lines.replace(b" ", b"")
        self.decimal_mark = mark
        self._wordy = frozenset()
        block.numbers.extend(numbers)
        block.rows.extend(lines[:-1].decode().split("\n"))
        return True

    def _take(self, line: bytes, block: Block) -> Kind | None:
        """Take one line in; the reason where it is no sample."""
        return Kind.CHANGED if self._changed else super()._take(line, block)

    def _take_whole(self, line: bytes, block: Block, *, first: bool) -> Kind | None:
        """Take a line without its checksum in; ``first`` may be a part of one."""
        if not line.strip():
            return Kind.TEXT
        if line.lstrip(b" \t")[0] in _NUMBER_STARTS:
            return Kind.PARTIAL if first else self._take_row(line, block)
        kind = self._take_words(line, block, first=first)
        return Kind.PARTIAL if first and kind is Kind.TEXT else kind

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
                bared = cleaning.bare(line)
                header = dialect.read_header(bared.text, self.separator) if bared.remarks else None
                return worse.kind if header is None else self._hold(header, bared, line, block)
        return self._place(read, block)

    def _take_words(self, line: bytes, block: Block, *, first: bool) -> Kind | None:
        """A header, a comment, a row with something around it, or none; None while not known."""
        comment = dialect.is_comment(line)
        bared = cleaning.bare(line)
        header = dialect.read_header(bared.text, self.separator)
        if header is not None and not (comment and len(header.names) == 1):
            return self._hold(header, bared, line, block)
        if comment:
            return Kind.COMMENT
        return Kind.TEXT if first else self._take_row(line, block)

    def _hold(self, header: Header, bared: Bared, line: bytes, block: Block) -> Kind | None:
        """A line that may be the header: held until numbers come; None while not known."""
        other = Kind.COMMENT if dialect.is_comment(line) else Kind.TEXT
        if self._settled is not None:
            return self._again(header, self._settled, line, block, other)
        self._words.append(_Words(header, bared.text, line, other))
        if len(self._words) > WORDS_HELD:
            self._drop_words(block)
        return None

    def _again(
        self, header: Header, settled: _Line, line: bytes, block: Block, other: Kind
    ) -> Kind | None:
        """A line of words after samples: the header again, another one, or a row of words."""
        names = settled.names_by(header)
        if names is not None and self.names in (None, names):
            self.names = names
            self._order = None
            return Kind.HEADER
        known = set(self.names or ())
        if names is not None and set(names) == known:
            self._order = [names.index(name) for name in self.names or ()]
            self._at_once = False
            self._remark({cleaning.REORDERED}, block)
            return Kind.HEADER
        try:
            read = self._read_dirty(line)
        except NotARowError:
            plain = header.separator != b" " and all(" " not in name for name in header.names)
            shared = len(known & set(header.names))
            as_wide = names is not None and plain and len(names) > 1
            if known and (as_wide or 2 * shared >= max(2, len(header.names))):
                self._changed, self._at_once = True, False
                return Kind.CHANGED
            return other
        return self._place(read, block)

    def _read_line(self, line: bytes) -> _Line:
        """A line by the rule.

        Raises:
            NotARowError: It is no row of numbers.
        """
        separator = self.separator or dialect.separator_of(line)
        if (mark := self._mark_of(line, separator)) is None:
            raise NotARowError(Kind.TEXT)
        plain = line if separator == b"," else line.replace(b",", b".")
        fields = plain.split() if separator == b" " else plain.split(separator)
        row = rows.parse_row(self._trimmed(fields, 0))
        if len(row) > dialect.MAX_COLUMNS:
            raise NotARowError(Kind.COLUMNS)
        self.decimal_mark = mark
        text = ",".join([part.strip().decode("ascii") for part in fields])
        return _Line(separator, row, text, line)

    def _read_dirty(self, line: bytes) -> _Line:
        """A line with something around its numbers, or without some of them.

        Raises:
            NotARowError: It is no row of numbers for all that.
        """
        bared = cleaning.bare(line)
        remarks = set(bared.remarks)
        text = cleaning.unwrapped(bared.text, remarks)
        separator = self.separator or dialect.separator_of(text)
        raw = self._trimmed(cleaning.split_fields(text, separator, remarks), bared.added)
        raw = self._with_comma_seconds(raw, separator, bared.added)
        lead = [] if bared.lead is None else [bared.lead]
        tail = [] if bared.tail is None else [bared.tail]
        fields = [
            cleaning.read_label(field, remarks)
            if place in self._labels
            else cleaning.read_field(field, comma_parts=separator == b",", remarks=remarks)
            for place, field in enumerate(raw, len(lead))
        ]
        numbers = [text for text, field in zip(raw, fields, strict=True) if field.kind == "number"]
        mark = self._mark_of(b";".join(numbers), separator)
        if mark is None or not any(field.kind in ("number", "switch") for field in fields):
            raise NotARowError(Kind.TEXT)
        self.decimal_mark = mark
        texts = [*lead, *(field.text for field in fields), *tail]
        if len(texts) > dialect.MAX_COLUMNS:
            raise NotARowError(Kind.COLUMNS)
        places = list(enumerate(fields, len(lead)))
        words = tuple((place, each.word) for place, each in places if each.kind == "word")
        units = cleaning.units_in(bared.text) if cleaning.UNITS in remarks else ()
        if self._settled is not None and (
            any(place not in self._wordy | self._labels for place, _ in words)
            or set(units) - set(self._settled.units)
        ):
            raise NotARowError(Kind.TEXT)
        remarks |= {cleaning.WORDS} if words else set()
        stamped = frozenset(place for place, each in places if each.kind == "stamp")
        stamped |= {0} if bared.is_stamp else set()
        absent = frozenset(place for place, each in places if not each.text)
        row, csv = rows.parse_fields(texts), b",".join(texts).decode("ascii")
        return _Line(
            separator, row, csv, line, bared, words, stamped, absent, frozenset(remarks), units
        )

    def _trimmed(self, fields: list[bytes], added: int) -> list[bytes]:
        """Fields without an empty last one, unless that is a column: some end each with a mark."""
        if len(fields) > 1 and not fields[-1].strip() and not self._expects(len(fields), added):
            fields.pop()
        return fields

    def _with_comma_seconds(self, raw: list[bytes], separator: bytes, added: int) -> list[bytes]:
        """Fields in which a time of day got its decimals back that a comma had parted from it.

        Only where the header or the lines before have one column less.
        """
        if separator != b"," or len(raw) < 3 or not _WHOLE_SECONDS.search(raw[0]):
            return raw
        known = self._expects(len(raw) - 1, added)
        return [raw[0] + b"." + raw[1], *raw[2:]] if known and raw[1].isdigit() else raw

    def _expects(self, fields: int, added: int) -> bool:
        """Whether a header or the lines before have so many fields, and what a prefix added."""
        if self._settled is not None:
            return self._settled.width == fields + added
        return any(len(words.header.names) in (fields, fields + added) for words in self._words)

    def _mark_of(self, lines: bytes, separator: bytes | None) -> bytes | None:
        """The decimal mark so far, b"" while none was met; None where two were.

        One of two marks would group thousands, and nobody could say which. Where commas separate,
        there is nothing to tell.
        """
        if separator == b",":
            return self.decimal_mark
        comma, point = b"," in lines, b"." in lines
        if not comma and not point:
            return self.decimal_mark
        mark = b"," if comma else b"."
        return None if (comma and point) or self.decimal_mark not in (b"", mark) else mark

    def _place(self, line: _Line, block: Block) -> Kind | None:
        """Give the row out, or hold it until a second line agrees with it."""
        if self._settled is not None:
            if line.width != self._settled.width:
                return Kind.COLUMNS
            self._give(line, block)
            return None
        waiting, self._waiting = self._waiting, line
        if waiting is not None:
            alike = waiting.width == line.width and waiting.words == line.words
            if alike and waiting.separator == line.separator:
                self._settle(waiting, block)
                return self._place(line, block)
            block.reject(Kind.COLUMNS, waiting.raw)
        talk = bool(line.words) and line.separator == b" "
        if not talk and any(line.names_in(words) is not None for words in self._words):
            self._settle(line, block)
        return None

    def _give(self, line: _Line, block: Block) -> None:
        """Give a row out, in the order of the first header."""
        self._dirty = bool(line.remarks)
        self._wordy &= line.absent
        self._remark(line.remarks, block)
        row, text = line.row, line.text
        if self._order is not None:
            fields = text.split(",")
            row = tuple(row[place] for place in self._order)
            text = ",".join([fields[place] for place in self._order])
        block.numbers.extend(row)
        block.rows.append(text)

    def _settle(self, line: _Line, block: Block) -> None:
        """From this line on the dialect is known."""
        self._settled = line
        self._waiting = None
        self.separator, self.width, self.stamped = line.separator, line.width, line.stamped
        if len(line.units) == line.width - line.bared.added:  # each number has one
            first = int(line.bared.lead is not None)
            behind = [unit.decode("utf-8", "replace") for unit in line.units]
            self.units = dict(enumerate(behind, first))
        self._wordy = line.absent
        self._labels = frozenset(place for place, _ in line.words)
        while self._words:
            names = line.names_in(self._words[0])
            units = dialect.is_units(self._words[0].text, line.separator)
            if names is not None and not (self.names and units):
                self.names = names
                block.reject(Kind.HEADER, self._words.popleft().raw)
            else:
                self._drop_words(block)
        if not self._xor:
            self._at_once = True
            apart = b" \t" if self.separator == b" " else self.separator
            self._to_csv = bytes.maketrans(b"," + apart, b"." + b"," * len(apart))
        self._place(line, block)

    def _drop_words(self, block: Block) -> None:
        """The oldest held line of words was no header."""
        words = self._words.popleft()
        block.reject(words.otherwise, words.raw)
