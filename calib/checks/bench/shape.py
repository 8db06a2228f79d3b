"""The shape of a press: what stands still or falls back on the way in, and the way back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.hands import HEAD_S, Ends, Hand
from calib.checks.bench.signals import Floats, Signals, block_means
from calib.controls.presses import Press
from calib.measure.sliding import Run, runs_of
from calib.store.documents import said
from calib.store.documents.finding import Severity

GRID_S = 0.01
"""Time over which readings are averaged before the shape is looked at; own choice, because a hand
needs ten times as long for its travel."""

RISEN_SHARE = 0.9
"""Share of the travel at which a press has arrived; own choice, because a hand wavers at the
stop."""

RETURN_BAND = 0.05
"""Distance from rest within which a control is back, as a share of the travel; own choice, because
a sound spring's rebound stays within it."""

LEFT_BAND = 0.03
"""Distance from full travel, as a share of the travel, at which a control counts as let go; own
choice, because a thumb at the stop wavers by less."""

SAME_PLACE = 0.15
"""Distance within which two reversals are at the same place of the travel; own choice."""

HANG_S = 0.15
"""Time of standing still part open on the way back that is called sticking; own choice."""

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
class Spot:
    """The worst spot on the way in of one press.

    Attributes:
        size: How far the signal fell back, or the hand went on without it, as a share of the
            travel.
        at: Where in the travel that began, as a share.
    """

    size: float = 0.0
    at: float = 0.0


def largest_reversal(share: Floats) -> Spot:
    """The largest fall back on the way in, as a share of the travel.

    Args:
        share: Share of the travel from leaving rest to arriving, shape (n,); NaN is left out.

    Source: largest difference to the running maximum.
    """
    share = share[np.isfinite(share)]
    if share.size < 2:
        return Spot()
    highest = np.maximum.accumulate(share)
    fallen = highest - share
    place = int(fallen.argmax())
    return Spot(float(fallen[place]), float(highest[place]))


def reversals(signals: Signals, hand: Hand, ends: Ends) -> list[Spot]:
    """The largest reversal of each press, beyond what the noise explains.

    Args:
        signals: The whole capture.
        hand: The control.
        ends: Its rest and full travel.

    Source: own choice: what the averaged readings of the rest before the first press fall back by
    is noise, half as much again, and four standard deviations of one each way at least.
    """
    head_V = hand.volts[: signals.samples_in(HEAD_S)]
    noises = {}
    for block in map(signals.samples_in, REVERSAL_S):
        readings = 4.0 * np.sqrt(2.0) * hand.head_sd_V / np.sqrt(block) / abs(ends.span_V)
        fallen = 1.5 * largest_reversal(block_means(head_V, block) / ends.span_V).size
        noises[block] = max(float(readings), fallen)
    found = []
    for press in hand.presses:
        way = signals.run(press.leave_s - 0.05, press.full_s + 0.02)
        share = ends.share(way.of(hand.volts))
        falls = (_reversal(block_means(share, block), noise) for block, noise in noises.items())
        found.append(max(falls, key=lambda each: each.size))
    return found


def _reversal(share: Floats, noise: float) -> Spot:
    """The largest reversal of one press, beyond the noise of its averaged readings."""
    # The plateau finder may take a hold behind the bad spot for part of the way.
    arrived = np.flatnonzero(share >= RISEN_SHARE)
    if arrived.size:
        share = share[: int(arrived[-1]) + 1]
    worst = largest_reversal(share)
    return Spot(max(0.0, worst.size - noise), worst.at)


def flats(signals: Signals, hand: Hand, ends: Ends) -> list[Spot]:
    """The longest stretch of each press in which the signal stood still and the hand did not.

    Args:
        signals: The whole capture.
        hand: The control.
        ends: Its rest and full travel.

    Source: own choice of method: speed on both sides times the time of standing still.
    """
    span_V = abs(ends.span_V)
    calm = math.ceil((6.0 * hand.head_sd_V / (FLAT_NOISE * span_V)) ** 2)
    found = []
    for press in hand.presses:
        block = max(1, signals.samples_in((press.full_s - press.leave_s) / FLAT_BLOCKS), calm)
        way = signals.run(press.leave_s, press.full_s)
        share = ends.share(block_means(way.of(hand.volts), block))
        noise = 6.0 * hand.head_sd_V / np.sqrt(block) / span_V
        if share.size >= LEAST_FLAT_BLOCKS:
            found.append(_largest_flat(share, max(FLAT_WITHIN, float(noise))))
    return found


def _largest_flat(share: Floats, within: float) -> Spot:
    worst = Spot()
    if not np.isfinite(share).all():
        return worst
    inside = (share > FLAT_FROM) & (share < FLAT_TO)
    for first in np.flatnonzero(inside).tolist():
        away = np.flatnonzero(np.abs(share[first:] - share[first]) > within)
        last = first + (int(away[0]) if away.size else share.size - first) - 1
        if last - first >= 2 and first >= 4 and last + 4 < share.size and inside[last]:
            size = _speed_beside(share, first, last) * (last - first)
            if size > worst.size:
                worst = Spot(size, float(share[first]))
    return worst


def _speed_beside(share: Floats, first: int, last: int) -> float:
    """Speed on both sides of a stretch, the lower, a block; 0 where it fades towards it."""
    before_far, before = np.diff(share[first - 4 : first + 1 : 2]) / 2
    after, after_far = np.diff(share[last : last + 5 : 2]) / 2
    if before < SHARP * before_far or after < SHARP * after_far:
        return 0.0
    return float(min(before, after))


def spot_findings(hand: Hand, falls: Sequence[Spot], stills: Sequence[Spot]) -> said.Findings:
    """Worn and flat spots: seen in two presses at the same place fails, once is a caution.

    Args:
        hand: The control.
        falls: The largest reversal of each press; one of twice the limit fails by itself.
        stills: The longest flat of each press that was looked at.

    Source: limits ``step_pct`` and ``flat_pct``.
    """
    for found, least_pct, alone in (
        (falls, hand.limit("step_pct"), 2.0),
        (stills, hand.limit("flat_pct"), math.inf),
    ):
        least = least_pct / 100.0
        bad = [each for each in found if each.size > least]
        worst = max(bad, key=lambda each: each.size, default=Spot())
        same = sum(abs(each.at - worst.at) <= SAME_PLACE for each in bad)
        if same:
            yield said.finding(
                Severity.FAIL if same > 1 or worst.size > alone * least else Severity.CAUTION,
                "travel-step" if found is falls else "flat-spot",
                100.0 * worst.size,
                100.0 * least,
                channel=hand.name,
                at_pct=100.0 * worst.at,
                same=same,
                presses=len(found),
            )


def sets_off_late(signals: Signals, hand: Hand, ends: Ends) -> bool:
    """Whether the signal leaves out the start of the hand's way, as one that lags behind does.

    The slowest press counts: the time from 5 to 20 % of the travel against that from 80 to 95 %.

    Args:
        signals: The whole capture.
        hand: The control.
        ends: Its rest and full travel.
    """
    press = max(hand.presses, key=lambda each: each.full_s - each.leave_s, default=None)
    if press is None:
        return False
    way = signals.run(press.leave_s - 1.0, press.let_go_s)
    share = ends.share(block_means(way.of(hand.volts), signals.samples_in(GRID_S)))
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

    time_s: float = 0.0
    hang_s: float = 0.0
    hang_at: float = 0.0


def returns(signals: Signals, hand: Hand, ends: Ends, others: Sequence[Press] = ()) -> list[Return]:
    """Time from letting go to rest of each press, s.

    Args:
        signals: The whole capture.
        hand: The control.
        ends: Its rest and full travel.
        others: Presses of other controls, which may move this one's signal.

    Source: own choice: from the last reading at full travel to the last outside the band of
    rest.
    """
    found = []
    leaves_s = [press.leave_s for press in (*hand.presses, *others)]
    end_s = float(signals.time_s[-1])
    block = signals.samples_in(GRID_S)
    noise = float(5.0 * hand.head_sd_V / np.sqrt(block) / abs(ends.span_V))
    for press in hand.presses:
        next_s = min((leave_s for leave_s in leaves_s if leave_s > press.full_s), default=end_s)
        way = signals.run(press.full_s, min(next_s - 0.05, press.back_s + 8.0))
        share = ends.share(block_means(way.of(hand.volts), block))
        found.append(_return(share, noise, block / signals.rate_hz))
    return found


def _return(share: Floats, noise: float, step_s: float) -> Return:
    band = max(RETURN_BAND, noise)
    held = np.flatnonzero(share >= 1.0 - max(LEFT_BAND, band - RETURN_BAND))
    out = np.flatnonzero(share > band)
    if not held.size or not out.size:
        return Return()
    let_go = int(held[-1])
    # What is away again after a stay at rest is the next press, begun slowly.
    stays = [run for run in runs_of(share[let_go:] <= band) if len(run) * step_s >= HOME_S]
    back = let_go + stays[0].first if stays else int(out[-1]) + 1
    if back <= let_go:
        return Return()
    way = share[let_go + 1 : back]
    still = np.abs(np.diff(way)) < max(STILL_SHARE, noise)
    hangs = runs_of(still & (way[:-1] < 0.9))
    longest = max(hangs, key=len, default=Run(0, 0))
    at = float(way[longest.stop - 1]) if len(longest) else 0.0
    return Return((back - let_go) * step_s, len(longest) * step_s, at)


def return_findings(hand: Hand, found: Sequence[Return]) -> said.Findings:
    """A control that comes back slowly or hangs part open: the slowest release counts.

    Source: limits ``return_slow_s`` and ``return_fail_s``.
    """
    if not found:
        return
    worst = max(found, key=lambda each: each.time_s)
    slow_s, fail_s = hand.limit("return_slow_s"), hand.limit("return_fail_s")
    if worst.time_s <= slow_s:
        return
    failed = worst.time_s > fail_s
    severity, most_s = (Severity.FAIL, fail_s) if failed else (Severity.CAUTION, slow_s)
    if worst.hang_s >= max(HANG_S, 0.3 * worst.time_s):
        yield said.finding(
            severity,
            "sticks/fails" if failed else "sticks",
            worst.time_s,
            most_s,
            channel=hand.name,
            at_pct=100.0 * worst.hang_at,
            hang_s=worst.hang_s,
        )
    else:
        yield said.finding(
            severity,
            "return-slow/fails" if failed else "return-slow/check",
            worst.time_s,
            most_s,
            channel=hand.name,
        )
