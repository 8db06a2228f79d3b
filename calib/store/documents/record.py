"""The document of ``calib record``: what was captured."""

from __future__ import annotations

import msgspec

from calib.store.documents.finding import Document


class ChannelRange(msgspec.Struct, frozen=True, kw_only=True):
    """What was seen on one channel, in ``unit``."""

    low: float
    median: float
    high: float
    unit: str


class RecordDocument(Document, frozen=True, kw_only=True, tag="calib.record/1"):
    """A capture, with the range of each channel.

    Attributes:
        channels: What was seen, by channel.
    """

    channels: dict[str, ChannelRange]
