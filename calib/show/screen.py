"""The terminal while a live page is up: drawn whole, as large as it is now, left clean."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import IO, Final, TextIO

from calib.show.console import HEIGHT_CHARS, WIDTH_CHARS, Text
from calib.show.keyboard import QuietKeyboard

# Source: ECMA-48, 5th edition (CUP, EL, ED); the private modes 25 (cursor) and 1049 (another
# screen, the first one kept) are common practice, no source.
_ENTER: Final = "\x1b[?1049h\x1b[?25l\x1b[2J"
_LEAVE: Final = "\x1b[2J\x1b[H\x1b[?25h\x1b[?1049l"
_HOME: Final = "\x1b[H"
_END_OF_LINE: Final = "\x1b[K"
_REST_OF_PAGE: Final = "\x1b[J"


class LiveScreen:
    """A terminal that shows one page after the other, each in the place of the one before.

    Every frame is written whole and what it leaves free is erased, so that nothing stays behind:
    neither of a wider terminal, nor of what somebody else wrote.
    """

    def __init__(self, file: IO[str], *, colour: bool) -> None:
        """Draw on ``file``, with colours or without."""
        self._file = file
        self._colour = colour
        self._up = False

    def size(self) -> tuple[int, int]:
        """Columns and rows that there are now."""
        try:
            found = os.get_terminal_size(self._file.fileno())
        except (OSError, ValueError):  # no terminal behind it
            return WIDTH_CHARS, HEIGHT_CHARS
        return found.columns or WIDTH_CHARS, found.lines or HEIGHT_CHARS

    def draw(self, lines: Sequence[Text], size: tuple[int, int], *, anew: bool = False) -> None:
        """Show a page of at most ``size``; what would not fit is cut off.

        Args:
            lines: The page.
            size: Columns and rows.
            anew: Erase all of the terminal first.
        """
        columns, rows = size
        start = "" if self._up and not anew else _ENTER
        self._up = True
        shown = [line.cropped(columns - 1).ansi(colour=self._colour) for line in lines[: rows - 1]]
        page = "".join(f"{line}{_END_OF_LINE}\r\n" for line in shown)
        self._file.write(f"{start}{_HOME}{page}{_REST_OF_PAGE}")
        self._file.flush()

    def leave(self) -> None:
        """Give the terminal back as it was."""
        if self._up:
            self._up = False
            self._file.write(_LEAVE)
            self._file.flush()


Size = tuple[int, int]
"""Columns and rows."""


class LiveTerminal:
    """Screen and keyboard while a live page is up; both as they were once it is left."""

    def __init__(self, file: IO[str], words: TextIO, *, is_terminal: bool, plain: bool) -> None:
        """Prepare both; nothing is touched before the first page.

        Args:
            file: What is drawn on.
            words: What is typed on.
            is_terminal: Whether anybody sees what is drawn.
            plain: Draw nothing; only quieten the keyboard.
        """
        self._screen = LiveScreen(file, colour=not os.environ.get("NO_COLOR"))
        self._words = words
        self._keyboard: QuietKeyboard | None = None
        self._size: Size = (0, 0)
        self.is_plain = plain or not is_terminal or os.environ.get("TERM") == "dumb"

    def show(self, page: Callable[[Size], Sequence[Text]]) -> str:
        """Show a page, made for the size that there is; what was typed since the last one.

        A key draws it anew, whatever an unquiet terminal made of the key.
        """
        if self._keyboard is None:
            self._keyboard = QuietKeyboard(self._words)
        keys = self._keyboard.keys()
        if not self.is_plain:
            size = self._screen.size()
            self._screen.draw(page(size), size, anew=bool(keys) or size != self._size)
            self._size = size
        return keys

    def leave(self) -> None:
        """Leave the page; what was typed meanwhile is thrown away."""
        if self._keyboard is not None:
            self._keyboard.restore()
            self._keyboard = None
        with suppress(OSError):  # the terminal may have gone
            self._screen.leave()
