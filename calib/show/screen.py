"""The terminal while a live page is up: drawn whole, as large as it is now, left clean.

Of its keyboard nothing is echoed, and nothing typed outlives the page.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import IO, Final, TextIO

from calib.guide.events import Kind, Listener, LiveEvent
from calib.show.console import Screen, Size, Text

ENTERS = frozenset("\r\n")

# Source: ECMA-48, 5th edition (CUP, EL, ED); the private modes 25 (cursor) and 1049 (another
# screen, the first one kept) are common practice, no source.
_ENTER: Final = "\x1b[?1049h\x1b[?25l\x1b[2J"
_LEAVE: Final = "\x1b[2J\x1b[H\x1b[?25h\x1b[?1049l"
_HOME: Final = "\x1b[H"
_END_OF_LINE: Final = "\x1b[K"
_REST_OF_PAGE: Final = "\x1b[J"

if sys.platform == "win32":
    import ctypes
    import msvcrt

    # Source: Microsoft, Console API reference, GetStdHandle and SetConsoleMode.
    _STD_INPUT_HANDLE = -10
    _ENABLE_LINE_INPUT = 0x0002
    _ENABLE_ECHO_INPUT = 0x0004

    class QuietKeyboard:
        """Keys without their echo, from the console's own input."""

        def __init__(self, words: TextIO) -> None:
            """Quieten the console that ``words`` is read from; nothing where it is none."""
            self._mode: int | None = None
            if not words.isatty():
                return
            self._handle = ctypes.windll.kernel32.GetStdHandle(_STD_INPUT_HANDLE)
            mode = ctypes.c_uint32()
            if ctypes.windll.kernel32.GetConsoleMode(self._handle, ctypes.byref(mode)):
                self._mode = mode.value
                quiet = mode.value & ~(_ENABLE_LINE_INPUT | _ENABLE_ECHO_INPUT)
                ctypes.windll.kernel32.SetConsoleMode(self._handle, quiet)

        def keys(self) -> str:
            """What was typed since the last call."""
            typed = ""
            while self._mode is not None and msvcrt.kbhit():
                typed += msvcrt.getwch()
            return typed

        def restore(self) -> None:
            """Throw away what was typed, and give the console back as it was."""
            if self._mode is not None:
                ctypes.windll.kernel32.FlushConsoleInputBuffer(self._handle)
                ctypes.windll.kernel32.SetConsoleMode(self._handle, self._mode)
                self._mode = None

else:
    import os
    import select

    try:
        import termios
    except ImportError:  # a Python without it leaves the terminal as it is
        _CAN_QUIETEN = False
    else:
        _CAN_QUIETEN = True

    class QuietKeyboard:
        """Keys without their echo, by the terminal's own settings; Ctrl-C still stops."""

        def __init__(self, words: TextIO) -> None:
            """Quieten the terminal that ``words`` is read from; nothing where it is none."""
            self._before: list[int | list[bytes | int]] | None = None
            self._file = -1
            try:
                if not _CAN_QUIETEN or not words.isatty():
                    return
                self._file = words.fileno()
                before = termios.tcgetattr(self._file)
                quiet = list(before)
                quiet[3] = before[3] & ~(termios.ECHO | termios.ICANON)
                termios.tcsetattr(self._file, termios.TCSADRAIN, quiet)
            except (OSError, termios.error):  # no terminal behind it
                return
            self._before = before

        def keys(self) -> str:
            """What was typed since the last call."""
            typed = b""
            with suppress(OSError):  # a terminal that has gone types nothing
                while self._before is not None and select.select([self._file], [], [], 0)[0]:
                    part = os.read(self._file, 1024)
                    typed += part
                    if not part:
                        break
            return typed.decode("ascii", "replace")

        def restore(self) -> None:
            """Throw away what was typed, and give the terminal back as it was."""
            if self._before is not None:
                with suppress(OSError, termios.error):  # it may have gone
                    termios.tcflush(self._file, termios.TCIFLUSH)
                    termios.tcsetattr(self._file, termios.TCSAFLUSH, self._before)
                self._before = None


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
