"""The two tracks of one control in a bench check: whether they agree over the travel."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from calib.checks.bench.hands import Expected, Hand
from calib.checks.bench.signals import Floats, Signals
from calib.checks.limits import limit
from calib.checks.travel.two_track import agreement_finding
from calib.controls.two_track import track_agreement
from calib.store.documents.finding import Finding


def track_findings(
    signals: Signals, first: Hand, second: Hand, ends: dict[str, Expected]
) -> Iterator[Finding]:
    """Whether two tracks agree, in per cent of their own travel; nothing where one was not worked.

    Args:
        signals: The whole capture.
        first: One track.
        second: The other.
        ends: Rest and full travel of both in this check, by name.

    Source: `calib.controls.two_track`.
    """
    if first.name not in ends or second.name not in ends:
        return
    about = second.signal.channel
    agreement = track_agreement(
        signals.time_s,
        _percent(first, ends[first.name]),
        _percent(second, ends[second.name]),
        most_pct=limit("tracks_apart_pct", about),
        longest_s=limit("tracks_apart_s", about),
    )
    yield agreement_finding(second.name, agreement)


def _percent(hand: Hand, known: Expected) -> Floats:
    """A track in per cent of its travel, 0 in its drop-outs, which are told by themselves."""
    share: Floats = (hand.volts - known.rest_V) / (known.full_V - known.rest_V)
    return 100.0 * np.where(np.isfinite(share), share, 0.0)
