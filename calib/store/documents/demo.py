"""The document of ``calib demo``: what each command at the simulated bench came to."""

from __future__ import annotations

import msgspec

from calib.store.documents.finding import Document


class DemoStep(msgspec.Struct, frozen=True, kw_only=True):
    """One command of the demo.

    Attributes:
        command: As it is typed after ``calib``.
        exit_code: Its exit code.
        as_expected: Whether it ended as it should.
    """

    command: str
    exit_code: int
    as_expected: bool


class DemoDocument(Document, frozen=True, kw_only=True, tag="calib.demo/1"):
    """The demo; its verdict is fail where a step surprised or a planted fault was not found.

    Attributes:
        folder: Where rig file, captures, records and pages lie.
        steps: The commands, in order.
        fault: The fault that was planted, as it was asked for; None for a sound bench.
        found: Whether the records say of it; None without a fault.
    """

    folder: str
    steps: tuple[DemoStep, ...]
    fault: str | None = None
    found: bool | None = None
