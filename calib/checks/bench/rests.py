"""Where a control rests while no hand is on anything: one level, two, or anywhere in its play."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from calib.checks.bench.hands import Hand
from calib.checks.bench.signals import Flags, Floats, Signals, block_means, runs
from calib.store.documents import said
from calib.store.documents.finding import Finding

BLOCK_S = 0.1
"""Time over which a rest is averaged; own choice, because it holds whole periods of 50 and of
60 Hz."""

NOISE_SDS = 6.0
"""Standard deviations of such a mean below which it has not moved; own choice, because a check
has some hundred of them on every control."""

LESSER_SHARE = 0.1
"""Share of the rest that the lesser of two levels takes at least; own choice, because a control
that merely comes home late is there for less."""

SELDOM_SHARE = 0.1
"""Share of the rest at either end of its range that is left out; own choice, as LESSER_SHARE."""

TIGHT_SHARE = 0.125
"""Distance from one of two levels, as a share of theirs, within which a rest is at it; own choice:
what is farther lies between them."""

BETWEEN_SHARE = 0.1
"""Share of the rest that may lie between two levels; own choice, for a change from one to the other
takes a little time."""

WITHIN_SPAN = 0.3
"""Distance from the usual rest, as a share of the span, beyond which a level is no rest; own
choice, because there a wire is open or a hand is on it."""


def rest_findings(signals: Signals, hand: Hand, calm: Flags) -> Iterator[Finding]:
    """What is wrong with where a control rests, in per cent of its span; one finding at most.

    Nothing where it never rested, or has no span.

    Args:
        signals: The whole capture.
        hand: The control.
        calm: Where nothing at all is worked, shape (n,); drop-outs are no rest.

    Source: own choice of method: means over whole periods of mains, parted at their widest gap;
    limits ``two_rests_pct``, ``play_pct`` and ``rest_scatter_pct``.
    """
    block = signals.samples_in(BLOCK_S)
    stretches = runs(calm & np.isfinite(hand.volts))
    means = [block_means(run.of(hand.volts), block) for run in stretches]
    parts = [each for each in means if each.size >= 2]
    levels = np.concatenate([hand.volts[:0], *parts])
    if levels.size < 8 or hand.span_V <= 0.0:
        return
    steps = np.concatenate([np.diff(part) for part in parts])
    noise_V = NOISE_SDS * float(np.median(np.abs(steps))) / 0.6745 / math.sqrt(2.0)
    noise_V = max(noise_V, hand.signal.step)
    levels = np.sort(levels[np.abs(levels - np.median(levels)) <= WITHIN_SPAN * hand.span_V])
    low_V, high_V = np.quantile(levels, [SELDOM_SHARE, 1.0 - SELDOM_SHARE])
    usual_V, other_V = _two(levels)
    per_V = 100.0 / hand.span_V
    range_pct = per_V * max(0.0, float(high_V - low_V) - noise_V)
    apart_pct = per_V * max(0.0, abs(other_V - usual_V) - noise_V)
    two_pct, play_pct = hand.limit("two_rests_pct"), hand.limit("play_pct")
    scatter_pct = hand.limit("rest_scatter_pct")
    if apart_pct > two_pct:
        yield said.fail(
            "two-rests", apart_pct, two_pct, channel=hand.name, usual_V=usual_V, other_V=other_V
        )
    elif range_pct > play_pct:
        yield said.fail("play", range_pct, play_pct, channel=hand.name)
    elif range_pct > scatter_pct:
        yield said.caution("rest-scatters", range_pct, scatter_pct, channel=hand.name)


def _two(levels: Floats) -> tuple[float, float]:
    """Two levels that sorted means part into, V, the more usual first; nought where they do not."""
    least = max(2, round(LESSER_SHARE * levels.size))
    gaps = np.diff(levels)[least - 1 : levels.size - least]
    if not gaps.size:
        return 0.0, 0.0
    cut = least + int(gaps.argmax())
    low, high = levels[:cut], levels[cut:]
    apart = float(np.median(high) - np.median(low))
    near = np.minimum(abs(levels - np.median(low)), abs(levels - np.median(high)))
    if float(np.mean(near > TIGHT_SHARE * apart)) > BETWEEN_SHARE:
        return 0.0, 0.0
    usual, other = (low, high) if low.size >= high.size else (high, low)
    return float(np.median(usual)), float(np.median(other))
