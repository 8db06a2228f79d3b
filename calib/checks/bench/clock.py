"""The logger's own faults in time: samples missed, a clock that jumps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.signals import Floats
from calib.store.documents import said
from calib.store.documents.finding import Finding

MISSED_STEPS = 1.5
"""Own choice: a lost line makes two steps of one, and jitter seldom half a step."""

AROUND = 40
"""Readings on each side of a step over which host and device clock are compared; own choice,
because a USB line hands over that many at a time."""


@dataclass(frozen=True, slots=True)
class ClockFigures:
    """What the times of a capture say.

    Attributes:
        samples: Count of samples that came.
        missed: Count of samples that did not.
        longest_s: Longest time without a sample, s.
        jumps_s: How far the device's clock jumped against the host's, each in s.
    """

    samples: int
    missed: int
    longest_s: float
    jumps_s: tuple[float, ...]

    @property
    def missed_pct(self) -> float:
        """Samples missed in per cent of those that were due."""
        return 100.0 * self.missed / max(1, self.samples + self.missed)


def clock_figures(time_s: Floats, arrival_s: Floats, jump_s: float) -> ClockFigures:
    """Missed samples and jumps of the clock.

    A long step of the device's clock is a jump when the host's clock did not see it pass.

    Args:
        time_s: Device clock, s, shape (n,).
        arrival_s: Host clock, s, shape (n,); not finite where it is unknown.
        jump_s: Limit ``jump_s``.

    Source: own choice of method.
    """
    if time_s.shape[0] < 3:
        return ClockFigures(time_s.shape[0], 0, 0.0, ())
    steps_s = np.diff(time_s)
    usual_s = float(np.median(steps_s))
    if usual_s <= 0.0:
        return ClockFigures(time_s.shape[0], 0, 0.0, ())
    missed, longest_s, jumps_s = 0, 0.0, []
    for place in np.flatnonzero(steps_s > MISSED_STEPS * usual_s).tolist():
        step_s = float(steps_s[place])
        ahead_s = _ahead_s(time_s, arrival_s, place)
        if ahead_s > max(jump_s, 0.5 * step_s):
            jumps_s.append(ahead_s)
            continue
        missed += round(step_s / usual_s) - 1
        longest_s = max(longest_s, step_s)
    back = np.flatnonzero(steps_s < -jump_s).tolist()
    jumps_s.extend(float(steps_s[place]) for place in back)
    return ClockFigures(time_s.shape[0], missed, longest_s, tuple(jumps_s))


def _ahead_s(time_s: Floats, arrival_s: Floats, place: int) -> float:
    """How far the device's clock went ahead of the host's over one step, s; 0 where unknown."""
    window = slice(max(0, place + 1 - AROUND), place + 1 + AROUND)
    offset_s = time_s[window] - arrival_s[window]
    here = place + 1 - window.start
    if not np.isfinite(offset_s).all() or np.ptp(arrival_s[window]) <= 0.0:
        return 0.0
    return float(np.median(offset_s[here:]) - np.median(offset_s[:here]))


def clock_findings(figures: ClockFigures, *, missed_pct: float, jump_s: float) -> Iterator[Finding]:
    """Findings about the times of a capture.

    Args:
        figures: What its times say.
        missed_pct: Limit ``missed_pct``.
        jump_s: Limit ``jump_s``.
    """
    if figures.missed_pct > missed_pct:
        yield said.caution(
            "samples-missed",
            figures.missed_pct,
            missed_pct,
            missed=figures.missed,
            samples=figures.samples + figures.missed,
            longest_s=figures.longest_s,
        )
    if figures.jumps_s:
        worst_s = max(abs(each_s) for each_s in figures.jumps_s)
        yield said.caution("clock-jumps", worst_s, jump_s, jumps_s=len(figures.jumps_s))


def repeat_findings(repeated_pct: float, limit_pct: float) -> Iterator[Finding]:
    """Samples that are copies of the one before.

    Args:
        repeated_pct: Their share of all, in per cent.
        limit_pct: Limit ``repeated_pct``.
    """
    if repeated_pct > limit_pct:
        yield said.caution("samples-repeated", repeated_pct, limit_pct)
