"""How a piece of evidence stands today: good, failed, unknown, stale or missing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Generic, TypeVar

from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Document, Severity
from calib.store.documents.note import Happening, NoteDocument
from calib.store.records import Record, inputs_hash
from calib.store.rig import Rig

D = TypeVar("D", bound=Document)
D_co = TypeVar("D_co", bound=Document, covariant=True)

KEPT_DAYS = 30
"""Own choice, because plugs, springs and floors change in a month of building."""


class State(StrEnum):
    """How evidence stands, best first; only ``good`` may be built upon."""

    GOOD = "good"
    MISSING = "missing"
    STALE = "stale"
    UNKNOWN = "unknown"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Standing(Generic[D_co]):
    """The newest evidence of one kind.

    Attributes:
        state: How it stands.
        why: One sentence for the person; empty when it is good.
        record: The record, whatever its state; None when there is none.
        document: What the record holds.
    """

    state: State
    why: str = ""
    record: Record | None = None
    document: D_co | None = None

    @property
    def is_good(self) -> bool:
        """Whether it may be built upon."""
        return self.state is State.GOOD


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything on file for one rig, and the time at which it is looked at.

    Attributes:
        rig: The rig file as it is now.
        records: All records, oldest first.
        now: The time, with its UTC offset.
    """

    rig: Rig
    records: Sequence[Record]
    now: datetime

    def standing(
        self,
        kind: type[D],
        *,
        channel: str | None = None,
        about: Callable[[D], bool] | None = None,
    ) -> Standing[D]:
        """The newest record of ``kind`` that was not superseded, and how it stands.

        An older good record never stands in for a newer bad one.

        Args:
            kind: The kind of document.
            channel: The channel that it is about; any when None.
            about: Whether a document answers the question; every one does when None.
        """
        found = self._counted(kind, channel, about)
        if not found:
            return Standing(State.MISSING, "Not measured yet.")
        return self._stands(*found[-1])

    def good(
        self,
        kind: type[D],
        *,
        channel: str | None = None,
        about: Callable[[D], bool] | None = None,
    ) -> list[tuple[Record, D]]:
        """Every record of ``kind`` that may be built upon together with the newest, oldest first.

        They were made under the rig's inputs as they are now, and each stands good by itself;
        none where the newest does not.

        Args:
            kind: The kind of document.
            channel: The channel that it is about; any when None.
            about: Whether a document answers the question; every one does when None.
        """
        found = self._counted(kind, channel, about)
        if not found or not self._stands(*found[-1]).is_good:
            return []
        return [each for each in found if self._stands(*each).is_good]

    def _counted(
        self, kind: type[D], channel: str | None, about: Callable[[D], bool] | None
    ) -> list[tuple[Record, D]]:
        """The records that answer a question and were not superseded, oldest first."""
        found: list[tuple[Record, D]] = []
        for each in self.records:
            document = each.document
            if each.superseded is not None or channel not in (None, each.channel):
                continue
            if isinstance(document, kind) and (about is None or about(document)):
                found.append((each, document))
        return found

    def _stands(self, record: Record, document: D) -> Standing[D]:
        """How one record stands, whatever came after it."""
        old = stale_because(record, self)
        if old is not None:
            return Standing(State.STALE, old, record, document)
        if document.verdict is Severity.FAIL:
            return Standing(State.FAILED, _worst_text(document), record, document)
        if document.verdict is Severity.UNKNOWN:
            return Standing(State.UNKNOWN, _worst_text(document), record, document)
        return Standing(State.GOOD, "", record, document)


def stale_because(record: Record, evidence: Evidence) -> str | None:
    """Why a record no longer speaks for the machine as it is; None while it does."""
    rig = evidence.rig
    missing = [name for name in record.inputs if name not in rig.channels]
    if missing:
        return f"The rig file no longer has the channel {missing[0]!r}."
    if inputs_hash(rig, record.inputs, tilt=record.tilt) != record.inputs_sha256:
        return "Column, unit, scale or mounting changed in the rig file since it was measured."
    happened = _happened_since(record, evidence.records)
    if happened is not None:
        return f"Since it was measured the machine was changed: {happened}."
    age = evidence.now - record.made
    if age > timedelta(days=KEPT_DAYS):
        return f"It is {age.days} days old; evidence is kept for {KEPT_DAYS}."
    return None


def _happened_since(record: Record, records: Sequence[Record]) -> Happening | None:
    """What was noted after ``record`` that it does not outlive.

    For tilt that is anything. A control outlives a rewire once a whole bench check after it was
    good; a quick one flexes no connector.
    """
    open_note: Happening | None = None
    for later in records:
        if later.superseded is not None or later.made <= record.made:
            continue
        document = later.document
        if isinstance(document, NoteDocument) and (record.tilt or document.what == "rewired"):
            open_note = document.what
        elif isinstance(document, CheckDocument) and document.is_whole and not record.tilt:
            open_note = None if document.verdict.is_good else open_note
    return open_note


def _worst_text(document: Document) -> str:
    """The statement of the worst finding."""
    if not document.findings:
        return "No reason was noted."
    return max(document.findings, key=lambda finding: finding.severity.rank).text
