"""Lines with style and the screen they go to: pages on stdout, prompts on stderr.

Neither is drawn by the terminal library, whose import takes longer than most commands that only
look at what is on file.
"""

from __future__ import annotations

import itertools
import os
import sys
from typing import IO, Self

WIDTH_CHARS = 80  # a plain terminal; pages never need more
HEIGHT_CHARS = 24  # where nothing says how high the terminal is

_CODES = {
    "bold": 1, "dim": 2, "reverse": 7, "red": 31, "green": 32, "yellow": 33, "magenta": 35,
}  # fmt: skip
"""Select Graphic Rendition. Source: ECMA-48, 5th edition, 8.3.117."""
_COLOURS = frozenset({"red", "green", "yellow", "magenta"})


class Text:
    """One line of a page: plain text, and stretches of it that have a style.

    Attributes:
        plain: The text.
        spans: Start, end and style of each stretch; words of ``_CODES``, joined by blanks.
    """

    __slots__ = ("plain", "spans")

    def __init__(self, plain: str = "", style: str = "") -> None:
        """A line in one style."""
        self.plain = plain
        self.spans: list[tuple[int, int, str]] = [(0, len(plain), style)] if style else []

    @classmethod
    def assemble(cls, *parts: str | tuple[str, str]) -> Self:
        """A line from plain parts and parts with a style."""
        line = cls()
        for part in parts:
            if isinstance(part, str):
                line.append(part)
            else:
                line.append(*part)
        return line

    def append(self, plain: str, style: str = "") -> None:
        """Append text, in a style of its own."""
        start = len(self.plain)
        self.plain += plain
        self.stylize(style, start)

    def stylize(self, style: str, start: int = 0, end: int | None = None) -> None:
        """Give a stretch a style, the whole line without ``start`` and ``end``."""
        if style:
            self.spans.append((start, len(self.plain) if end is None else end, style))

    def cropped(self, width: int) -> Text:
        """The line cut off at ``width`` columns."""
        line = Text(self.plain[:width])
        line.spans = [(start, min(end, width), style) for start, end, style in self.spans]
        return line

    def ansi(self, *, colour: bool) -> str:
        """The line with control sequences around its stretches."""
        cuts = sorted({0, len(self.plain), *(edge for span in self.spans for edge in span[:2])})
        return "".join(
            self._piece(start, end, colour=colour) for start, end in itertools.pairwise(cuts)
        )

    def _piece(self, start: int, end: int, *, colour: bool) -> str:
        words = [
            word
            for first, last, style in self.spans
            if first <= start and end <= last
            for word in style.split()
        ]
        codes = [str(_CODES[word]) for word in words if colour or word not in _COLOURS]
        piece = self.plain[start:end]
        return f"\x1b[{';'.join(codes)}m{piece}\x1b[0m" if codes else piece


class Screen:
    """A terminal, or a file; honours NO_COLOR and a terminal that says it is dumb.

    Attributes:
        file: What is written to.
        is_terminal: Whether a person looks at it as it comes.
        height: Rows that are seen at once.
        is_plain: Whether it gets text alone.
    """

    def __init__(
        self,
        file: IO[str] | None = None,
        *,
        is_terminal: bool | None = None,
        height: int | None = None,
    ) -> None:
        """Look at what the output is.

        Args:
            file: Where to; stdout when None.
            is_terminal: Whether it is a terminal; asked of the file when None.
            height: Its rows; asked of the terminal when None.
        """
        self.file = sys.stdout if file is None else file
        self.is_terminal = self.file.isatty() if is_terminal is None else is_terminal
        self.height = _terminal_rows() if height is None else height
        self.is_plain = not self.is_terminal or os.environ.get("TERM") == "dumb"
        self._colour = not os.environ.get("NO_COLOR")

    def print(self, *lines: Text) -> None:
        """Put lines on it."""
        for line in lines:
            self.file.write(f"{self.shown(line)}\n")

    def shown(self, line: Text) -> str:
        """A line as it is written: with its styles, where they are understood."""
        return line.plain if self.is_plain else line.ansi(colour=self._colour)

    def write(self, text: str) -> None:
        """Put a text on it at once, with no end of line."""
        self.file.write(text)
        self.file.flush()


def stdout_console() -> Screen:
    """The screen for pages."""
    return Screen()


def _terminal_rows() -> int:
    try:
        return os.get_terminal_size(sys.stdout.fileno()).lines
    except (OSError, ValueError):  # no terminal, or no file behind it
        return HEIGHT_CHARS
