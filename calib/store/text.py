"""Text that came from a device or a file, made harmless before anybody sees it."""

from __future__ import annotations

LONGEST_SHOWN = 80  # own choice: one terminal line


def neutral(raw: bytes | str, longest: int = LONGEST_SHOWN) -> str:
    r"""One line of printable text from untrusted bytes.

    Control characters, escape sequences, invalid UTF-8, line and paragraph separators and
    direction marks become ``\\x..`` or ``\\u....`` escapes; what is too long is cut and says so.

    Args:
        raw: The untrusted bytes or text.
        longest: Most characters of the result before the cut mark.

    >>> neutral(b"a0=\x1b[31m512")
    'a0=\\x1b[31m512'
    """
    text = raw.decode("utf-8", "backslashreplace") if isinstance(raw, bytes) else raw
    shown = "".join(
        char if char.isprintable() else char.encode("unicode_escape").decode("ascii")
        for char in text[: longest + 1]
    )
    return shown if len(text) <= longest and len(shown) <= longest else shown[:longest] + "…"


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its noun: the plural is the singular and an s unless it is given.

    >>> counted(1, "gap"), counted(0, "gap"), counted(2, "full press", "full presses")
    ('1 gap', '0 gaps', '2 full presses')
    """
    return f"{count} {one if count == 1 else many or f'{one}s'}"
