"""Which ports are simulated benches of this machine: said by a file, never by the line itself.

A device could send any text; only a file that a running ``calib simulate`` of the same user wrote
says that no machine is behind a port, so that the isolation need not be asked for.
"""

from __future__ import annotations

import os
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from calib.errors import UsageError


def require_pseudo_terminals() -> None:
    """Refuse where the bench cannot run.

    Raises:
        UsageError: This system has no pseudo-terminals.
    """
    if os.name != "posix":
        raise UsageError(
            "The simulated bench runs on a pseudo-terminal, which this system has not.",
            "Run it on Linux, on macOS or in WSL.",
        )


def is_simulated(port: str) -> bool:
    """Whether a simulated bench of this user is running on ``port``."""
    if os.name != "posix":  # the bench runs on a pseudo-terminal, which only these systems have
        return False
    note = _home() / _name(port)
    try:
        if not _is_ours(_home()):
            return False
        os.kill(int(note.read_text(encoding="ascii")), 0)
    except (OSError, ValueError):
        return False
    return True


@contextmanager
def announced(port: str) -> Iterator[None]:
    """Say, for as long as the block runs, that a simulated bench is on ``port``."""
    home = _home()
    note = home / _name(port)
    home.mkdir(mode=0o700, exist_ok=True)
    note.write_text(str(os.getpid()), encoding="ascii")
    try:
        yield
    finally:
        note.unlink(missing_ok=True)


def _home() -> Path:
    return Path(tempfile.gettempdir()) / f"calib-benches-{os.getuid()}"


def _is_ours(home: Path) -> bool:
    """Whether nobody else could have written into the folder."""
    seen = home.lstat()
    return (
        stat.S_ISDIR(seen.st_mode)
        and seen.st_uid == os.getuid()
        and not seen.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
    )


def _name(port: str) -> str:
    return "".join(char if char.isalnum() else "_" for char in str(Path(port).resolve()))
