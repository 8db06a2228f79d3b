"""Whether the travel that a dead band gives up is the control's, or comes from the hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.limits import limit
from calib.checks.travel.numbers import TravelNumbers, in_basis
from calib.controls.travel import LevelMeasurement, TravelMeasurement
from calib.store.documents import said
from calib.store.documents.finding import Severity
from calib.store.documents.travel import DeadBand
from calib.store.rig import Channel

UNEVEN_PCT = 1.0
"""Own choice, per cent of the span: what stands farther apart from press to press is the hand's."""

SCALE_PCT = 3.0
"""Own choice, per cent of the span: from the usual dead band on, room for the scale is a reason."""

MOVED_PCT = 1.0
"""Own choice, per cent of the span: what a stay moves by less inside is not worth a word."""


def dead_travel_findings(
    measured: TravelMeasurement, numbers: TravelNumbers, about: Channel
) -> said.Findings:
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
        return
    if not all(numbers.knowledge.supply.holds(level.mean) for level in (rest, full)):
        return  # the scale is wrong, and that was said
    yield from _moved_findings(rest, full)
    if numbers.band is None:
        why, what_to_do = _why(measured.hand.reached, numbers, scale_pct=0.0)
        yield said.unknown("dead-travel/whole", why=why, what_to_do=what_to_do)
        return
    cost = _cost(numbers, numbers.band, rest, full)
    for pct, most_pct, severity in (
        (cost.total_pct, limit("dead_travel_most_pct", about), Severity.UNKNOWN),
        (cost.start_pct, limit("start_most_pct", about), Severity.UNKNOWN),
        (cost.scatter_pct, limit("start_scatter_pct", about), Severity.UNKNOWN),
        (cost.end_pct, limit("end_most_pct", about), Severity.UNKNOWN),
        (cost.total_pct, limit("dead_travel_pct", about), Severity.CAUTION),
    ):
        if pct > most_pct:
            why, what_to_do = _why(measured.hand.reached, numbers, scale_pct=cost.scale_pct)
            yield said.finding(
                severity,
                "dead-travel" if severity is Severity.CAUTION else "dead-travel/no-value",
                pct,
                most_pct,
                given_up_pct=cost.start_pct + cost.end_pct,
                cost=cost,
                why=why,
                what_to_do=what_to_do,
            )
            return


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


def _cost(
    numbers: TravelNumbers, band: DeadBand, rest: LevelMeasurement, full: LevelMeasurement
) -> _Cost:
    turned, own_V = full.mean < rest.mean, abs(full.mean - rest.mean)
    rest_V, full_V = in_basis(rest.mean, numbers.shown), in_basis(full.mean, numbers.shown)
    lowest = min(_percent(stay.outer_V, rest, full) for stay in rest.stays)
    farthest = max(_percent(stay.outer_V, rest, full) for stay in full.stays)
    needed_V, allowed_V = [], []
    for level, allowed, upper in ((rest, numbers.rest, not turned), (full, numbers.full, turned)):
        inward = 1.0 if upper else -1.0
        limit_V = level.limits.high if upper else level.limits.low
        needed_V.append(inward * (limit_V - level.mean))
        allowed_V.append(inward * (allowed.limit_V(upper=upper) - level.mean))
    return _Cost(
        start_pct=100.0 * (band.start - rest_V) / (full_V - rest_V) - lowest,
        end_pct=100.0 * (full_V - band.end) / (full_V - rest_V) + farthest - 100.0,
        total_pct=band.dead_travel_pct,
        scatter_pct=100.0 * needed_V[0] / own_V - lowest,
        scale_pct=100.0 * (sum(allowed_V) - sum(needed_V)) / own_V,
    )


def _percent(volts: float, rest: LevelMeasurement, full: LevelMeasurement) -> float:
    """A voltage in per cent of the way from mean rest to mean full travel."""
    return 100.0 * (volts - rest.mean) / (full.mean - rest.mean)


def _why(reached: Sequence[float], numbers: TravelNumbers, *, scale_pct: float) -> tuple[str, str]:
    """What costs the travel, in the hand's own figures, and what to do about it."""
    rest, full = numbers.rest.level, numbers.full.level
    reasons, actions = [], []
    stops = [100.0 * each for each in reached]
    if float(np.ptp(stops)) > UNEVEN_PCT:
        reasons.append(f"You stopped at {_listed(stops)} % of the travel.")
        actions.append("Press to the stop each time and hold it there for a second.")
    rests = [_percent(float(mean), rest, full) for mean in rest.spread.means]
    if float(np.ptp(rests)) > UNEVEN_PCT:
        stood = _listed([each - min(rests) for each in rests])
        reasons.append(f"Between presses it stood at {stood} % of the travel.")
        actions.append(
            "Take the hand off between presses, the thumb too; if it was off, look for cable drag."
        )
    if scale_pct > SCALE_PCT:
        budgets = (numbers.rest.budget, numbers.full.budget)
        remedies = [budget.of_kind("B").best_remedy() for budget in budgets]
        worst = max(filter(None, remedies), key=lambda part: part.u, default=None)
        source = "" if worst is None else f": {worst.source}"
        reasons.append(f"{scale_pct:.0f} % is room for what the scale may be off{source}.")
        actions += [] if worst is None else [f"{worst.remedy[0].upper()}{worst.remedy[1:]}."]
    if not reasons:
        reasons.append("So much is for how the readings and the levels scatter.")
        actions.append(
            "Work it ten times; if that does not help, look for the noise with 'calib check'."
        )
    return " ".join(reasons), " ".join(actions)


def _moved_findings(rest: LevelMeasurement, full: LevelMeasurement) -> said.Findings:
    """What moved inside the stays, where it is worth a word; their levels bear it already."""
    span_V = abs(full.mean - rest.mean)
    for level, sank in ((rest, "rose"), (full, "sank")):
        sunk_pct, tremble_pct = 100.0 * level.sunk_V / span_V, 100.0 * level.tremble_V / span_V
        told = []
        if sunk_pct >= MOVED_PCT:
            told.append(f"{sank} by up to {sunk_pct:.1f} %")
        if tremble_pct >= MOVED_PCT:
            told.append(f"trembled by up to ±{tremble_pct:.1f} %")
        if told:
            yield said.passes(
                "moved-inside" if level is rest else "moved-inside/full",
                max(sunk_pct, tremble_pct),
                what=" and ".join(told),
            )


def _listed(figures: Sequence[float]) -> str:
    """Whole figures in a row, as they are said: 80, 97 and 91."""
    words = [f"{abs(figure):.0f}" if abs(figure) < 0.5 else f"{figure:.0f}" for figure in figures]
    return ", ".join(words[:-1]) + f" and {words[-1]}" if len(words) > 1 else words[0]
