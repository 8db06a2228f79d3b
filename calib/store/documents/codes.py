"""The codes of all findings: one code for one fact, whichever command finds it.

They stand in ``calib/data/findings.txt`` in the order of causes: a code stands before everything
that may follow from it. Findings of one severity are told in this order. Source of what follows
from what: own judgement of cause and effect.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import msgspec

from calib.book import entries

BOOK: Final = "findings"
"""The table of codes and of their words."""


_PUBLISHED: Final = {"here": "may_cause_on_its_channel", "elsewhere": "may_cause_on_others"}


class Code(msgspec.Struct, frozen=True, rename=_PUBLISHED):
    """One fact that a finding may state.

    Attributes:
        code: Its short name.
        about: The fact, in a few words.
        here: What may follow from it on the same channel, by code.
        elsewhere: What may follow from it on any other channel, by code.
    """

    code: str
    about: str
    here: tuple[str, ...]
    elsewhere: tuple[str, ...]


def _spelt_out(words: str) -> Iterator[str]:
    """Codes of a list that may name groups of them, ``@group``."""
    for word in words.split():
        if word.startswith("@"):
            yield from _spelt_out(entries(BOOK)[""][word])
        else:
            yield word


CODES: Final[dict[str, Code]] = {
    code: Code(
        code,
        fields["about"],
        tuple(_spelt_out(fields.get("here", ""))),
        tuple(_spelt_out(fields.get("elsewhere", ""))),
    )
    for code, fields in entries(BOOK).items()
    if "about" in fields
}

PLACE: Final = {code: number for number, code in enumerate(CODES)}
"""Each code's place in the list."""


def published() -> dict[str, Any]:
    """The list as ``calib schema findings`` prints it."""
    return {"title": "calib findings", "findings": list(CODES.values())}
