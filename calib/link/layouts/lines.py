"""Streams of bytes cut into lines, and what all layouts do with a line before they read it."""

from __future__ import annotations

import codecs
import re
from abc import ABC, abstractmethod
from collections.abc import Set
from functools import reduce
from operator import xor

from calib.link.layouts.rows import Block, Kind

MAX_LINE = 4096
"""Bytes in a line at most: own choice; 64 columns of our widest numbers need half of it."""

HEAD_BYTES = 4
"""Bytes of a file by which its encoding is told."""

_SUMMED = re.compile(rb"(?s)(.*)\*([0-9A-Fa-f]{2}) *")

ENCODED = "the text was recoded from UTF-16, or its byte-order mark taken off"


class LineCutter:
    """Whole lines out of bytes that come in any pieces; CR, LF and CR LF all end a line.

    Empty lines mean nothing here, so a CR LF torn apart between two reads does no harm.

    Args:
        from_start: The first byte is that of a file, so its encoding is looked for: UTF-16 becomes
            UTF-8, and a byte-order mark is taken off.
    """

    def __init__(self, *, from_start: bool = False) -> None:
        """Start with nothing held."""
        self._head: bytes | None = b"" if from_start else None
        self._recode: codecs.IncrementalDecoder | None = None
        self.recoded = False
        self._rest = b""
        self._skipping = False
        self.long: list[bytes] = []  # heads of lines over MAX_LINE, until taken

    def feed(self, chunk: bytes) -> bytes:
        """Whole lines completed by this chunk, each ending in LF; the rest is held."""
        if self._head is not None:
            self._head += chunk
            if len(self._head) < HEAD_BYTES:
                return b""
            chunk, self._head = self._begin(self._head), None
        if self._recode is not None:
            chunk = self._recode.decode(chunk).encode("utf-8")
        if b"\r" in chunk:
            chunk = chunk.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        data = self._rest + chunk if self._rest else chunk
        cut = data.rfind(b"\n") + 1
        self._rest = data[cut:]
        whole = data[:cut]
        if self._skipping or len(data) > MAX_LINE:
            return self._bound(whole)
        return whole

    def take_rest(self) -> bytes:
        """What has come without an end so far; it is no longer held."""
        rest, self._rest = self._rest + (self._head or b""), b""
        self._head = None
        return rest

    def _begin(self, head: bytes) -> bytes:
        """The first bytes without a byte-order mark; what follows is recoded where it must be."""
        if head.startswith(codecs.BOM_UTF8):
            self.recoded = True
            return head[len(codecs.BOM_UTF8) :]
        marks = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
        if head.startswith(marks[0]) or (not head[1] and not head[3] and head[0]):
            name = "utf-16-le"
        elif head.startswith(marks[1]) or (not head[0] and not head[2] and head[1]):
            name = "utf-16-be"
        else:
            return head
        self.recoded = True
        self._recode = codecs.getincrementaldecoder(name)("replace")
        return head[2:] if head.startswith(marks) else head

    def _bound(self, whole: bytes) -> bytes:
        """Whole without its lines over MAX_LINE; a held line over it is given up."""
        if self._skipping and whole:
            whole = whole[whole.find(b"\n") + 1 :]
            self._skipping = False
        whole = self._without_long(whole)
        if self._skipping:
            self._rest = b""
        elif len(self._rest) > MAX_LINE:
            self.long.append(self._rest[:MAX_LINE])
            self._rest = b""
            self._skipping = True
        return whole

    def _without_long(self, whole: bytes) -> bytes:
        """Hop from line start to line start in steps of MAX_LINE: cheap when all are short."""
        start, kept_from = 0, 0
        kept = []
        while start < len(whole):
            end = whole.rfind(b"\n", start, start + MAX_LINE + 1)
            if end >= 0:
                start = end + 1
                continue
            kept.append(whole[kept_from:start])
            self.long.append(whole[start : start + MAX_LINE])
            start = kept_from = whole.index(b"\n", start) + 1
        kept.append(whole[kept_from:])
        return b"".join(kept)


class Layout(ABC):
    """A push decoder: bytes in any pieces, whole samples out.

    Args:
        whole_start: The first byte fed begins a line (a file), rather than falling somewhere
            inside one (a port just opened): then the first line is not believed.
        xor: Every line ends in an NMEA 0183 style checksum; lines that fail it are rejected.

    Attributes:
        names: Column names as the device gave them, None while it has given none.
        width: Columns in a sample, None while they are not known.
        units: Units that stand behind the numbers, by place of the column; untrusted.
        stamped: Places of the columns that hold a wall clock, as seconds.
    """

    def __init__(self, *, whole_start: bool, xor: bool) -> None:
        """Start with nothing held."""
        self.names: tuple[str, ...] | None = None
        self.width: int | None = None
        self.units: dict[int, str] = {}
        self.stamped: frozenset[int] = frozenset()
        self._believe = whole_start
        self._xor = xor
        self._cutter = LineCutter(from_start=whole_start)
        self._remarked: set[str] = set()

    def feed(self, chunk: bytes, arrival_s: float) -> Block:
        """Take bytes that arrived at arrival_s; give the samples they completed."""
        lines = self._cutter.feed(chunk)
        block = Block([], [], [], arrival_s)
        if self._cutter.recoded:
            self._remark({ENCODED}, block)
        while self._cutter.long:
            block.reject(Kind.LONG, self._cutter.long.pop(0))
        if lines:
            self._read(lines, block)
        return block

    def resync(self) -> None:
        """Bytes were lost: what is held is no line, nor is what comes before the next end."""
        self._cutter = LineCutter()
        self._believe = False

    def finish(self, arrival_s: float) -> Block:
        """No more bytes will come: give what was held back, reject what is incomplete."""
        block = Block([], [], [], arrival_s)
        self._release(block)
        rest = self._cutter.take_rest()
        if rest.strip():
            block.reject(Kind.PARTIAL, rest)
        return block

    def _read(self, lines: bytes, block: Block) -> None:
        """Line by line."""
        for line in lines.split(b"\n"):
            if line.strip() and (kind := self._take(line, block)) is not None:
                block.reject(kind, line)

    def _take(self, line: bytes, block: Block) -> Kind | None:
        """Take one line in; the reason where it is no sample."""
        first, self._believe = not self._believe, True
        if self._xor:
            if (payload := verified(line)) is None:
                return Kind.PARTIAL if first else Kind.CHECKSUM
            line, first = payload, False  # a line with a good checksum is whole
        return self._take_whole(line, block, first=first)

    @abstractmethod
    def _take_whole(self, line: bytes, block: Block, *, first: bool) -> Kind | None:
        """Take a line without its checksum in; ``first`` may be a part of one."""

    @abstractmethod
    def _release(self, block: Block) -> None:
        """Give what was held back for a line that will not come."""

    def _remark(self, remarks: Set[str], block: Block) -> None:
        """Say once what was cleaned."""
        if fresh := remarks - self._remarked:
            self._remarked |= fresh
            block.remarks.extend(sorted(fresh))


def checksum(payload: bytes) -> int:
    """Exclusive or of all bytes, 0 to 255."""
    return reduce(xor, payload, 0)


def verified(line: bytes) -> bytes | None:
    """The line without its ``*hh``, or None where that checksum is missing or wrong.

    Source: NMEA 0183 (the exclusive or of the bytes before the star; a dollar sign or exclamation
    mark at the start is left out of the sum); from memory, checked against published sentences in
    the tests.
    """
    found = _SUMMED.fullmatch(line)
    if found is None:
        return None
    payload = found[1]
    summed = payload[1:] if payload[:1] in (b"$", b"!") else payload
    return payload if int(found[2], 16) == checksum(summed) else None
