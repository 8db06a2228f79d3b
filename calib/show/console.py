"""Lines with style and the screen they go to: pages on stdout, prompts on stderr.

Neither is drawn by the terminal library, whose import takes longer than most commands that only
look at what is on file.
"""

from __future__ import annotations

import os
import sys
from typing import IO, Self

WIDTH_CHARS = 80  # a plain terminal; pages never need more
HEIGHT_CHARS = 24  # where nothing says how high the terminal is

Size = tuple[int, int]
"""Columns and rows."""

_CODES = {
    "bold": 1, "dim": 2, "reverse": 7, "red": 31, "green": 32, "yellow": 33, "magenta": 35,
}  # fmt: skip
"""Select Graphic Rendition. Source: ECMA-48, 5th edition, 8.3.117."""
_COLOURS = frozenset({"red", "green", "yellow", "magenta"})


class Text:
    """One line of a page.

    Attributes:
        pieces: Its stretches: the text and the style of each, words of ``_CODES`` joined by blanks.
    """

    __slots__ = ("pieces",)

    def __init__(self, plain: str = "", style: str = "") -> None:
        """A line in one style."""
        self.pieces = [(plain, style)]

    @classmethod
    def assemble(cls, *parts: str | tuple[str, str]) -> Self:
        """A line from plain parts and parts with a style."""
        line = cls()
        line.pieces = [(part, "") if isinstance(part, str) else part for part in parts]
        return line

    @property
    def plain(self) -> str:
        """The line without its styles."""
        return "".join(plain for plain, _ in self.pieces)

    def cropped(self, width: int) -> Text:
        """The line cut off at ``width`` columns."""
        line = Text()
        for plain, style in self.pieces:
            line.pieces.append((plain[: width - len(line.plain)], style))
        return line

    def ansi(self, *, colour: bool) -> str:
        """The line with control sequences around its stretches."""
        return "".join(_styled(*piece, colour=colour) for piece in self.pieces)


def _styled(plain: str, style: str, *, colour: bool) -> str:
    codes = [str(_CODES[word]) for word in style.split() if colour or word not in _COLOURS]
    return f"\x1b[{';'.join(codes)}m{plain}\x1b[0m" if codes and plain else plain


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
        self.height = self.size()[1] if height is None else height
        self.is_plain = not self.is_terminal or os.environ.get("TERM") == "dumb"
        self._colour = not os.environ.get("NO_COLOR")

    def size(self) -> Size:
        """As large as it is now; as a plain terminal where it is none."""
        try:
            found = os.get_terminal_size(self.file.fileno())
        except (OSError, ValueError):  # no terminal, or no file behind it
            return WIDTH_CHARS, HEIGHT_CHARS
        return found.columns or WIDTH_CHARS, found.lines or HEIGHT_CHARS

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
