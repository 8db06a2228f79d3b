"""The two tracks of one control: whether they agree over the travel."""

from __future__ import annotations

import numpy as np

from calib.checks.hands import Expected, Hand
from calib.checks.limits import limit
from calib.checks.signals import Floats, Signals, block_means, runs
from calib.store.documents.finding import Finding, Severity

GRID_S = 0.01
"""Time over which readings are averaged; own choice, a tenth of what may pass in disagreement."""


def tracks_finding(
    signals: Signals, first: Hand, second: Hand, ends: dict[str, Expected]
) -> Finding | None:
    """Two tracks that disagree by more than a share of the travel for longer than a while.

    Args:
        signals: The whole capture.
        first: One track.
        second: The other.
        ends: Rest and full travel of both in this check, by name.

    Source: limits ``tracks_pct`` and ``tracks_s``.
    """
    if first.name not in ends or second.name not in ends:
        return None
    block = signals.samples_in(GRID_S)
    apart = np.abs(_share(first, ends, block) - _share(second, ends, block))
    allowed = limit("tracks_pct", first.signal.channel) / 100.0
    step_s = block / signals.rate_hz
    longest = max((len(run) for run in runs(apart > allowed)), default=0) * step_s
    if longest <= limit("tracks_s", first.signal.channel):
        return None
    return Finding(
        code="tracks-disagree",
        severity=Severity.FAIL,
        text=f"{first.name} and {second.name} are two tracks of one control and differ by up to "
        f"{100 * float(np.nanmax(apart)):.0f} % of the travel, for {longest:.2f} s: one of them "
        "fails.",
        value=100.0 * float(np.nanmax(apart)),
        limit=100.0 * allowed,
        unit="%",
        action="Work it slowly under 'calib watch'; the one that jumps is the bad one.",
        channel=second.name,
    )


def _share(hand: Hand, ends: dict[str, Expected], block: int) -> Floats:
    known = ends[hand.name]
    travelled: Floats = block_means(hand.volts, block) - known.rest_V
    return travelled / (known.full_V - known.rest_V)
