"""Cut a stream of bytes into lines, whatever ends them, in bounded memory."""

from __future__ import annotations

import codecs

MAX_LINE = 4096
"""Bytes in a line at most: own choice; 64 columns of our widest numbers need half of it."""


HEAD_BYTES = 4
"""Bytes of a file by which its encoding is told."""


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

    def take_long(self) -> list[bytes]:
        """Heads of the lines that ran over MAX_LINE since the last call."""
        long, self.long = self.long, []
        return long

    def take_rest(self) -> bytes:
        """What has come without an end so far; it is no longer held."""
        rest, self._rest = self._rest + (self._head or b""), b""
        self._head = None
        return rest

    def _begin(self, head: bytes) -> bytes:
        """The first bytes without a byte-order mark; what follows is recoded where it must be."""
        self.recoded = True
        if head.startswith(codecs.BOM_UTF8):
            return head[len(codecs.BOM_UTF8) :]
        little = head.startswith(codecs.BOM_UTF16_LE) or (not head[1] and not head[3] and head[0])
        big = head.startswith(codecs.BOM_UTF16_BE) or (not head[0] and not head[2] and head[1])
        if not little and not big:
            self.recoded = False
            return head
        marked = head[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
        name = "utf-16-le" if little else "utf-16-be"
        self._recode = codecs.getincrementaldecoder(name)("replace")
        return head[2:] if marked else head

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
