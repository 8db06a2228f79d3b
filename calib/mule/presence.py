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
from typing import Final

POSIX: Final = os.name == "posix"
OTHERS_WRITE: Final = stat.S_IWGRP | stat.S_IWOTH


def is_simulated(port: str) -> bool:
    """Whether a simulated bench of this user is running on ``port``."""
    note = _home() / _name(port)
    try:
        return _is_ours(_home()) and _runs(note)
    except (OSError, ValueError):
        return False


def _runs(note: Path) -> bool:
    """Whether the bench that wrote a note still runs.

    Raises:
        OSError: There is no note, or no such process.
        ValueError: It is no note of ours.
    """
    if POSIX:
        os.kill(int(note.read_text(encoding="ascii")), 0)
        return True
    try:
        note.unlink()  # Windows lets nobody remove what a program has open, and signal 0 is Ctrl-C
    except PermissionError:
        return True
    return False


@contextmanager
def announced(port: str) -> Iterator[None]:
    """Say, for as long as the block runs, that a simulated bench is on ``port``."""
    home = _home()
    note = home / _name(port)
    home.mkdir(mode=0o700, exist_ok=True)
    try:
        with note.open("w", encoding="ascii") as file:  # open for as long: see _runs
            file.write(str(os.getpid()))
            file.flush()
            yield
    finally:
        note.unlink(missing_ok=True)


def _home() -> Path:
    user = os.getuid() if POSIX else "here"  # on Windows each has a folder of notes
    return Path(tempfile.gettempdir()) / f"calib-benches-{user}"


def _is_ours(home: Path) -> bool:
    """Whether nobody else could have written into the folder; on Windows its place says so."""
    seen = home.lstat()
    private = not POSIX or (seen.st_uid == os.getuid() and not seen.st_mode & OTHERS_WRITE)
    return stat.S_ISDIR(seen.st_mode) and private


def _name(port: str) -> str:
    place = port if "://" in port else str(Path(port).resolve())
    return "".join(char if char.isalnum() else "_" for char in place)
