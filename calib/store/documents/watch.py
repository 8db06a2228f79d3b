"""The document of ``calib watch``: what was seen while somebody looked on."""

from __future__ import annotations

import msgspec

from calib.store.documents.finding import Document


class SeenRange(msgspec.Struct, frozen=True, kw_only=True):
    """One channel while it was watched, in ``unit``; None where no sample came."""

    last: float | None
    low: float | None
    high: float | None
    unit: str


class WatchDocument(Document, frozen=True, kw_only=True, tag="calib.watch/1"):
    """What was seen; no capture unless one was kept.

    Attributes:
        channels: What was seen, by channel.
        samples: Count of samples.
        rejected_lines: Count of lines that could not be decoded.
        gaps: Count of gaps in time.
        resets: Count of times that the logger restarted.
        rate_hz: Samples a second at the end; None before there was one.
        elapsed_s: Device time that was watched.
    """

    channels: dict[str, SeenRange]
    samples: int
    rejected_lines: int
    gaps: int
    resets: int
    rate_hz: float | None
    elapsed_s: float
