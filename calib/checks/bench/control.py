"""One control of a bench check: its figures and everything that is judged of it alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.converter import Standstill, clipped_finding
from calib.checks.bench.dropouts import drop_out_finding
from calib.checks.bench.hands import Expected, Hand
from calib.checks.bench.noise import Noise
from calib.checks.bench.shape import return_finding, returns, reversal_finding, reversals
from calib.checks.bench.signals import Run, Signals
from calib.checks.bench.wires import (
    half_finding,
    reversed_finding,
    short_span_finding,
    silent_finding,
)
from calib.checks.file.moved import Cause, Comparison, compare_ends, moved_findings
from calib.checks.limits import limit
from calib.controls.presses import Press
from calib.measure.spread import level_spread
from calib.store.documents.check import CheckFigures, CheckLevel
from calib.store.documents.finding import Finding, Severity

LEAST_WORKED_SHARE = 0.5
"""Share of its span that a half press covers at least; own choice, what moves less is no press."""


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


def judge_control(
    signals: Signals,
    hand: Hand,
    noise: Noise,
    still: Standstill,
    then: CheckFigures | None,
    supply_V: float | None,
    others: Sequence[Press] = (),
) -> ControlCheck:
    """Figures and findings of one control.

    Args:
        signals: The whole capture.
        hand: The control and what was done with it.
        noise: Its noise, now and on record.
        still: Its longest run of equal readings.
        then: Its figures on record; None without one.
        supply_V: Its supply's mean, V; None where it is not logged.
        others: Presses of the other controls.
    """
    rest, full = level_of(hand, hand.rests), level_of(hand, hand.holds)
    slowest_s = None
    found: list[Finding | None] = [
        drop_out_finding(hand.signal, hand.drop_outs, signals.time_s, hand.head_V, supply_V)
    ]
    if not hand.answered or rest is None or full is None:
        found.append(_unanswered(hand, noise, still, then, supply_V))
    else:
        ways = returns(signals, hand, rest.mean, full.mean, others)
        slowest_s = max((way.time_s for way in ways), default=None)
        found.append(_clipped(hand))
        found.append(return_finding(hand, ways))
        back = reversals(signals, hand, rest.mean, full.mean)
        found.append(reversal_finding(hand, back))
        found.append(short_span_finding(hand, abs(full.mean - rest.mean), supply_V))
        found.append(_scatter(hand, abs(full.mean - rest.mean), noise))
        if expected_of(then) is None and full.mean < rest.mean:
            found.append(reversed_finding(hand))
    figures = CheckFigures(
        unit=hand.signal.unit,
        rest=rest,
        full=full,
        presses=len(hand.presses),
        return_s=slowest_s,
        noise=noise.now.sd,
        hum=noise.now.hum,
        supply_V=supply_V,
    )
    compared = compare_ends(figures, then, hand.signal.channel) if then is not None else None
    if compared is not None:
        found.extend(_compared(hand, compared, found))
    return ControlCheck(figures, tuple(each for each in found if each is not None))


def _unanswered(
    hand: Hand,
    noise: Noise,
    still: Standstill,
    then: CheckFigures | None,
    supply_V: float | None,
) -> Finding:
    volts = hand.volts[np.isfinite(hand.volts)]
    reach_V = float(np.quantile(volts, 0.999) - np.quantile(volts, 0.001)) if volts.size else 0.0
    noise_V = 8.0 * noise.now.sd
    if hand.half and reach_V > max(LEAST_WORKED_SHARE * hand.span_V, 0.5, noise_V):
        return half_finding(hand)
    then_rest_V = None
    if then is not None and then.rest is not None:
        ratio = supply_V / then.supply_V if supply_V and then.supply_V else 1.0
        then_rest_V = then.rest.mean * ratio
    return silent_finding(
        hand,
        supply_V=supply_V,
        still=still,
        noise_ratio=noise.ratio,
        hums=noise.hums,
        then_rest_V=then_rest_V,
    )


def _clipped(hand: Hand) -> Finding | None:
    raw = np.concatenate([hand.signal.raw[run.first : run.stop] for run in hand.holds])
    return clipped_finding(hand.signal, raw, where="at full travel")


def _scatter(hand: Hand, span_V: float, noise: Noise) -> Finding | None:
    """Rest that depends on how the control was let go.

    Source: limit ``rest_scatter_pct``.
    """
    means = [
        float(np.nanmean(hand.volts[run.first : run.stop]))
        for run in hand.rests
        if np.isfinite(hand.volts[run.first : run.stop]).any()
    ]
    if len(means) < 2 or span_V <= 0.0:
        return None
    apart_V = max(means) - min(means)
    spread_pct = 100.0 * apart_V / span_V
    noise_pct = 100.0 * noise.now.sd / span_V
    allowed = limit("rest_scatter_pct", hand.signal.channel)
    if spread_pct <= max(allowed, noise_pct):
        return None
    return Finding(
        code="rest-scatters",
        severity=Severity.CAUTION,
        text=f"{hand.name} comes back to rests that differ by {1000 * apart_V:.0f} mV "
        f"({spread_pct:.1f} % of its span): hysteresis, friction or a loose seat.",
        value=spread_pct,
        limit=allowed,
        unit="%",
        action="Work it slowly and snap it; look where it stops short of home.",
        channel=hand.name,
    )


def _compared(hand: Hand, compared: Comparison, found: Sequence[Finding | None]) -> list[Finding]:
    """Findings against the record; a full travel that the converter cut off did not move."""
    clips = any(each is not None and each.code == "clips" for each in found)
    cause = compared.explanation.cause if compared.explanation is not None else None
    if clips and cause in (Cause.FULL, Cause.OFFSET):
        return []
    return moved_findings(hand.name, compared)
