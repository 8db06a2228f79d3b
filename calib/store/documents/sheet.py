"""The documents of ``calib sheet``: the values to type in, and how they were verified."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.documents.finding import Document

EntryState = Literal["ready", "failed", "unknown", "stale", "not measured"]


class SheetEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One value to type into the controller, or why there is none.

    Attributes:
        name: What it is, in words of the trade.
        channel: The channel it belongs to.
        value: The number to type in, in ``unit``; None unless ``state`` is ``ready``.
        unit: Its unit; empty where it is a word.
        word: What to choose where the controller takes a word and not a number; None otherwise.
        u: Standard uncertainty of ``value``; None where it has none.
        expanded: Half-width about ``value`` that holds the truth with ``coverage``; None likewise.
        coverage: Probability with which it does.
        decimals: Digits after the point in which it is typed.
        state: Whether there is a value, and why not.
        origin: The record, and what decided the value; or why there is none and what to do.
        warnings: What the value rests on that nobody measured or proved; said beside it.
        measured_at: When, ISO 8601; None where nothing was measured.
        record: Id of the record; None where there is none.
    """

    name: str
    channel: str
    unit: str
    state: EntryState
    origin: str
    value: float | None = None
    word: str | None = None
    u: float | None = None
    expanded: float | None = None
    coverage: float | None = None
    decimals: int = 2
    warnings: tuple[str, ...] = ()
    measured_at: str | None = None
    record: str | None = None


class SheetDocument(Document, frozen=True, kw_only=True, tag="calib.sheet/1"):
    """All values to type into the controller, each with its origin."""

    entries: tuple[SheetEntry, ...] = ()


class ShownFigure(msgspec.Struct, frozen=True, kw_only=True):
    """One figure that the controller shows, beside what it should show.

    Attributes:
        figure: Which figure.
        name: The same in words of the trade.
        expected: What it should show, in volts.
        shown: What it shows, in volts.
        allowed: How far the two may lie apart, in volts.
    """

    figure: Literal["start", "end", "rest", "full"]
    name: str
    expected: float
    shown: float
    allowed: float

    @property
    def agrees(self) -> bool:
        """Whether they lie no further apart than is allowed."""
        return abs(self.shown - self.expected) <= self.allowed


class VerifyDocument(Document, frozen=True, kw_only=True, tag="calib.verify/1"):
    """What the controller shows for one control after typing in, and the wheel-up creep check.

    Attributes:
        channel: The control.
        travel: Id of the travel record that it was held against.
        comparisons: Figure by figure.
        creep: What the wheel did with the hand off: ``still``, ``creeps``; None if not tried.
        unplugged_between: Whether the logger's tap was taken off after the travel was measured.
    """

    channel: str
    travel: str | None = None
    comparisons: tuple[ShownFigure, ...] = ()
    creep: Literal["still", "creeps"] | None = None
    unplugged_between: bool = False
