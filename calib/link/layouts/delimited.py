"""The delimited layout: numbers apart by comma, semicolon, tab or blanks, one sample a line.

Header or none, any line end, a point or (where the comma does not separate) a comma as decimal
mark. Everything else that such a line meets in a garage is rejected, counted and kept.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from calib.link.layouts.block import Block, Kind, Row
from calib.link.layouts.dialect import (
    COMMENT_MARKS,
    MAX_COLUMNS,
    Dialect,
    Header,
    read_header,
    separator_of,
)
from calib.link.layouts.lines import LineCutter
from calib.link.layouts.numbers import BlockReader, NotARowError, parse_row
from calib.link.layouts.xor import verified

WORDS_HELD = 8
"""Lines of words that are held until numbers come: own choice, a banner is shorter."""

SMALL_BYTES = 200
"""A batch with dirt is halved down to this, then read line by line: measured, not critical."""

_NUMBER_STARTS = frozenset(b"0123456789+-.")


@dataclass(frozen=True, slots=True)
class _Words:
    """A line that may be the header, until numbers come and decide it."""

    header: Header
    raw: bytes
    otherwise: Kind


@dataclass(frozen=True, slots=True)
class _Line:
    """A line that was read as numbers."""

    dialect: Dialect
    row: Row
    text: str
    raw: bytes


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
        self._dialect: Dialect | None = None
        self._cutter = LineCutter()
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
        """All lines in one call; where one of them needs a closer look, half and half."""
        if self._reader is not None and self._believe:
            if self._read_all(lines, self._reader, block):
                return
            if len(lines) > SMALL_BYTES:
                half = lines.rfind(b"\n", 0, len(lines) // 2) + 1
                if half:
                    self._read(lines[:half], block)
                    self._read(lines[half:], block)
                    return
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
        block.numbers.extend(numbers)
        block.rows.extend(lines[:-1].decode().split("\n"))
        return True

    def _take(self, line: bytes, block: Block) -> Kind | None:
        """Take one line in; the reason where it is no sample."""
        first, self._believe = not self._believe, True
        if self._xor:
            payload = verified(line)
            if payload is None:
                return Kind.PARTIAL if first else Kind.CHECKSUM
            line, first = payload, False  # a line with a good checksum is whole
        if not line.strip():
            return Kind.TEXT
        if line.lstrip(b" \t")[0] not in _NUMBER_STARTS:
            kind = self._take_words(line, block)
            return Kind.PARTIAL if first and kind is Kind.TEXT else kind
        if first:
            return Kind.PARTIAL
        try:
            read = self._read_line(line)
        except NotARowError as error:
            return error.kind
        return self._place(read, block)

    def _take_words(self, line: bytes, block: Block) -> Kind | None:
        """A header, a comment or neither; None while that is not known."""
        comment = line.lstrip().startswith(COMMENT_MARKS)
        other = Kind.COMMENT if comment else Kind.TEXT
        header = read_header(line, self._separator)
        if header is None or (comment and len(header.names) == 1):
            return other
        if self._dialect is None:
            self._words.append(_Words(header, line, other))
            if len(self._words) > WORDS_HELD:
                self._drop_words(block)
            return None
        if header.fits(self._dialect) and self.names in (None, header.names):
            self.names = header.names
            return Kind.HEADER
        return other

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
        if len(fields) > 1 and not fields[-1].strip():
            fields.pop()  # some sketches end each field, the last too, with the separator
        row = parse_row(fields)
        if len(row) > MAX_COLUMNS:
            raise NotARowError(Kind.COLUMNS)
        self._mark = mark
        text = ",".join([part.strip().decode("ascii") for part in fields])
        return _Line(Dialect(separator, len(row)), row, text, line)

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
            block.numbers.extend(line.row)
            block.rows.append(line.text)
            return None
        waiting, self._waiting = self._waiting, line
        if waiting is not None and waiting.dialect == line.dialect:
            self._settle(waiting, block)
            return self._place(line, block)
        if waiting is not None:
            block.reject(Kind.COLUMNS, waiting.raw)
        if any(words.header.fits(line.dialect) for words in self._words):
            self._settle(line, block)
        return None

    def _settle(self, line: _Line, block: Block) -> None:
        """From this line on the dialect is known."""
        self._dialect = line.dialect
        self._separator = line.dialect.separator
        self._waiting = None
        while self._words:
            if self._words[0].header.fits(line.dialect):
                words = self._words.popleft()
                self.names = words.header.names
                block.reject(Kind.HEADER, words.raw)
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
