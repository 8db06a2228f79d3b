"""The three standard streams as they really are: closed, full, gone, or short of letters."""

from __future__ import annotations

import codecs
import io
import os
import sys

CANNOT_WRITE_EXIT_CODE = 3
"""The disk behind ``>`` is full: the answer was worked out, but nobody has it."""

_PLAIN_FORM = {
    "█": "#", "▓": "=", "▒": "=", "░": ".", "▀": "#", "▄": "#", "·": ".", "│": "|", "─": "-",
    "╵": "'", "╷": ",", "┌": "+", "┐": "+", "└": "+", "┘": "+", "├": "+", "┤": "+", "┬": "+",
    "┴": "+", "┼": "+", "▁": "_", "▂": "_", "▃": "-", "▅": "=", "▆": "=", "▇": "#", "●": "o",
    "×": "x", "±": "+-", "°": " deg", "µ": "u", "μ": "u", "Ω": "ohm", "√": "sqrt", "−": "-",
    "–": "-", "—": "-", "…": "...", "→": "->", "≥": ">=", "≤": "<=", "½": "1/2", "²": "^2",
    "σ": "sd", "χ": "chi", "‘": "'", "’": "'", "“": '"', "”": '"',
}  # fmt: skip
"""What a terminal shows whose code page lacks a letter; what is drawn keeps its width."""

_HANDLER = "calib.plain"


def plain_form(error: UnicodeError) -> tuple[str, int]:
    """The letters that a code page lacks in their plain form; an error handler of ``codecs``.

    Raises:
        UnicodeError: It was no encoding that failed.
    """
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end]
    return "".join(_PLAIN_FORM.get(letter, "?") for letter in lacking), error.end


def prepare_streams() -> None:
    """Make the three streams usable: what is redirected is UTF-8, what is closed goes nowhere.

    A file or a pipe is read by a program later, which must not depend on this machine's code page;
    a terminal keeps its own, and shows what it lacks in plain letters.
    """
    codecs.register_error(_HANDLER, plain_form)
    _fill_closed()
    _obey_control_sequences()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            encoding = None if stream.isatty() else "utf-8"
            stream.reconfigure(encoding=encoding, errors=_HANDLER)


def _obey_control_sequences() -> None:
    """Have a Windows console obey what moves its cursor; one that cannot is a dumb terminal.

    Source: Microsoft, Console API reference, SetConsoleMode.
    """
    if sys.platform == "win32":
        import ctypes

        output, error, processed, obeys = -11, -12, 0x0001, 0x0004
        for number, stream in ((output, sys.stdout), (error, sys.stderr)):
            handle, mode = ctypes.windll.kernel32.GetStdHandle(number), ctypes.c_uint32()
            if stream.isatty() and not (
                ctypes.windll.kernel32.GetConsoleMode(handle, ctypes.byref(mode))
                and ctypes.windll.kernel32.SetConsoleMode(handle, mode.value | processed | obeys)
            ):
                os.environ["TERM"] = "dumb"


def _fill_closed() -> None:
    """Open nothing in the place of each closed stream, before a capture gets its number."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115


def finish_streams(code: int) -> int:
    """Write out what is still held, and say so where that fails.

    Args:
        code: The exit code so far.

    Returns:
        The exit code to end with.
    """
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _give_up(sys.stdout)  # whoever read it, such as `head`, has seen enough
    except OSError as error:
        code = cannot_write(error)
    try:
        sys.stderr.flush()
    except OSError:
        _give_up(sys.stderr)
    return code


def cannot_write(error: OSError) -> int:
    """Say in one line that the system refused an output; the exit code for it."""
    _give_up(sys.stdout)
    tell(
        f"calib: The output cannot be written: {error.strerror or error}. Make room or choose "
        "another place; what was captured is kept."
    )
    return CANNOT_WRITE_EXIT_CODE


def tell(line: str) -> None:
    """Put one line on stderr; where even that fails, the exit code has to say it.

    Args:
        line: Text of ours, without its end.
    """
    try:
        sys.stderr.write(line + "\n")
        sys.stderr.flush()
    except OSError:
        _give_up(sys.stderr)


def _give_up(stream: io.TextIOBase | object) -> None:
    """Point a stream that takes nothing any more at nothing, or Python complains when it ends."""
    try:
        number = stream.fileno()  # type: ignore[union-attr]
    except (AttributeError, OSError, ValueError):
        return  # not a file of the system's
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, number)
    os.close(nothing)
