"""Decoded samples on their way from the line to the disk: where live and replay meet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class EventKind(StrEnum):
    """What happened to the line or to the device's clock between two samples."""

    GAP = "gap"
    REPEAT = "repeat"
    RESET = "reset"
    REPLUG = "replug"
    BANNER = "banner"
    CUT = "cut"
    CLEANED = "cleaned"  # what was taken off the lines, or left out of them
    NO_CLOCK = "no-clock"  # times only number the samples


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened to the line, at the sample before which it was seen.

    Attributes:
        kind: What happened.
        time_s: Device time in seconds at which it was seen.
        text: What to tell the person, already neutral.
        duration_s: How long it lasted, in seconds; 0 where it has no length.
        count: How many of its kind it stands for.
    """

    kind: EventKind
    time_s: float
    text: str
    duration_s: float = 0.0
    count: int = 1


MISSING = (EventKind.GAP, EventKind.REPLUG)
"""Between two samples some are missing."""

BREAKS = (*MISSING, EventKind.RESET)
"""Nothing may be joined across them."""


def gap_count(events: Iterable[Event]) -> int:
    """How many gaps in time they tell of."""
    return sum(event.count for event in events if event.kind in MISSING)


@dataclass(frozen=True, slots=True)
class RejectedLine:
    """A line that was not decoded, and why.

    Attributes:
        raw: The bytes as received, cut at the layout's bound. Untrusted: never print them raw.
        reason: Why it was rejected, in our own words.
    """

    raw: bytes
    reason: str


@dataclass(frozen=True, slots=True)
class Samples:
    """A run of samples in the order in which they arrived; it may be empty.

    Attributes:
        time_s: Device clock in seconds, unwrapped, from the first sample; shape (n,).
        arrival_s: Host time in seconds since the start of the capture; shape (n,).
        values: Numbers as received, one column per rig column; shape (n, k); NaN where a
            field is missing.
        rows: The k fields of each row as received, joined by commas (decimal point), a missing one
            empty; n texts.
        rejected: Lines that were not decoded, in order.
        events: Gaps, repeats, resets and the like seen in this run.
    """

    time_s: NDArray[np.float64]
    arrival_s: NDArray[np.float64]
    values: NDArray[np.float64]
    rows: Sequence[str]
    rejected: Sequence[RejectedLine] = field(default=())
    events: Sequence[Event] = field(default=())

    def __len__(self) -> int:
        """Count of samples."""
        return int(self.time_s.shape[0])
