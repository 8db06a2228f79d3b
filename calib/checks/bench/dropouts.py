"""Excursions at rest that no hand makes: a contact that opens while the harness is flexed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.signals import Flags, Floats, Signal
from calib.measure.sliding import Run, runs_of
from calib.store.documents import said

QUICKEST_HAND_S = 0.08
"""Own choice: no hand and no spring crosses the whole travel in less."""

PEAK_SPEED = 1.875
"""Largest over mean speed of a smooth reaching movement.

Source: minimum-jerk movement, Flash and Hogan, J. Neurosci. 5 (1985) 1688 (from memory)."""

MARGIN = 1.3
"""Own choice: a real movement may be a third quicker at its peak."""

NOISE_SDS = 10.0
"""Own choice: noise does not reach ten standard deviations in a minute at 1 kHz."""

LONGEST_S = 2.0
"""Own choice: what lasts longer than flexing a connector takes is no drop-out."""

PULLS = " It went into the travel: the drive would have pulled."


@dataclass(frozen=True, slots=True)
class DropOut:
    """One excursion.

    Attributes:
        run: Its readings.
        level_V: Their median, V.
        into_travel: Whether it went the way that a hand would.
    """

    run: Run
    level_V: float
    into_travel: bool


@dataclass(frozen=True, slots=True)
class Reach:
    """Where a hand may bring a control.

    Attributes:
        rest_V: Rest, V.
        sd_V: Standard deviation of single readings at rest, V.
        span_V: Span of the control, V.
        direction: +1 where full travel reads higher than rest, else -1.
        top_known: Whether ``span_V`` is from a record, so that beyond it no hand goes.
    """

    rest_V: float
    sd_V: float
    span_V: float
    direction: int
    top_known: bool


def find_drop_outs(
    volts: Floats, reach: Reach, *, rate_hz: float, glitch_pct: float
) -> tuple[DropOut, ...]:
    """Excursions from rest that no hand makes.

    Away from the travel and beyond full travel any excursion counts; into the travel only what
    leaves and comes back faster than any hand or spring.

    Args:
        volts: Readings, V, shape (n,).
        reach: Where a hand may bring it.
        rate_hz: Rate of readings, Hz.
        glitch_pct: Limit ``glitch_pct`` of the channel.

    Source: own choice of method.
    """
    span_V = reach.span_V
    if span_V <= 0.0 or rate_hz <= 0.0:
        return ()
    travelled = (volts - reach.rest_V) * reach.direction
    least = max(glitch_pct / 100.0 * span_V, NOISE_SDS * reach.sd_V)
    away = travelled < -least
    if reach.top_known:
        away |= travelled > span_V + 2.0 * least
    sharp = _sharp(travelled, rate_hz, span_V, least)
    longest = LONGEST_S * rate_hz
    return tuple(
        DropOut(run, float(np.median(run.of(volts))), bool(sharp[run.first]))
        for run in runs_of(away | sharp)
        if len(run) <= longest
    )


def _sharp(travelled: Floats, rate_hz: float, span_V: float, least: float) -> Flags:
    """Readings between a leap away from rest and a leap back to it."""
    steps = np.diff(travelled)
    by_hand = MARGIN * PEAK_SPEED * span_V / (QUICKEST_HAND_S * rate_hz)
    leap = max(by_hand, least)
    flags = np.zeros(travelled.shape[0], dtype=np.bool_)
    downs = np.flatnonzero(steps < -leap)
    near = max(0.05 * span_V, least)
    for up in np.flatnonzero(steps > leap).tolist():
        if abs(travelled[up]) > near:
            continue
        place = int(np.searchsorted(downs, up + 1))
        if place == len(downs):
            break
        down = int(downs[place])
        if down - up <= LONGEST_S * rate_hz and abs(travelled[down + 1]) < near:
            flags[up + 1 : down + 1] = True
    return flags


def drop_out_findings(
    signal: Signal, drops: Sequence[DropOut], time_s: Floats, rest_V: float, supply_V: float | None
) -> said.Findings:
    """Drop-outs of one channel, counted and timed, with the wire that they point to.

    Args:
        signal: The channel.
        drops: Its excursions.
        time_s: Device clock, s, shape (n,).
        rest_V: Rest, V.
        supply_V: The supply, V; None where it is not logged.
    """
    if not drops:
        return
    longest = max(drops, key=lambda drop: len(drop.run)).run
    step_s = float(np.median(np.diff(time_s[:1000]))) if len(time_s) > 1 else 0.0
    longest_s = float(time_s[longest.stop - 1] - time_s[longest.first]) + step_s
    level_V = float(np.median([drop.level_V for drop in drops]))
    top_V = 5.0 if supply_V is None else supply_V
    high = level_V > signal.limit("wire_at_supply_pct") / 100.0 * top_V - 0.05 * top_V
    low = not high and level_V < signal.limit("wire_at_ground_pct") / 100.0 * top_V
    yield said.fail(
        "drop-outs-high" if high else "drop-outs-low" if low else "drop-outs/check",
        float(len(drops)),
        0.0,
        channel=signal.name,
        first_s=time_s[drops[0].run.first],
        longest_s=longest_s,
        rest_V=rest_V,
        level_V=level_V,
        pulls=PULLS if any(drop.into_travel for drop in drops) else "",
    )
