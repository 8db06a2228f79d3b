"""The terminal while a live page is up: drawn whole, as large as it is now, left clean."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import IO, Final, TextIO

from calib.guide.events import Kind, Listener, LiveEvent
from calib.show.console import Screen, Size, Text
from calib.show.keyboard import QuietKeyboard

# Source: ECMA-48, 5th edition (CUP, EL, ED); the private modes 25 (cursor) and 1049 (another
# screen, the first one kept) are common practice, no source.
_ENTER: Final = "\x1b[?1049h\x1b[?25l\x1b[2J"
_LEAVE: Final = "\x1b[2J\x1b[H\x1b[?25h\x1b[?1049l"
_HOME: Final = "\x1b[H"
_END_OF_LINE: Final = "\x1b[K"
_REST_OF_PAGE: Final = "\x1b[J"


class LiveTerminal:
    """Screen and keyboard while a live page is up; both as they were once it is left.

    Every page is written whole, in the place of the one before, and what it leaves free is erased,
    so that nothing stays behind: neither of a wider terminal, nor of what somebody else wrote.
    """

    def __init__(self, screen: Screen, words: TextIO, *, plain: bool) -> None:
        """Prepare both; nothing is touched before the first page.

        Args:
            screen: What is drawn on.
            words: What is typed on.
            plain: Draw nothing, only quieten the keyboard; so too where nobody sees what is drawn.
        """
        self._screen = screen
        self._words = words
        self._keyboard: QuietKeyboard | None = None
        self._drawn: Size | None = None
        self.is_plain = plain or screen.is_plain

    @property
    def listeners(self) -> tuple[Listener, ...]:
        """Who writes a line an event, where no page is drawn."""
        return (plain_lines(self._screen.file),) if self.is_plain else ()

    def show(self, page: Callable[[Size], Sequence[Text]]) -> str:
        """Show a page, made for the size that there is; what was typed since the last one.

        A key draws it anew, whatever an unquiet terminal made of the key.
        """
        if self._keyboard is None:
            self._keyboard = QuietKeyboard(self._words)
        keys = self._keyboard.keys()
        if not self.is_plain:
            size = self._screen.size()
            self._draw(page(size), size, anew=bool(keys) or size != self._drawn)
        return keys

    def leave(self) -> None:
        """Leave the page; what was typed meanwhile is thrown away."""
        if self._keyboard is not None:
            self._keyboard.restore()
            self._keyboard = None
        if self._drawn is not None:
            self._drawn = None
            with suppress(OSError):  # the terminal may have gone
                self._screen.write(_LEAVE)

    def _draw(self, lines: Sequence[Text], size: Size, *, anew: bool) -> None:
        """Show a page of at most ``size``; what would not fit is cut off."""
        columns, rows = size
        shown = [self._screen.shown(line.cropped(columns - 1)) for line in lines[: rows - 1]]
        page = "".join(f"{line}{_END_OF_LINE}\r\n" for line in shown)
        self._drawn = size
        self._screen.write(f"{_ENTER if anew else ''}{_HOME}{page}{_REST_OF_PAGE}")


def plain_lines(file: IO[str]) -> Listener:
    """Plain mode: a line an event, for a screen reader, a log, or where no page can be drawn."""

    def write(event: LiveEvent) -> None:
        """Write it at once, for who listens works by it. A prompt stands there already."""
        if event.kind is not Kind.PROMPTED:
            file.write(f"  {event.text}\n")
            file.flush()

    return write
