"""The one tree of errors: each says what was seen and what to do, and carries its exit code."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final, Self

if TYPE_CHECKING:
    from pathlib import Path

BOOK: Final = "refusals"
"""The table of what errors say; it is read when the first of them is made."""


class CalibError(Exception):
    """A problem that the person can act on.

    Args:
        what: One line: what was seen (with its value and unit), where, and what was expected.
        hint: One line: what to do next.
        capture: The capture that was kept, where one was under way.
    """

    exit_code: ClassVar[int] = 2

    def __init__(self, what: str, hint: str, *, capture: Path | None = None) -> None:
        """Keep the parts apart, so that a page and a JSON document can place them."""
        super().__init__(f"{what} {hint}".strip())
        self.what = what
        self.hint = hint
        self.capture = capture

    @classmethod
    def of(cls, entry: str, /, *, capture: Path | None = None, **seen: object) -> Self:
        """One in the words of ``calib/data/refusals.txt``.

        Args:
            entry: Its entry in the table.
            capture: The capture that was kept, where one was under way.
            seen: What the words name in braces; text of a device or of a person already neutral.
        """
        from calib.book import entries  # 'calib --help' makes no error, and loads no book

        words = entries(BOOK)[entry]
        return cls(words["what"].format(**seen), words["hint"].format(**seen), capture=capture)


class UsageError(CalibError):
    """Wrong use: a bad option, an unknown channel."""

    exit_code = 2


class RigError(UsageError):
    """The rig file cannot be read or says something that cannot be."""


class NoDataError(CalibError):
    """No usable data came: nothing decodable, an empty capture, an unreadable file."""

    exit_code = 3


class PortError(NoDataError):
    """The serial line cannot be opened or has gone."""


class StoppedError(CalibError):
    """The person stopped the flow; what was captured is kept."""

    exit_code = 130


class BrokenOffError(CalibError):
    """Nobody worked on: what was captured is kept, nothing is judged, no record is replaced."""

    exit_code = 1
