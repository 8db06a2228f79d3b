"""Tables of words that come with the package, so that what is read like a book is written as one.

A line ``[name]`` begins an entry; ``field: words`` is one of its fields, and goes on in lines that
are set in. What stands before the first entry belongs to the entry without a name. ``#`` begins a
remark.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Final

Fields = dict[str, str]

DATA: Final = Path(__file__).parent / "data"
"""Beside the code: to import ``importlib.resources`` takes longer than to read a book."""


def packaged(*path: str) -> str:
    """A text that comes with the package, by its place in ``calib/data/``."""
    return DATA.joinpath(*path).read_text(encoding="utf-8")


@cache
def entries(name: str) -> dict[str, Fields]:
    """The entries of one table by their names, in its order.

    Args:
        name: Its file in ``calib/data/``, without the ending.
    """
    text = packaged(f"{name}.txt")
    before, *rest = re.split(r"^\[(.+)\]$", text, flags=re.MULTILINE)
    named = zip(rest[::2], rest[1::2], strict=True)
    return {"": _fields(before)} | {entry: _fields(block) for entry, block in named}


def _fields(block: str) -> Fields:
    found = re.findall(r"^(@?[\w-]+):(.*(?:\n  .*)*)", block, flags=re.MULTILINE)
    return {field: " ".join(words.split()) for field, words in found}
