"""Hides from calib what Windows has not: ``pytest -p tests.hidden tests/unit tests/flows``.

Python's modules for terminals, groups and locks cannot be imported by calib, and there is no /proc;
tests and libraries keep them, so that a test's own device can still be a pseudo-terminal.
"""

from __future__ import annotations

import builtins
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any

HIDDEN = frozenset({"pty", "fcntl", "termios", "grp", "tty"})

_import, _glob = builtins.__import__, Path.glob


def _hiding_import(
    name: str,
    globals: Mapping[str, Any] | None = None,
    locals: Mapping[str, Any] | None = None,
    fromlist: Sequence[str] | None = (),
    level: int = 0,
) -> ModuleType:
    importer = str((globals or {}).get("__name__", ""))
    if name in HIDDEN and level == 0 and importer.partition(".")[0] == "calib":
        message = f"No module named {name!r}"
        raise ModuleNotFoundError(message, name=name)
    found: ModuleType = _import(name, globals, locals, fromlist or (), level)
    return found


def _hiding_glob(path: Path, pattern: str, **more: Any) -> Iterator[Path]:
    return iter(()) if path == Path("/proc") else _glob(path, pattern, **more)


def hide() -> None:
    """From now on calib finds none of them; before any of calib is imported."""
    builtins.__import__ = _hiding_import
    Path.glob = _hiding_glob  # type: ignore[assignment,method-assign]


hide()
