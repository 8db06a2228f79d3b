"""Real-time priority, so that a benchmark measures calib and not the load beside it."""

from __future__ import annotations

import os


def take_realtime(*, inherited: bool = True) -> str:
    """Ask for real-time priority; the words for the result table.

    Args:
        inherited: Child processes have it too.
    """
    try:
        kept = 0 if inherited else os.SCHED_RESET_ON_FORK
        os.sched_setscheduler(0, os.SCHED_FIFO | kept, os.sched_param(10))
    except (AttributeError, OSError):
        return "ordinary priority: on a busy machine the figures are those of its load"
    return "real-time priority"
