"""The document of ``calib setup``: what was found, stated or assumed, and what was written."""

from __future__ import annotations

from enum import StrEnum

import msgspec

from calib.store.documents.finding import Document


class Origin(StrEnum):
    """Where a value of the rig file comes from."""

    FOUND = "found"  # from what the logger sent
    STATED = "stated"  # by the person
    KEPT = "kept"  # stood in the file
    ASSUMED = "assumed"  # nobody measured or stated it


class Setting(msgspec.Struct, frozen=True, kw_only=True):
    """One value of the rig file.

    Attributes:
        table: As it stands in the file: ``link``, ``channels.throttle``.
        key: Its name.
        value: As it is in the file now.
        origin: Where it comes from.
        why: What speaks for it; empty where there is nothing to say.
        changed: Whether this run wrote it.
    """

    table: str
    key: str
    value: bool | int | float | str | tuple[float | str, ...]
    origin: Origin
    why: str = ""
    changed: bool = False


class ColumnSeen(msgspec.Struct, frozen=True, kw_only=True):
    """One column that the logger sends; its name is untrusted and neutral.

    Attributes:
        number: Its place, from 0.
        name: As the logger names it; None where it sends no header.
        low: Lowest number seen.
        high: Highest number seen.
        use: ``time``, the name of its channel, or None where nothing is known of it.
    """

    number: int
    name: str | None
    low: float
    high: float
    use: str | None


class RateTried(msgspec.Struct, frozen=True, kw_only=True):
    """One rate that was listened at.

    Attributes:
        baud: Bits a second.
        received_bytes: Bytes that came.
        understood_pct: Share of the lines that decode, in per cent.
    """

    baud: int
    received_bytes: int
    understood_pct: float


class SetupDocument(Document, frozen=True, kw_only=True, tag="calib.setup/1"):
    """A rig file as it was made or changed.

    Attributes:
        rig: The rig file.
        created: It was not there before.
        port: The port that was listened to; None where a file was read.
        tried: Rates that were listened at, in order.
        settings: Every value that was looked at, in the order of the file.
        columns: Every column that the logger sends.
    """

    rig: str
    created: bool
    port: str | None
    tried: tuple[RateTried, ...]
    settings: tuple[Setting, ...]
    columns: tuple[ColumnSeen, ...]
