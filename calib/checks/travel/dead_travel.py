"""Whether the travel that a dead band gives up is the control's, or comes from the hand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calib.checks.limits import limit
from calib.checks.travel.numbers import TravelNumbers
from calib.controls.travel import LevelMeasurement, TravelMeasurement
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel

UNEVEN_PCT = 1.0
"""Own choice, per cent of the span: what stands farther apart from press to press is the hand's."""

MOVED_PCT = 1.0
"""Own choice, per cent of the span: what a stay moves by less inside is not worth a word."""


def dead_travel_findings(
    measured: TravelMeasurement, numbers: TravelNumbers, about: Channel
) -> list[Finding]:
    """What a dead band costs, with the hand's own figures; above the limits there is no value.

    The start counts from the lowest rest and the end from the farthest stop, because a thumb that
    is left on lifts the mean of rest, and a hand that stops short lowers that of full travel.

    Args:
        measured: The travel.
        numbers: Its dead band.
        about: The control, for its own limits.
    """
    rest, full = measured.rest, measured.full
    if rest is None or full is None:
        return []
    found = _moved(measured, rest, full)
    given_up = _given_up_pct(numbers, rest, full)
    if given_up is None:
        return [*found, _costs(None, None, rest, full, measured, Severity.UNKNOWN)]
    start_pct, end_pct, total_pct = given_up
    most_pct = limit("dead_travel_most_pct", about)
    over = (
        total_pct > most_pct
        or start_pct > limit("start_most_pct", about)
        or end_pct > limit("end_most_pct", about)
    )
    caution_pct = limit("dead_travel_pct", about)
    if over or total_pct > caution_pct:
        severity = Severity.UNKNOWN if over else Severity.CAUTION
        limit_pct = most_pct if over else caution_pct
        found.append(_costs((start_pct, end_pct), limit_pct, rest, full, measured, severity))
    return found


def _given_up_pct(
    numbers: TravelNumbers, rest: LevelMeasurement, full: LevelMeasurement
) -> tuple[float, float, float] | None:
    """At rest from the lowest, at full travel from the farthest, and both from the means, %."""
    band = numbers.band
    if band is None:
        return None
    ends_V = (rest.mean, full.mean)
    if numbers.shown is not None:
        ends_V = (numbers.shown.shown(ends_V[0]), numbers.shown.shown(ends_V[1]))
    span_V = ends_V[1] - ends_V[0]
    start_pct = 100.0 * (band.start_V - ends_V[0]) / span_V
    end_pct = 100.0 * (ends_V[1] - band.end_V) / span_V
    rests, stops = _shares_pct(rest, rest, full), _shares_pct(full, rest, full)
    return start_pct - min(rests), end_pct + max(stops) - 100.0, band.dead_travel_pct


def _shares_pct(
    level: LevelMeasurement, rest: LevelMeasurement, full: LevelMeasurement
) -> list[float]:
    """Where each stay of a level stands, per cent of the way from mean rest to mean full travel."""
    span_V = full.mean - rest.mean
    return [100.0 * float(mean - rest.mean) / span_V for mean in level.spread.means]


def _costs(
    given_up: tuple[float, float] | None,
    limit_pct: float | None,
    rest: LevelMeasurement,
    full: LevelMeasurement,
    measured: TravelMeasurement,
    severity: Severity,
) -> Finding:
    """The finding: how much is given up at which end, and why."""
    if given_up is None:
        text = "The whole travel would be given up."
    else:
        text = (
            f"{sum(given_up):.0f} % of the travel would be given up: {given_up[0]:.0f} % at rest "
            f"and {given_up[1]:.0f} % at full travel."
        )
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
    if not reasons:
        reasons.append("So much is for how the readings and the levels scatter.")
        actions.append(
            "Work it ten times; if that does not help, look for the noise with 'calib check'."
        )
    unknown = severity is Severity.UNKNOWN
    return Finding(
        code="dead-travel",
        severity=severity,
        text=" ".join([text, *reasons, *(["So there is no value to type in."] if unknown else [])]),
        value=None if given_up is None else sum(given_up),
        limit=limit_pct,
        unit="%",
        action=" ".join(actions),
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
