"""Whether rest and full travel stayed where they were, and which one cause explains a move."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from calib.checks.file.equivalence import Level, Moved, Shift, shift
from calib.checks.limits import limit
from calib.store.documents import said
from calib.store.documents.check import CheckFigures, CheckLevel
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel

NOMINAL_SUPPLY_V = 5.0
"""Supply taken where none is logged; common practice, no source."""

LEAST_SD_PCT = 0.1
"""Least standard deviation of a level from stay to stay, in per cent of the span; own choice,
because two stays can agree by chance and no control repeats better."""


class Cause(Enum):
    """One thing that moves rest and full travel in its own proportion."""

    REST = "rest-moved"
    FULL = "full-moved"
    TO_GROUND = "pulled-to-ground"
    TO_SUPPLY = "pulled-to-supply"
    WEAK_MAGNET = "span-shrunk"
    OFFSET = "both-moved"
    LAGS = "hysteresis"
    REVERSED = "direction-changed"


@dataclass(frozen=True, slots=True)
class Explanation:
    """The cause that explains the shifts of rest and full travel best.

    Attributes:
        cause: Which.
        size: How much of it, 1 for all the way (a dead short, no magnet); volts for a shift.
        misfit: Root sum of squares of what it leaves, in standard uncertainties.
    """

    cause: Cause
    size: float
    misfit: float


@dataclass(frozen=True, slots=True)
class Ends:
    """Rest and full travel at one time, in volts at one and the same supply.

    Attributes:
        rest: Rest.
        full: Full travel.
    """

    rest: Level
    full: Level

    @property
    def span(self) -> float:
        """Full less rest, V."""
        return self.full.mean - self.rest.mean


@dataclass(frozen=True, slots=True)
class Comparison:
    """Rest and full travel against the record.

    Attributes:
        rest: Shift of rest, V.
        full: Shift of full travel, V.
        span_V: Span on record, V, never negative.
        explanation: What explains it; None where nothing moved.
    """

    rest: Shift
    full: Shift
    span_V: float
    explanation: Explanation | None

    @property
    def moved(self) -> Moved:
        """The worse of both."""
        both = {self.rest.moved, self.full.moved}
        for worse in (Moved.OUTSIDE, Moved.UNDECIDED):
            if worse in both:
                return worse
        return Moved.EQUIVALENT


def compare_ends(
    now: CheckFigures,
    then: CheckFigures,
    channel: Channel | None = None,
    *,
    sets_off_late: bool = False,
) -> Comparison | None:
    """Rest and full travel against the record, in volts at the supply of the record.

    Args:
        now: Figures of this check.
        then: Figures on record.
        channel: The channel, for the user's own limits.
        sets_off_late: Whether the signal left out the start of the hand's way.

    Returns:
        None where either lacks rest or full travel.

    Source: two one-sided tests, see ``equivalence.shift``; spreads of both are pooled, because
    the same spring and stop made both.
    """
    if now.rest is None or now.full is None or then.rest is None or then.full is None:
        return None
    scale = _supply_ratio(now, then)
    span_V = abs(then.full.mean - then.rest.mean)
    margin = limit("moved_pct", channel) / 100.0 * span_V
    floor_sd = LEAST_SD_PCT / 100.0 * span_V
    rest_now, rest_then = _levels(now.rest, then.rest, scale, floor_sd)
    full_now, full_then = _levels(now.full, then.full, scale, floor_sd)
    rest = shift(rest_now, rest_then, margin=margin)
    full = shift(full_now, full_then, margin=margin)
    comparison = Comparison(rest, full, span_V, None)
    if comparison.moved is Moved.EQUIVALENT:
        return comparison
    supply_V = then.supply_V if then.supply_V is not None else NOMINAL_SUPPLY_V
    explanation = explain(
        Ends(rest_now, full_now), Ends(rest_then, full_then), supply_V, sets_off_late=sets_off_late
    )
    return Comparison(rest, full, span_V, explanation)


def _supply_ratio(now: CheckFigures, then: CheckFigures) -> float:
    if now.supply_V is None or then.supply_V is None or now.supply_V <= 0.0:
        return 1.0
    return then.supply_V / now.supply_V


def _levels(
    now: CheckLevel, then: CheckLevel, scale: float, floor_sd: float
) -> tuple[Level, Level]:
    """Both levels with the spread that both together show."""
    dof = now.stays - 1 + then.stays - 1
    squares = (now.stays - 1) * (now.sd * scale) ** 2 + (then.stays - 1) * then.sd**2
    sd = max(math.sqrt(squares / dof) if dof else 0.0, floor_sd)
    # One press each and no more: the floor is all that is known of the spread.
    shared = math.inf if dof == 0 else float(dof)

    def level(mean: float, stays: int, u_step: float) -> Level:
        return Level(mean, math.hypot(sd / math.sqrt(max(stays, 1)), u_step), shared)

    return (
        level(now.mean * scale, now.stays, _step_u(now) * scale),
        level(then.mean, then.stays, _step_u(then)),
    )


def _step_u(level: CheckLevel) -> float:
    """What the converter's step adds to a level's uncertainty."""
    return math.sqrt(max(level.u**2 - level.sd**2 / max(level.stays, 1), 0.0))


def explain(now: Ends, then: Ends, supply_V: float, *, sets_off_late: bool = False) -> Explanation:
    """The one cause that explains the shifts of rest and full travel best.

    Each cause moves both in a proportion of its own: a pull to ground or supply draws them there,
    a weak magnet draws them to half the supply, which is what a ratiometric linear Hall sensor
    gives without field; a stop moves one of them. A signal that lags behind its control stays short
    of both ends by as much, which looks like a weak magnet but for the late start of each press.

    Args:
        now: Rest and full travel now, V.
        then: On record, V, at the same supply.
        supply_V: That supply, V.
        sets_off_late: Whether the signal left out the start of the hand's way.

    Source: voltage divider; quiescent output of half the supply: published data sheets of
    ratiometric linear Hall sensors; least squares over one size for each cause.
    """
    if now.span * then.span < 0.0:
        return Explanation(Cause.REVERSED, 1.0, 0.0)
    move = (now.rest.mean - then.rest.mean, now.full.mean - then.full.mean)
    u = (
        math.hypot(now.rest.u, then.rest.u) or 1e-9,
        math.hypot(now.full.u, then.full.u) or 1e-9,
    )
    rest, full = then.rest.mean, then.full.mean
    half, towards_full = 0.5 * supply_V, math.copysign(1.0, then.span)
    inward, pattern = Cause.WEAK_MAGNET, (half - rest, half - full)
    if sets_off_late:
        inward, pattern = Cause.LAGS, (towards_full, -towards_full)
    patterns: dict[Cause, tuple[tuple[float, float], float]] = {
        Cause.REST: ((1.0, 0.0), -math.inf),
        Cause.FULL: ((0.0, 1.0), -math.inf),
        Cause.TO_GROUND: ((-rest, -full), 0.0),
        Cause.TO_SUPPLY: ((supply_V - rest, supply_V - full), 0.0),
        inward: (pattern, 0.0),
        Cause.OFFSET: ((1.0, 1.0), -math.inf),
    }
    found = [_fit(cause, move, u, pattern, least) for cause, (pattern, least) in patterns.items()]
    return min(found, key=lambda each: each.misfit)


def _fit(
    cause: Cause,
    move: tuple[float, float],
    u: tuple[float, float],
    pattern: tuple[float, float],
    least: float,
) -> Explanation:
    """Weighted least-squares size of one cause, no smaller than ``least``, and its misfit."""
    weights = [1.0 / each**2 for each in u]
    top = sum(w * m * p for w, m, p in zip(weights, move, pattern, strict=True))
    bottom = sum(w * p * p for w, p in zip(weights, pattern, strict=True))
    size = max(top / bottom, least)
    misfit = math.sqrt(
        sum(w * (m - size * p) ** 2 for w, m, p in zip(weights, move, pattern, strict=True))
    )
    return Explanation(cause, size, misfit)


_CAUSES: dict[Cause, tuple[str, str]] = {
    Cause.REST: (
        "its rest has moved: spring, cable, stop or the magnet's seat",
        "Work it a few times by hand and look whether it comes all the way back.",
    ),
    Cause.FULL: (
        "its full travel has moved: stop, cable, or an input that reads no higher",
        "Look what stops it; meter the signal wire at full travel against this reading.",
    ),
    Cause.TO_GROUND: (
        "both ends are drawn to ground: the signal wire leaks or is shorted to ground, is badly "
        "joined where a resistor pulls it down, or the sensor's 5 V wire is corroded",
        "Unplug it and measure signal pin to ground in ohms; then the 5 V at the sensor's pins.",
    ),
    Cause.TO_SUPPLY: (
        "both ends are drawn to the supply: the sensor's ground wire is broken or corroded, the "
        "signal wire touches 5 V, or is badly joined where a resistor pulls it up",
        "Measure the sensor's ground pin to the logger's ground in ohms; then signal to 5 V.",
    ),
    Cause.WEAK_MAGNET: (
        "both ends are drawn to half the supply: the magnet is loose, cracked or weak, or the "
        "sensor is dying",
        "Open the control and look at magnet and sensor; do not zero the fault away.",
    ),
    Cause.LAGS: (
        "it stays short of both ends and sets off late: the sensor lags behind the control "
        "(hysteresis), or there is lost motion between them",
        "Move it to and fro in small strokes with 'calib watch': what does not follow is lost; "
        "then open it and look at magnet, cable and lever.",
    ),
    Cause.OFFSET: (
        "both ends moved the same way: the sensor or its magnet sits otherwise, or a current "
        "flows in its ground",
        "Look at the sensor's seat, then meter its ground pin against the logger's ground.",
    ),
    Cause.REVERSED: (
        "it works backwards: supply and ground changed places, or the magnet was turned round",
        "Meter the three pins; if it is meant to be so, measure it again with 'calib travel'.",
    ),
}


def moved_findings(name: str, comparison: Comparison) -> list[Finding]:
    """What a comparison with the record means for one control.

    Equivalent passes, wholly outside fails, neither is a caution that asks for more presses.
    """
    explanation = comparison.explanation
    worst_shift = max(comparison.rest, comparison.full, key=lambda each: abs(each.value))
    span_V = max(comparison.span_V, 1e-9)
    if explanation is None:
        return [_unmoved(name, comparison, worst_shift)]
    sure = comparison.moved is Moved.OUTSIDE
    why, action = _CAUSES[explanation.cause]
    moves = (
        f"rest {1000 * comparison.rest.value:+.0f} mV, "
        f"full travel {1000 * comparison.full.value:+.0f} mV"
    )
    pct = 100.0 * worst_shift.value / span_V
    lead = f"{name} moved against the record ({moves})"
    if not sure:
        lead = f"{name} may have moved against the record ({moves}, not sure)"
        action = "Check again with five more presses; then: " + action
    return [
        Finding(
            code=explanation.cause.value,
            severity=Severity.FAIL if sure else Severity.CAUTION,
            text=f"{lead}: {why}.",
            value=pct,
            limit=100.0 * worst_shift.margin / span_V,
            unit="%",
            action=action,
            channel=name,
        )
    ]


def _unmoved(name: str, comparison: Comparison, worst_shift: Shift) -> Finding:
    span_V = max(comparison.span_V, 1e-9)
    return said.passes(
        "where-it-was",
        100.0 * worst_shift.value / span_V,
        100.0 * worst_shift.margin / span_V,
        channel=name,
        mV=1000 * comparison.rest.value,
        mV2=1000 * comparison.full.value,
    )
