"""Real-time priority, so that a benchmark measures calib and not the load beside it."""

from __future__ import annotations

import os


def take_realtime() -> str:
    """Ask for real-time priority; the words for the result table.

    Child processes inherit it.
    """
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(10))
    except (AttributeError, OSError):
        return "ordinary priority: on a busy machine the figures are those of its load"
    return "real-time priority"
