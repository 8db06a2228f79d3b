"""Files that are read and written whole: nothing endless is waited for, nothing is left half."""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from calib.errors import CalibError

MOST_BYTES = 64 * 1024 * 1024
"""Own choice: no rig file, record or note of a capture comes near it; an endless one ends here."""


class NotAFileError(OSError):
    """What lies there is a pipe, a device or a folder, or is larger than such a file can be."""


@contextlib.contextmanager
def refused_as(
    kind: type[CalibError], what: str, hint: str, *, capture: Path | None = None
) -> Iterator[None]:
    """What the disk refuses, told as ours with the system's reason.

    Args:
        kind: The error.
        what: What cannot be done to which file; the reason follows it.
        hint: What to do next.
        capture: The capture that is kept.
    """
    try:
        yield
    except OSError as error:
        raise kind(f"{what}: {error.strerror}.", hint, capture=capture) from error


def metadata_path(path: Path) -> Path:
    """Where the metadata of the capture at ``path`` lies (W3C CSV on the Web, section 5.2)."""
    return path.with_name(path.name + "-metadata.json")


def free_path(folder: Path, now: datetime, about: str, ending: str) -> Path:
    """A path that nothing has: ``<UTC stamp>-<about><ending>``, with a number where it is taken."""
    stem = f"{now.astimezone(UTC).strftime('%Y%m%dT%H%M%SZ')}-{about}"
    path, count = folder / f"{stem}{ending}", 1
    while path.exists() or path.is_symlink():
        count += 1
        path = folder / f"{stem}-{count}{ending}"
    return path


def open_regular(path: Path) -> BinaryIO:
    """Open a plain file to be read; a pipe or a device is refused and never waited for.

    Raises:
        OSError: It cannot be opened, or is no plain file.
    """
    waits_for_nobody = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0)
    handle = os.open(path, os.O_RDONLY | waits_for_nobody | getattr(os, "O_BINARY", 0))
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise NotAFileError(0, "it is no plain file (a pipe, a device or a folder)")
    return os.fdopen(handle, "rb")


def read_whole(path: Path, most: int = MOST_BYTES) -> bytes:
    """All bytes of a plain file.

    Args:
        path: The file, or a link to it.
        most: Bytes above which it is refused.

    Raises:
        OSError: It cannot be read, is no plain file or is too large.
    """
    with open_regular(path) as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise NotAFileError(0, f"it is larger than {most} bytes")
    return content


def write_whole(path: Path, content: bytes) -> None:
    """Put a file in place whole, or leave what was there.

    A link stays a link, and the file that it leads to keeps its mode. The name under which it is
    written first is drawn anew each time and must be free, so nobody can put a link there.

    Raises:
        OSError: It cannot be written.
    """
    import tempfile  # only what writes waits for it

    target = path.resolve()
    handle, name = tempfile.mkstemp(prefix=f".{target.name[:100]}.", dir=target.parent)
    fresh = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        fresh.chmod(_mode(target))
        fresh.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise


def _mode(target: Path) -> int:
    """The mode of a file that is replaced; what a new one gets otherwise."""
    try:
        return stat.S_IMODE(target.stat().st_mode)
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask
