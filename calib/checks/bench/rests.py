"""Where a control rests while no hand is on anything: one level, two, or anywhere in its play."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.hands import Hand
from calib.checks.bench.signals import Flags, Floats, Signals, block_means, runs
from calib.checks.limits import limit
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


@dataclass(frozen=True, slots=True)
class Rests:
    """Where a control rested, in per cent of its span.

    Attributes:
        range_pct: From the lowest to the highest rest, the noise taken off.
        apart_pct: Distance of two levels; None where it does not rest at two.
        at_V: Those two levels, V, the more usual one first; None likewise.
    """

    range_pct: float
    apart_pct: float | None
    at_V: tuple[float, float] | None


def rests_of(signals: Signals, hand: Hand, calm: Flags) -> Rests | None:
    """Where a control rested; None where it never did, or has no span.

    Args:
        signals: The whole capture.
        hand: The control.
        calm: Where nothing at all is worked, shape (n,).

    Source: own choice of method: means over whole periods of mains, parted at their widest gap.
    """
    parts = _averaged(signals, hand, calm)
    levels = np.concatenate([part[:0] for part in parts] + parts) if parts else np.empty(0)
    if levels.size < 8 or hand.span_V <= 0.0:
        return None
    steps = np.concatenate([np.diff(part) for part in parts])
    noise_V = NOISE_SDS * float(np.median(np.abs(steps))) / 0.6745 / np.sqrt(2.0)
    noise_V = max(noise_V, hand.signal.step)
    levels = np.sort(levels[np.abs(levels - np.median(levels)) <= WITHIN_SPAN * hand.span_V])
    low, high = np.quantile(levels, [SELDOM_SHARE, 1.0 - SELDOM_SHARE])
    two = _two(levels)
    per_V = 100.0 / hand.span_V
    return Rests(
        range_pct=per_V * max(0.0, float(high - low) - noise_V),
        apart_pct=None if two is None else per_V * max(0.0, abs(two[1] - two[0]) - noise_V),
        at_V=two,
    )


def _averaged(signals: Signals, hand: Hand, calm: Flags) -> list[Floats]:
    """Means of every stretch of rest, V; drop-outs are no rest."""
    block = signals.samples_in(BLOCK_S)
    stretches = runs(calm & np.isfinite(hand.volts))
    means = (block_means(hand.volts[run.first : run.stop], block) for run in stretches)
    return [each for each in means if each.size >= 2]


def _two(levels: Floats) -> tuple[float, float] | None:
    """Two levels that sorted means part into, V, the more usual first; None where they do not."""
    least = max(2, round(LESSER_SHARE * levels.size))
    gaps = np.diff(levels)[least - 1 : levels.size - least]
    if not gaps.size:
        return None
    cut = least + int(gaps.argmax())
    low, high = levels[:cut], levels[cut:]
    apart = float(np.median(high) - np.median(low))
    near = np.minimum(abs(levels - np.median(low)), abs(levels - np.median(high)))
    if float(np.mean(near > TIGHT_SHARE * apart)) > BETWEEN_SHARE:
        return None
    usual, other = (low, high) if low.size >= high.size else (high, low)
    return float(np.median(usual)), float(np.median(other))


def rest_findings(hand: Hand, rests: Rests | None) -> Iterator[Finding]:
    """What is wrong with where a control rests; one finding at most.

    Source: limits ``two_rests_pct``, ``play_pct`` and ``rest_scatter_pct``.
    """
    if rests is None:
        return
    channel = hand.signal.channel
    two_pct, play_pct = limit("two_rests_pct", channel), limit("play_pct", channel)
    scatter_pct = limit("rest_scatter_pct", channel)
    if rests.apart_pct is not None and rests.at_V is not None and rests.apart_pct > two_pct:
        yield said.fail(
            "two-rests",
            rests.apart_pct,
            two_pct,
            channel=hand.name,
            volts=rests.at_V[0],
            volts2=rests.at_V[1],
        )
    elif rests.range_pct > play_pct:
        yield said.fail("play", rests.range_pct, play_pct, channel=hand.name)
    elif rests.range_pct > scatter_pct:
        yield said.caution("rest-scatters", rests.range_pct, scatter_pct, channel=hand.name)
