"""A note of what was done to the machine, which may make evidence stale."""

from __future__ import annotations

from typing import Literal

from calib.store.documents.finding import Document

Happening = Literal["rewired", "remounted", "dropped", "tyre", "fork", "spring"]


class NoteDocument(Document, frozen=True, kw_only=True, tag="calib.note/1"):
    """Something happened to the machine.

    Attributes:
        what: What happened.
        remark: The person's own words; empty without.
    """

    what: Happening
    remark: str = ""
