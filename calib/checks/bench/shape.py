"""The shape of a press: what stands still or falls back on the way in, and the way back."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.hands import HEAD_S, Hand
from calib.checks.bench.signals import Floats, Signals, block_means, runs
from calib.checks.limits import limit
from calib.controls.presses import Press
from calib.store.documents import said
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

FLAT_FROM, FLAT_TO = 0.08, 0.92
"""Part of the travel in which a flat spot is looked for; own choice, because near rest and stop
the hand itself stands still."""

FLAT_BLOCKS = 40
"""Averaged readings that a press is looked at in; own choice: a hand's own speed changes little
over three of them, and a flat spot begins and ends within one."""

FLAT_WITHIN = 0.01
"""Movement, as a share of the travel, below which the signal stands still; own choice."""

FLAT_NOISE = 0.03
"""Noise of an averaged reading, as a share of the travel, for which more readings are averaged; own
choice, because more would hide what stands still."""

HOME_S = 0.25
"""Stay within the band of rest after which a control has come back; own choice, because a spring
that lets it swing does so several times in it."""

REVERSAL_S = (GRID_S, 3.0 * GRID_S)
"""Times over which readings are averaged before a fall is looked for; own choice: the short one for
a quick hand, the long one for a slow hand under noise."""

LEAST_FLAT_BLOCKS = 12
"""Averaged readings below which a press is not looked at; own choice, because a flat spot of the
limit is then one of them."""

SHARP = 0.5
"""Least speed just before and after a flat spot over that farther off; own choice, because a hand
that pauses slows down first."""

LAG_RATIO = 0.74
"""Time for the first over that for the last part of the way in below which the signal set off
late. What a smooth reaching movement (Flash and Hogan, J. Neurosci. 5 (1985) 1688, from memory)
gives where a tenth of the travel is left out at its start; a whole one gives 1, and a hand that
runs into the stop more."""

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

    Source: own choice: what the averaged readings of the rest before the first press fall back by
    is noise, half as much again, and four standard deviations of one each way at least.
    """
    span_V = full_V - rest_V
    head_V = hand.volts[: signals.samples_in(HEAD_S)]
    noises = {}
    for block in map(signals.samples_in, REVERSAL_S):
        readings = 4.0 * np.sqrt(2.0) * hand.head_sd_V / np.sqrt(block) / abs(span_V)
        fallen = 1.5 * largest_reversal(block_means(head_V, block) / span_V).size
        noises[block] = max(float(readings), fallen)
    found = []
    for press in hand.presses:
        first, stop = np.searchsorted(
            signals.time_s, [press.leave_s - 0.05, press.full_s + 0.02]
        ).tolist()
        share = (hand.volts[first:stop] - rest_V) / span_V
        falls = (_reversal(block_means(share, block), noise) for block, noise in noises.items())
        found.append(max(falls, key=lambda each: each.size))
    return found


def _reversal(share: Floats, noise: float) -> Reversal:
    """The largest reversal of one press, beyond the noise of its averaged readings."""
    # The plateau finder may take a hold behind the bad spot for part of the way.
    arrived = np.flatnonzero(share >= RISEN_SHARE)
    if arrived.size:
        share = share[: int(arrived[-1]) + 1]
    worst = largest_reversal(share)
    return Reversal(max(0.0, worst.size - noise), worst.at)


def reversal_findings(hand: Hand, found: Sequence[Reversal]) -> Iterator[Finding]:
    """A worn spot or a step: seen in two presses at the same place fails, once is a caution.

    Args:
        hand: The control.
        found: The largest reversal of each press.
    """
    least = limit("step_pct", hand.signal.channel) / 100.0
    bad = [each for each in found if each.size > least]
    if not bad:
        return
    worst = max(bad, key=lambda each: each.size)
    same = sum(abs(each.at - worst.at) <= SAME_PLACE for each in bad)
    yield said.finding(
        Severity.FAIL if same > 1 or worst.size > 2.0 * least else Severity.CAUTION,
        "travel-step",
        100.0 * worst.size,
        100.0 * least,
        channel=hand.name,
        pct=100 * worst.size,
        pct2=100 * worst.at,
        same=same,
        found=len(found),
    )


@dataclass(frozen=True, slots=True)
class Flat:
    """The longest stretch of one press in which the signal stood still and the hand did not.

    Attributes:
        size: What the hand went on by meanwhile, as a share of the travel.
        at: Where, as a share of the travel.
    """

    size: float
    at: float


def flats(signals: Signals, hand: Hand, rest_V: float, full_V: float) -> list[Flat]:
    """The largest flat spot of each press.

    Args:
        signals: The whole capture.
        hand: The control.
        rest_V: Rest, V, as ``hand.volts``.
        full_V: Full travel, V.

    Source: own choice of method: speed on both sides times the time of standing still.
    """
    span_V = full_V - rest_V
    calm = math.ceil((6.0 * hand.head_sd_V / (FLAT_NOISE * abs(span_V))) ** 2)
    found = []
    for press in hand.presses:
        block = max(1, signals.samples_in((press.full_s - press.leave_s) / FLAT_BLOCKS), calm)
        first, stop = np.searchsorted(signals.time_s, [press.leave_s, press.full_s]).tolist()
        share = (block_means(hand.volts[first:stop], block) - rest_V) / span_V
        noise = 6.0 * hand.head_sd_V / np.sqrt(block) / abs(span_V)
        if share.size >= LEAST_FLAT_BLOCKS:
            found.append(_largest_flat(share, max(FLAT_WITHIN, float(noise))))
    return found


def _largest_flat(share: Floats, within: float) -> Flat:
    worst = Flat(0.0, 0.0)
    if not np.isfinite(share).all():
        return worst
    inside = (share > FLAT_FROM) & (share < FLAT_TO)
    for first in np.flatnonzero(inside).tolist():
        away = np.flatnonzero(np.abs(share[first:] - share[first]) > within)
        last = first + (int(away[0]) if away.size else share.size - first) - 1
        if last - first >= 2 and first >= 4 and last + 4 < share.size and inside[last]:
            size = _speed_beside(share, first, last) * (last - first)
            if size > worst.size:
                worst = Flat(size, float(share[first]))
    return worst


def _speed_beside(share: Floats, first: int, last: int) -> float:
    """Speed on both sides of a stretch, the lower, a block; 0 where it fades towards it."""
    before_far, before = (
        (share[first - 2] - share[first - 4]) / 2,
        (share[first] - share[first - 2]) / 2,
    )
    after, after_far = (share[last + 2] - share[last]) / 2, (share[last + 4] - share[last + 2]) / 2
    if before < SHARP * before_far or after < SHARP * after_far:
        return 0.0
    return float(min(before, after))


def flat_findings(hand: Hand, found: Sequence[Flat]) -> Iterator[Finding]:
    """A flat spot: seen in two presses at the same place fails, once is a caution.

    Source: limit ``flat_pct``.
    """
    least = limit("flat_pct", hand.signal.channel) / 100.0
    bad = [each for each in found if each.size > least]
    if not bad:
        return
    worst = max(bad, key=lambda each: each.size)
    same = sum(abs(each.at - worst.at) <= SAME_PLACE for each in bad)
    yield said.finding(
        Severity.FAIL if same > 1 else Severity.CAUTION,
        "flat-spot",
        100.0 * worst.size,
        100.0 * least,
        channel=hand.name,
        pct=100 * worst.at,
        pct2=100 * worst.size,
        same=same,
        found=len(found),
    )


def sets_off_late(signals: Signals, hand: Hand, rest_V: float, full_V: float) -> bool:
    """Whether the signal leaves out the start of the hand's way, as one that lags behind does.

    The slowest press counts: the time from 5 to 20 % of the travel against that from 80 to 95 %.

    Args:
        signals: The whole capture.
        hand: The control.
        rest_V: Rest, V, as ``hand.volts``.
        full_V: Full travel, V.
    """
    press = max(hand.presses, key=lambda each: each.full_s - each.leave_s, default=None)
    if press is None:
        return False
    block = signals.samples_in(GRID_S)
    first, stop = np.searchsorted(signals.time_s, [press.leave_s - 1.0, press.let_go_s]).tolist()
    share = (block_means(hand.volts[first:stop], block) - rest_V) / (full_V - rest_V)
    highest = np.maximum.accumulate(np.nan_to_num(share))
    places = np.searchsorted(highest, [0.05, 0.20, 0.80, 0.95])
    start, end = int(places[1] - places[0]), int(places[3] - places[2])
    return bool(end > 4 and start < LAG_RATIO * end)


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
    # What is away again after a stay at rest is the next press, begun slowly.
    stays = [run for run in runs(share[let_go:] <= band) if len(run) * step_s >= HOME_S]
    back = let_go + stays[0].first if stays else int(out[-1]) + 1
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


def return_findings(hand: Hand, found: Sequence[Return]) -> Iterator[Finding]:
    """A control that comes back slowly or hangs part open: the slowest release counts.

    Source: limits ``return_slow_s`` and ``return_fail_s``.
    """
    if not found:
        return
    worst = max(found, key=lambda each: each.time_s)
    slow_s = limit("return_slow_s", hand.signal.channel)
    fail_s = limit("return_fail_s", hand.signal.channel)
    if worst.time_s <= slow_s:
        return
    hangs = worst.hang_s >= max(HANG_S, 0.3 * worst.time_s)
    what = (
        f"{hand.name} hung at {100 * worst.hang_at:.0f} % of its travel for {worst.hang_s:.1f} s "
        f"on the way back ({worst.time_s:.1f} s in all): dirt, cable drag or a weak spring."
        if hangs
        else f"{hand.name} took {worst.time_s:.2f} s to come back: cable drag or a weak spring."
    )
    failed = worst.time_s > fail_s
    yield Finding(
        code="sticks" if hangs else "return-slow",
        severity=Severity.FAIL if failed else Severity.CAUTION,
        text=f"{what} {RETURN_RULE}" if failed else what,
        value=worst.time_s,
        limit=fail_s if failed else slow_s,
        unit="s",
        action="Let it snap back by itself and check again; then clean, grease or free its cable.",
        channel=hand.name,
    )
