"""The document of ``calib`` alone: what is done, missing or stale, and the next command."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.documents.finding import Document

StepState = Literal["done", "failed", "unknown", "stale", "to do", "left out"]


class StatusStep(msgspec.Struct, frozen=True, kw_only=True):
    """One part of the work.

    Attributes:
        name: What it is.
        state: How it stands; ``left out`` marks what may be skipped and was.
        text: Why, one sentence.
        command: What to run for it.
    """

    name: str
    state: StepState
    text: str
    command: str


class StatusDocument(Document, frozen=True, kw_only=True, tag="calib.status/1"):
    """How far the work is.

    Attributes:
        rig: The machine's name; None while there is no rig file.
        steps: The parts of the work in their order.
        next: The next command; None when everything is done.
        left_over: Captures that no record rests on, with the command that judges them.
    """

    rig: str | None = None
    steps: tuple[StatusStep, ...] = ()
    next: str | None = None
    left_over: tuple[str, ...] = ()
