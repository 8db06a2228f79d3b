"""Tools that a test needs and a machine may not have.

A test is skipped with a word without them, but fails where all of them are promised.
"""

from __future__ import annotations

import importlib
import os
import shutil
import sys
from pathlib import Path
from types import ModuleType

import pytest

REPOSITORY = Path(__file__).resolve().parents[1]
OPEN_DATA = Path(os.environ.get("CALIB_OPEN_DATA", REPOSITORY.parent / "shared" / "data"))

needs_posix = pytest.mark.skipif(
    "tests.hidden" in sys.modules,
    reason="what only a POSIX system has (terminal settings, groups, /proc) is hidden from calib",
)


def require_program(name: str) -> str:
    """Path of a program; the test is skipped, or fails under CALIB_REQUIRE_ALL, without it."""
    found = shutil.which(name)
    if found is None:
        _missing(f"{name} is not installed")
        raise AssertionError  # _missing never returns
    return found


def require_header(name: str) -> Path:
    """A C header of the system; without it as without a program."""
    found = Path("/usr/include") / name
    if not found.is_file():
        _missing(f"the header {name} is not installed")
    return found


def require_library(name: str) -> ModuleType:
    """An independent library to hold our arithmetic against."""
    try:
        return importlib.import_module(name)
    except ImportError:
        _missing(f"the reference library {name} is not installed")
        raise


def require_recording(folder: str) -> Path:
    """Folder of an open recording; it lies beside the project, not in it."""
    found = OPEN_DATA / folder
    if not found.is_dir():
        pytest.skip(f"the open recording {folder} is not here")
    return found


def _missing(what: str) -> None:
    if os.environ.get("CALIB_REQUIRE_ALL"):
        pytest.fail(f"{what}, and CALIB_REQUIRE_ALL is set")
    pytest.skip(what)
