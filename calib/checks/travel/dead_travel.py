"""Whether the travel that a dead band gives up is the control's, or comes from the hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.limits import limit
from calib.checks.travel.numbers import TravelNumbers
from calib.controls.travel import LevelMeasurement, TravelMeasurement
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel

UNEVEN_PCT = 1.0
"""Own choice, per cent of the span: what stands farther apart from press to press is the hand's."""

SCALE_PCT = 3.0
"""Own choice, per cent of the span: from the usual dead band on, room for the scale is a reason."""

MOVED_PCT = 1.0
"""Own choice, per cent of the span: what a stay moves by less inside is not worth a word."""


def dead_travel_findings(
    measured: TravelMeasurement, numbers: TravelNumbers, about: Channel
) -> list[Finding]:
    """What a dead band costs, with the hand's own figures; above the limits there is no value.

    The start counts from the lowest rest and the end from the farthest stop that was held, because
    a thumb that is laid on lifts rest, and a hand that stops short or sinks lowers full travel.

    Args:
        measured: The travel.
        numbers: Its dead band.
        about: The control, for its own limits.
    """
    rest, full = measured.rest, measured.full
    if rest is None or full is None:
        return []
    if not all(numbers.supply.holds(level.mean) for level in (rest, full)):
        return []  # the scale is wrong, and that was said
    found = _moved(measured, rest, full)
    cost = _cost(numbers, rest, full)
    if cost is None:
        why = _why(0.0, numbers, measured, rest, full)
        return [*found, _finding(None, None, Severity.UNKNOWN, why)]
    bounds = (
        (cost.total_pct, limit("dead_travel_most_pct", about), Severity.UNKNOWN),
        (cost.start_pct, limit("start_most_pct", about), Severity.UNKNOWN),
        (cost.scatter_pct, limit("start_scatter_pct", about), Severity.UNKNOWN),
        (cost.end_pct, limit("end_most_pct", about), Severity.UNKNOWN),
        (cost.total_pct, limit("dead_travel_pct", about), Severity.CAUTION),
    )
    for pct, most_pct, severity in bounds:
        if pct > most_pct:
            why = _why(cost.scale_pct, numbers, measured, rest, full)
            return [*found, _finding(cost, (pct, most_pct), severity, why)]
    return found


@dataclass(frozen=True)
class _Cost:
    """What a dead band gives up, per cent of the span.

    Attributes:
        start_pct: At rest, from the lowest rest.
        end_pct: At full travel, from the farthest stop.
        total_pct: At both ends, from the means.
        scatter_pct: At rest, as far as tonight's rests and noise ask for it.
        scale_pct: At both ends, as room for what the scale may be off.
    """

    start_pct: float
    end_pct: float
    total_pct: float
    scatter_pct: float
    scale_pct: float


def _cost(numbers: TravelNumbers, rest: LevelMeasurement, full: LevelMeasurement) -> _Cost | None:
    band, turned = numbers.band, full.mean < rest.mean
    if band is None:
        return None
    ends_V = (rest.mean, full.mean)
    if numbers.shown is not None:
        ends_V = (numbers.shown.shown(ends_V[0]), numbers.shown.shown(ends_V[1]))
    span_V, own_V = ends_V[1] - ends_V[0], abs(full.mean - rest.mean)
    outer_pct = [
        [100.0 * (stay.outer_V - rest.mean) / (full.mean - rest.mean) for stay in level.stays]
        for level in (rest, full)
    ]
    lowest, farthest = min(outer_pct[0]), max(outer_pct[1])
    needed_V = (
        rest.mean - rest.limit_low if turned else rest.limit_high - rest.mean,
        full.limit_high - full.mean if turned else full.mean - full.limit_low,
    )
    allowed_V = (
        rest.mean - numbers.rest.low_V if turned else numbers.rest.high_V - rest.mean,
        numbers.full.high_V - full.mean if turned else full.mean - numbers.full.low_V,
    )
    return _Cost(
        start_pct=100.0 * (band.start_V - ends_V[0]) / span_V - lowest,
        end_pct=100.0 * (ends_V[1] - band.end_V) / span_V + farthest - 100.0,
        total_pct=band.dead_travel_pct,
        scatter_pct=100.0 * needed_V[0] / own_V - lowest,
        scale_pct=100.0 * (sum(allowed_V) - sum(needed_V)) / own_V,
    )


def _shares_pct(
    level: LevelMeasurement, rest: LevelMeasurement, full: LevelMeasurement
) -> list[float]:
    """Where each stay of a level stands, per cent of the way from mean rest to mean full travel."""
    span_V = full.mean - rest.mean
    return [100.0 * float(mean - rest.mean) / span_V for mean in level.spread.means]


def _why(
    scale_pct: float,
    numbers: TravelNumbers,
    measured: TravelMeasurement,
    rest: LevelMeasurement,
    full: LevelMeasurement,
) -> tuple[str, str]:
    """What costs the travel, in the hand's own figures, and what to do about it."""
    reasons, actions = [], []
    stops = [100.0 * each for each in measured.reached]
    if float(np.ptp(stops)) > UNEVEN_PCT:
        reasons.append(f"You stopped at {_listed(stops)} % of the travel.")
        actions.append("Press to the stop each time and hold it there for a second.")
    rests = _shares_pct(rest, rest, full)
    if float(np.ptp(rests)) > UNEVEN_PCT:
        reasons.append(
            f"Between presses it stood at {_listed([each - min(rests) for each in rests])} % of "
            "the travel."
        )
        actions.append(
            "Take the hand off between presses, the thumb too; if it was off, look for cable drag."
        )
    if scale_pct > SCALE_PCT:
        reasons.append(f"{scale_pct:.0f} % is room for what the scale may be off")
        parts = [
            part
            for level in (numbers.rest, numbers.full)
            if (part := level.budget.of_kind("B").best_remedy()) is not None
        ]
        worst = max(parts, key=lambda part: part.u, default=None)
        reasons[-1] += "." if worst is None else f": {worst.source}."
        actions += [] if worst is None else [f"{worst.remedy[0].upper()}{worst.remedy[1:]}."]
    if not reasons:
        reasons.append("So much is for how the readings and the levels scatter.")
        actions.append(
            "Work it ten times; if that does not help, look for the noise with 'calib check'."
        )
    return " ".join(reasons), " ".join(actions)


def _finding(
    cost: _Cost | None,
    crossed: tuple[float, float] | None,
    severity: Severity,
    why: tuple[str, str],
) -> Finding:
    """How much is given up at which end, and why."""
    if cost is None:
        text = f"The whole travel would be given up. {why[0]}"
    else:
        text = (
            f"{cost.start_pct + cost.end_pct:.0f} % of the travel would be given up: "
            f"{cost.start_pct:.0f} % at rest and {cost.end_pct:.0f} % at full travel. {why[0]}"
        )
    end = " So there is no value to type in." if severity is Severity.UNKNOWN else ""
    return Finding(
        code="dead-travel",
        severity=severity,
        text=text + end,
        value=None if crossed is None else crossed[0],
        limit=None if crossed is None else crossed[1],
        unit="%",
        action=why[1],
    )


def _moved(
    measured: TravelMeasurement, rest: LevelMeasurement, full: LevelMeasurement
) -> list[Finding]:
    """What moved inside the stays, where it is worth a word; their levels bear it already."""
    span_V = measured.span_V or 0.0
    found = []
    for word, level, action in (
        ("rest", rest, "Hand off; if it was off, the control settles late: see its spring."),
        ("full travel", full, "Hold it against the stop, the hand at ease."),
    ):
        figures = (
            (f"{'sank' if level is full else 'rose'} by up to {{:.1f}} %", level.sunk_V),
            ("trembled by up to ±{:.1f} %", level.tremble_V),
        )
        shares = [(text, 100.0 * volts / span_V) for text, volts in figures if span_V > 0.0]
        told = [(text.format(pct), pct) for text, pct in shares if pct >= MOVED_PCT]
        if not told:
            continue
        found.append(
            Finding(
                code="moved-inside",
                severity=Severity.PASS,
                text=f"While it stayed at {word} it {' and '.join(text for text, _ in told)} of "
                "the travel; its level is where it stood nearest the travel.",
                value=max(pct for _, pct in told),
                unit="%",
                action=action,
            )
        )
    return found


def _listed(figures: Sequence[float]) -> str:
    """Whole figures in a row, as they are said: 80, 97 and 91."""
    words = [f"{abs(figure):.0f}" if abs(figure) < 0.5 else f"{figure:.0f}" for figure in figures]
    return ", ".join(words[:-1]) + f" and {words[-1]}" if len(words) > 1 else words[0]
