"""One control of a bench check: its figures and everything that is judged of it alone."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.converter import Standstill, clipped_findings, is_clipped
from calib.checks.bench.dropouts import drop_out_findings
from calib.checks.bench.hands import HELD_S, INTACT_SHARE, LEAST_WORKED_V, Expected, Hand
from calib.checks.bench.noise import Noise
from calib.checks.bench.rests import Rests, rest_findings
from calib.checks.bench.shape import (
    Return,
    flat_findings,
    flats,
    return_findings,
    returns,
    reversal_findings,
    reversals,
    sets_off_late,
)
from calib.checks.bench.signals import Floats, Run, Signals, block_means
from calib.checks.bench.wires import (
    half_finding,
    short_span_findings,
    silent_finding,
    too_soon_finding,
)
from calib.checks.file.moved import Cause, compare_ends, moved_findings
from calib.checks.limits import limit
from calib.checks.travel.findings import reversed_finding, which_end_finding
from calib.controls.presses import Press
from calib.measure.spread import level_spread
from calib.store.documents.check import CheckFigures, CheckLevel
from calib.store.documents.finding import Finding


@dataclass(frozen=True, slots=True)
class ControlCheck:
    """What was found of one control."""

    figures: CheckFigures
    findings: tuple[Finding, ...]


def level_of(hand: Hand, stays: Sequence[Run]) -> CheckLevel | None:
    """Mean level of several stays, V; None where there is no reading.

    Args:
        hand: The control.
        stays: Its rests, or its holds.

    Source: one value a stay, as `calib.measure.spread`.
    """
    parts = [hand.volts[run.first : run.stop] for run in stays]
    parts = [kept for part in parts if (kept := part[np.isfinite(part)]).size]
    if not parts:
        return None
    spread = level_spread(parts, lsb=hand.signal.step)
    repeated = (
        spread.sd_means / math.sqrt(len(parts))
        if len(parts) > 1
        else spread.sd_residual / math.sqrt(spread.n_effective)
    )
    return CheckLevel(
        mean=spread.mean,
        sd=spread.sd_means,
        u=math.hypot(repeated, spread.step_sd),
        stays=len(parts),
    )


def expected_of(figures: CheckFigures | None) -> Expected | None:
    """What a record's figures say of a control; None where rest or full is missing."""
    if figures is None or figures.rest is None or figures.full is None:
        return None
    return Expected(figures.rest.mean, figures.full.mean, figures.supply_V)


@dataclass(frozen=True, slots=True)
class Around:
    """What else a control is judged by.

    Attributes:
        noise: Its noise, now and on record.
        still: Its longest run of equal readings.
        rests: Where it rested; None where it never did.
        then: Its figures on record; None without one.
        supply_V: Its supply's mean, V; None where it is not logged.
        others: Presses of the other controls.
        second_track: Whether it is the second track of another control, and so judged by that.
    """

    noise: Noise
    still: Standstill
    rests: Rests | None
    then: CheckFigures | None
    supply_V: float | None
    others: Sequence[Press] = ()
    second_track: bool = False


def judge_control(signals: Signals, hand: Hand, around: Around) -> ControlCheck:
    """Figures and findings of one control.

    Args:
        signals: The whole capture.
        hand: The control and what was done with it.
        around: What else it is judged by.
    """
    rest, full = level_of(hand, hand.rests), level_of(hand, hand.holds)
    ways = []
    if hand.answered and rest is not None and full is not None:
        ways = returns(signals, hand, rest.mean, full.mean, around.others)
    figures = CheckFigures(
        unit=hand.signal.unit,
        rest=rest,
        full=full,
        presses=len(hand.presses),
        return_s=max((way.time_s for way in ways), default=None),
        noise=around.noise.now.sd,
        hum=around.noise.now.hum,
        supply_V=around.supply_V,
    )
    found = [
        *drop_out_findings(
            hand.signal, hand.drop_outs, signals.time_s, hand.head_V, around.supply_V
        )
    ]
    if hand.needs_rest_s is not None:
        found.append(too_soon_finding(hand, hand.needs_rest_s))
    if hand.answered and rest is not None and full is not None:
        found.extend(_answered(signals, hand, around, (rest.mean, full.mean), ways))
    elif hand.needs_rest_s is None:
        found.extend(_unanswered(signals, hand, around))
    found.extend(_compared(signals, hand, around, figures))
    return ControlCheck(figures, tuple(found))


def _answered(
    signals: Signals,
    hand: Hand,
    around: Around,
    ends_V: tuple[float, float],
    ways: Sequence[Return],
) -> Iterator[Finding]:
    rest_V, full_V = ends_V
    yield from clipped_findings(hand.signal, _held_raw(hand), where="at full travel")
    yield from return_findings(hand, ways)
    yield from reversal_findings(hand, reversals(signals, hand, rest_V, full_V))
    yield from flat_findings(hand, flats(signals, hand, rest_V, full_V))
    yield from rest_findings(hand, around.rests)
    if around.second_track:
        return  # its scale and its way round are judged by the first track's
    yield from short_span_findings(hand, abs(full_V - rest_V), around.supply_V)
    if expected_of(around.then) is None and full_V < rest_V:
        yield _reversed(hand, rest_V, full_V)


def _reversed(hand: Hand, rest_V: float, full_V: float) -> Finding:
    """Which end is rest of a control that read high first. Source: limit ``pressed_pct``."""
    pressed = np.abs(hand.volts - full_V) < np.abs(hand.volts - rest_V)
    pct = 100.0 * float(np.mean(pressed[np.isfinite(hand.volts)]))
    most_pct = limit("pressed_pct", hand.signal.channel)
    if pct > most_pct:
        why = f"it stood at what looks like full travel for {pct:.0f} % of the time"
        return which_end_finding(why, pct, most_pct, "%", hand.name)
    return reversed_finding(hand.name)


def _held_raw(hand: Hand) -> Floats:
    return np.concatenate([hand.signal.raw[run.first : run.stop] for run in hand.holds])


def _reaches(signals: Signals, hand: Hand, around: Around) -> bool:
    """Whether a control held as far from rest as on record, whatever noise lies over it."""
    known = expected_of(around.then)
    means = block_means(hand.volts, signals.samples_in(HELD_S))
    if known is None or not np.isfinite(means).any():
        return False
    reach_V = float(np.nanmax(means) - np.nanmin(means))
    return reach_V >= INTACT_SHARE * abs(known.full_V - known.rest_V)


def _unanswered(signals: Signals, hand: Hand, around: Around) -> Iterator[Finding]:
    volts = hand.volts[np.isfinite(hand.volts)]
    reach_V = float(np.quantile(volts, 0.999) - np.quantile(volts, 0.001)) if volts.size else 0.0
    least_V = limit("answer_pct", hand.signal.channel) / 100.0 * hand.span_V
    if hand.half and reach_V > max(least_V, LEAST_WORKED_V, 8.0 * around.noise.now.sd):
        yield half_finding(hand)
        return
    if around.noise.grown and _reaches(signals, hand, around):
        return  # it moves, and only its noise hides the presses
    then, then_rest_V = around.then, None
    if then is not None and then.rest is not None:
        ratio = around.supply_V / then.supply_V if around.supply_V and then.supply_V else 1.0
        then_rest_V = then.rest.mean * ratio
    yield silent_finding(
        hand,
        supply_V=around.supply_V,
        still=around.still,
        noise_ratio=around.noise.ratio,
        hums=around.noise.hums,
        then_rest_V=then_rest_V,
    )


def _compared(
    signals: Signals, hand: Hand, around: Around, figures: CheckFigures
) -> Iterator[Finding]:
    """Findings against the record; a full travel that the converter cut off did not move."""
    if around.then is None or figures.rest is None or figures.full is None:
        return
    late = sets_off_late(signals, hand, figures.rest.mean, figures.full.mean)
    compared = compare_ends(figures, around.then, hand.signal.channel, sets_off_late=late)
    if compared is None:
        return
    cause = compared.explanation.cause if compared.explanation is not None else None
    if cause in (Cause.FULL, Cause.OFFSET) and is_clipped(hand.signal, _held_raw(hand)):
        return
    yield from moved_findings(hand.name, compared)
