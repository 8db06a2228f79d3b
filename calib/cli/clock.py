"""The time, read in one place so that everything below the commands is given it."""

from __future__ import annotations

import time
from datetime import UTC, datetime


def now() -> datetime:
    """The time, with its UTC offset."""
    return datetime.now(UTC).astimezone()


def host_clock_s() -> float:
    """The host's steady clock, in seconds."""
    return time.monotonic()
