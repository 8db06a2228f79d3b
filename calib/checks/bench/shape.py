"""The shape of a press: reversals and steps on the way in, and the way back to rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.hands import Hand
from calib.checks.bench.signals import Floats, Signals, block_means
from calib.checks.limits import limit
from calib.controls.presses import Press
from calib.store.documents.finding import Finding, Severity

GRID_S = 0.01
"""Time over which readings are averaged before the shape is looked at; own choice, because a hand
needs ten times as long for its travel."""

RISEN_SHARE = 0.9
"""Share of the travel at which a press has arrived; own choice, because a hand wavers at the
stop."""

RETURN_BAND_PCT = 5.0
"""Distance from rest within which a control is back, in per cent of the span; own choice, because
a sound spring's rebound stays within it."""

LEFT_BAND = 0.03
"""Distance from full travel, as a share of the travel, at which a control counts as let go; own
choice, because a thumb at the stop wavers by less."""

SAME_PLACE = 0.15
"""Distance within which two reversals are at the same place of the travel; own choice."""

HANG_S = 0.15
"""Time of standing still part open on the way back that is called sticking; own choice."""


RETURN_RULE = (
    "(1 s is 49 CFR 571.124's for accelerator controls of light vehicles, from memory and of "
    "another class; 571.123 asks motorcycles for a throttle that closes by itself.)"
)
"""Whose limit it is that a return fails by; it is said with the finding."""

STILL_SHARE = 0.004
"""Movement from one averaged reading to the next, as a share of the travel, below which it stands
still; own choice, because a return of 1 s moves three times as far."""


@dataclass(frozen=True, slots=True)
class Reversal:
    """The largest fall on the way in of one press.

    Attributes:
        size: How far it fell back, as a share of the travel.
        at: Where in the travel it began, as a share.
    """

    size: float
    at: float


def largest_reversal(share: Floats) -> Reversal:
    """The largest fall back on the way in, as a share of the travel.

    Args:
        share: Share of the travel from leaving rest to arriving, shape (n,); NaN is left out.

    Source: largest difference to the running maximum.
    """
    share = share[np.isfinite(share)]
    if share.size < 2:
        return Reversal(0.0, 0.0)
    highest = np.maximum.accumulate(share)
    fallen = highest - share
    place = int(fallen.argmax())
    return Reversal(float(fallen[place]), float(highest[place]))


def reversals(signals: Signals, hand: Hand, rest_V: float, full_V: float) -> list[Reversal]:
    """The largest reversal of each press, beyond what the noise explains.

    Args:
        signals: The whole capture.
        hand: The control.
        rest_V: Rest, V, as ``hand.volts``.
        full_V: Full travel, V.

    Source: own choice: four standard deviations of an averaged reading each way are noise.
    """
    block = signals.samples_in(GRID_S)
    noise = 4.0 * np.sqrt(2.0) * hand.head_sd_V / np.sqrt(block) / abs(full_V - rest_V)
    found = []
    for press in hand.presses:
        first, stop = np.searchsorted(
            signals.time_s, [press.leave_s - 0.05, press.full_s + 0.02]
        ).tolist()
        share = (block_means(hand.volts[first:stop], block) - rest_V) / (full_V - rest_V)
        # The plateau finder may take a hold behind the bad spot for part of the way.
        arrived = np.flatnonzero(share >= RISEN_SHARE)
        if arrived.size:
            share = share[: int(arrived[-1]) + 1]
        worst = largest_reversal(share)
        found.append(Reversal(max(0.0, worst.size - float(noise)), worst.at))
    return found


def reversal_finding(hand: Hand, found: Sequence[Reversal]) -> Finding | None:
    """A worn spot or a step: seen in two presses at the same place fails, once is a caution.

    Args:
        hand: The control.
        found: The largest reversal of each press.
    """
    least = limit("step_pct", hand.signal.channel) / 100.0
    bad = [each for each in found if each.size > least]
    if not bad:
        return None
    worst = max(bad, key=lambda each: each.size)
    same = sum(abs(each.at - worst.at) <= SAME_PLACE for each in bad)
    return Finding(
        code="travel-step",
        severity=Severity.FAIL if same > 1 or worst.size > 2.0 * least else Severity.CAUTION,
        text=f"{hand.name} falls back by {100 * worst.size:.0f} % of its travel at "
        f"{100 * worst.at:.0f} % on the way in, in {same} of {len(found)} presses: a worn spot, a "
        "cracked magnet or a loose plug.",
        value=100.0 * worst.size,
        limit=100.0 * least,
        unit="%",
        action="Work it very slowly and watch with 'calib watch'; flex its plug; then open it.",
        channel=hand.name,
    )


@dataclass(frozen=True, slots=True)
class Return:
    """The way back of one press.

    Attributes:
        time_s: From letting go to rest, s.
        hang_s: Longest time that it stood still part open, s.
        hang_at: Where, as a share of the travel.
    """

    time_s: float
    hang_s: float
    hang_at: float


def returns(
    signals: Signals, hand: Hand, rest_V: float, full_V: float, others: Sequence[Press] = ()
) -> list[Return]:
    """Time from letting go to rest of each press, s.

    Args:
        signals: The whole capture.
        hand: The control.
        rest_V: Rest, V, as ``hand.volts``.
        full_V: Full travel, V.
        others: Presses of other controls, which may move this one's signal.

    Source: own choice: from the last reading at full travel to the last outside the band of
    rest.
    """
    found = []
    leaves_s = [press.leave_s for press in (*hand.presses, *others)]
    end_s = float(signals.time_s[-1])
    block = signals.samples_in(GRID_S)
    noise = 5.0 * hand.head_sd_V / np.sqrt(block) / abs(full_V - rest_V)
    band = max(RETURN_BAND_PCT / 100.0, float(noise))
    for press in hand.presses:
        next_s = min((leave_s for leave_s in leaves_s if leave_s > press.full_s), default=end_s)
        first, stop = np.searchsorted(
            signals.time_s, [press.full_s, min(next_s - 0.05, press.back_s + 8.0)]
        ).tolist()
        share = (block_means(hand.volts[first:stop], block) - rest_V) / (full_V - rest_V)
        found.append(_return(share, band, max(STILL_SHARE, float(noise)), block / signals.rate_hz))
    return found


def _return(share: Floats, band: float, still_share: float, step_s: float) -> Return:
    held = np.flatnonzero(share >= 1.0 - max(LEFT_BAND, band - RETURN_BAND_PCT / 100.0))
    out = np.flatnonzero(share > band)
    if not held.size or not out.size:
        return Return(0.0, 0.0, 0.0)
    let_go = int(held[-1])
    back = int(out[-1]) + 1
    if back <= let_go:
        return Return(0.0, 0.0, 0.0)
    way = share[let_go + 1 : back]
    still = np.abs(np.diff(way)) < still_share
    longest, at, count = 0, 0.0, 0
    for place, stands in enumerate(still.tolist()):
        count = count + 1 if stands and way[place] < 0.9 else 0
        if count > longest:
            longest, at = count, float(way[place])
    return Return((back - let_go) * step_s, longest * step_s, at)


def return_finding(hand: Hand, found: Sequence[Return]) -> Finding | None:
    """A control that comes back slowly or hangs part open: the slowest release counts.

    Source: limits ``return_slow_s`` and ``return_fail_s``.
    """
    if not found:
        return None
    worst = max(found, key=lambda each: each.time_s)
    slow_s = limit("return_slow_s", hand.signal.channel)
    fail_s = limit("return_fail_s", hand.signal.channel)
    if worst.time_s <= slow_s:
        return None
    hangs = worst.hang_s >= max(HANG_S, 0.3 * worst.time_s)
    what = (
        f"{hand.name} hung at {100 * worst.hang_at:.0f} % of its travel for {worst.hang_s:.1f} s "
        f"on the way back ({worst.time_s:.1f} s in all): dirt, cable drag or a weak spring."
        if hangs
        else f"{hand.name} took {worst.time_s:.2f} s to come back: cable drag or a weak spring."
    )
    failed = worst.time_s > fail_s
    return Finding(
        code="sticks" if hangs else "return-slow",
        severity=Severity.FAIL if failed else Severity.CAUTION,
        text=f"{what} {RETURN_RULE}" if failed else what,
        value=worst.time_s,
        limit=fail_s if failed else slow_s,
        unit="s",
        action="Let it snap back by itself and check again; then clean, grease or free its cable.",
        channel=hand.name,
    )
