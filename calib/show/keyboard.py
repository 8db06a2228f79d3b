"""The keyboard while a live page is up: nothing is echoed, nothing typed outlives the page."""

from __future__ import annotations

import sys
from contextlib import suppress
from typing import TextIO

ENTERS = frozenset("\r\n")

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
