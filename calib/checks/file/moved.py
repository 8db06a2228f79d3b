"""Whether rest and full travel stayed where they were, and which one cause explains a move."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from calib.checks.limits import limit
from calib.measure.distributions import student_quantile
from calib.measure.uncertainty import effective_dof
from calib.store.documents import said
from calib.store.documents.check import CheckFigures, CheckLevel
from calib.store.documents.finding import Severity
from calib.store.rig import Channel

CONFIDENCE = 0.95
"""Confidence of each one-sided test, and with which a slope must differ from nought to be told; own
choice, because it is the usual one."""

NOMINAL_SUPPLY_V = 5.0
"""Supply taken where none is logged; common practice, no source."""

LEAST_SD_PCT = 0.1
"""Least standard deviation of a level from stay to stay, in per cent of the span; own choice,
because two stays can agree by chance and no control repeats better."""


class Moved(Enum):
    """What the two one-sided tests say, best first."""

    EQUIVALENT = "equivalent"
    UNDECIDED = "undecided"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean with what is known of it.

    Attributes:
        mean: The mean.
        u: Its standard uncertainty, same unit.
        dof: Degrees of freedom of ``u``; infinite where it is known otherwise.
    """

    mean: float
    u: float
    dof: float


@dataclass(frozen=True, slots=True)
class Shift:
    """How far something moved between two measurements.

    Attributes:
        value: Now less then.
        u: Standard uncertainty of it.
        dof: Effective degrees of freedom.
        margin: How far it may move.
    """

    value: float
    u: float
    dof: float
    margin: float

    @property
    def half_width(self) -> float:
        """Half of the two-sided interval of twice the one-sided risk."""
        return student_quantile(CONFIDENCE, self.dof) * self.u

    @property
    def moved(self) -> Moved:
        """Equivalent when the interval lies wholly within the margin, outside when beyond it."""
        if abs(self.value) + self.half_width < self.margin:
            return Moved.EQUIVALENT
        beyond = abs(self.value) - self.half_width > self.margin
        return Moved.OUTSIDE if beyond else Moved.UNDECIDED


def shift(now: Mean, then: Mean, *, margin: float) -> Shift:
    """How far a level moved, in its unit, and whether that is within a margin.

    Args:
        now: The level now.
        then: The level on record.
        margin: Largest shift that does not matter, above 0.

    Source: two one-sided tests, Schuirmann, J. Pharmacokinetics and Biopharmaceutics 15 (1987)
    657 (from memory); degrees of freedom JCGM 100:2008, G.4.1, equation G.2b.
    """
    dof = effective_dof([(now.u, now.dof), (then.u, then.dof)])
    return Shift(now.mean - then.mean, math.hypot(now.u, then.u), dof, margin)


NowAndThen = tuple[Mean, Mean]


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


EITHER_WAY = (Cause.REST, Cause.FULL, Cause.OFFSET)
"""What a stop or a seat moves goes either way; all else draws one way only."""


@dataclass(frozen=True, slots=True)
class TravelShift:
    """Rest and full travel against the record.

    Attributes:
        rest: Shift of rest, V.
        full: Shift of full travel, V.
        span_V: Span on record, V, never negative.
        cause: What explains it best; None where nothing moved.
    """

    rest: Shift
    full: Shift
    span_V: float
    cause: Cause | None

    @property
    def moved(self) -> Moved:
        """The worse of both."""
        return max(self.rest.moved, self.full.moved, key=list(Moved).index)


def at_supply(then_V: float | None, now_V: float | None) -> float:
    """What volts now are multiplied with to be at the supply then; 1 where one was not logged."""
    return then_V / now_V if then_V is not None and now_V is not None and now_V > 0.0 else 1.0


def compare_ends(
    now: CheckFigures, then: CheckFigures, channel: Channel | None = None, *, late: bool = False
) -> TravelShift | None:
    """Rest and full travel against the record, in volts at the supply of the record.

    Args:
        now: Figures of this check.
        then: Figures on record.
        channel: The channel, for the user's own limits.
        late: Whether the signal left out the start of the hand's way.

    Returns:
        None where either lacks rest or full travel.

    Source: two one-sided tests, see ``shift``; spreads of both are pooled, because
    the same spring and stop made both.
    """
    if now.rest is None or now.full is None or then.rest is None or then.full is None:
        return None
    scale = at_supply(then.supply_V, now.supply_V)
    span_V = abs(then.full.mean - then.rest.mean)
    margin = limit("moved_pct", channel) / 100.0 * span_V
    floor_sd = LEAST_SD_PCT / 100.0 * span_V
    rests = _levels(now.rest, then.rest, scale, floor_sd)
    fulls = _levels(now.full, then.full, scale, floor_sd)
    rest, full = shift(*rests, margin=margin), shift(*fulls, margin=margin)
    cause = None
    if {rest.moved, full.moved} != {Moved.EQUIVALENT}:
        supply_V = then.supply_V if then.supply_V is not None else NOMINAL_SUPPLY_V
        cause = _explain(rests, fulls, supply_V, late=late)
    return TravelShift(rest, full, span_V, cause)


def _levels(now: CheckLevel, then: CheckLevel, scale: float, floor_sd: float) -> NowAndThen:
    """Both levels with the spread that both together show."""
    dof = now.stays - 1 + then.stays - 1
    squares = (now.stays - 1) * (now.sd * scale) ** 2 + (then.stays - 1) * then.sd**2
    sd = max(math.sqrt(squares / dof) if dof else 0.0, floor_sd)
    # One press each and no more: the floor is all that is known of the spread.
    shared = math.inf if dof == 0 else float(dof)

    def level(mean: float, stays: int, u_step: float) -> Mean:
        return Mean(mean, math.hypot(sd / math.sqrt(max(stays, 1)), u_step), shared)

    return (
        level(now.mean * scale, now.stays, _step_u(now) * scale),
        level(then.mean, then.stays, _step_u(then)),
    )


def _step_u(level: CheckLevel) -> float:
    """What the converter's step adds to a level's uncertainty."""
    return math.sqrt(max(level.u**2 - level.sd**2 / max(level.stays, 1), 0.0))


def _explain(rest: NowAndThen, full: NowAndThen, supply_V: float, *, late: bool) -> Cause:
    """The one cause that explains the shifts of rest and full travel best.

    Each cause moves both in a proportion of its own: a pull to ground or supply draws them there,
    a weak magnet draws them to half the supply, which is what a ratiometric linear Hall sensor
    gives without field; a stop moves one of them. A signal that lags behind its control stays short
    of both ends by as much, which looks like a weak magnet but for the late start of each press.

    Args:
        rest: Rest, V, at the supply of the record.
        full: Full travel likewise.
        supply_V: That supply, V.
        late: Whether the signal left out the start of the hand's way.

    Source: voltage divider; quiescent output of half the supply: published data sheets of
    ratiometric linear Hall sensors; least squares over one size for each cause.
    """
    rest_V, full_V = rest[1].mean, full[1].mean
    if (full[0].mean - rest[0].mean) * (full_V - rest_V) < 0.0:
        return Cause.REVERSED
    half_V, towards_full = 0.5 * supply_V, math.copysign(1.0, full_V - rest_V)
    weak = Cause.WEAK_MAGNET, (half_V - rest_V, half_V - full_V)
    patterns: tuple[tuple[Cause, tuple[float, float]], ...] = (
        (Cause.REST, (1.0, 0.0)),
        (Cause.FULL, (0.0, 1.0)),
        (Cause.TO_GROUND, (-rest_V, -full_V)),
        (Cause.TO_SUPPLY, (supply_V - rest_V, supply_V - full_V)),
        (Cause.LAGS, (towards_full, -towards_full)) if late else weak,
        (Cause.OFFSET, (1.0, 1.0)),
    )
    return min(patterns, key=lambda each: _misfit(each[0], each[1], (rest, full)))[0]


def _misfit(
    cause: Cause, pattern: tuple[float, float], ends: tuple[NowAndThen, NowAndThen]
) -> float:
    """What a cause of the best size, never negative for a pull, leaves, in uncertainties."""
    moves = [now.mean - then.mean for now, then in ends]
    weights = [1.0 / (math.hypot(now.u, then.u) or 1e-9) ** 2 for now, then in ends]
    top = sum(w * m * p for w, m, p in zip(weights, moves, pattern, strict=True))
    bottom = sum(w * p * p for w, p in zip(weights, pattern, strict=True))
    size = top / bottom if cause in EITHER_WAY else max(top / bottom, 0.0)
    return math.sqrt(
        sum(w * (m - size * p) ** 2 for w, m, p in zip(weights, moves, pattern, strict=True))
    )


def moved_findings(name: str, comparison: TravelShift) -> said.Findings:
    """What a comparison with the record means for one control.

    Equivalent passes, wholly outside fails, neither is a caution that asks for more presses.
    """
    rest, full, cause = comparison.rest, comparison.full, comparison.cause
    farthest = max(rest, full, key=lambda each: abs(each.value))
    span_V = max(comparison.span_V, 1e-9)
    pct, most_pct = 100.0 * farthest.value / span_V, 100.0 * farthest.margin / span_V
    if cause is None:
        yield said.passes("where-it-was", pct, most_pct, channel=name, rest=rest, full=full)
        return
    sure = comparison.moved is Moved.OUTSIDE
    yield said.finding(
        Severity.FAIL if sure else Severity.CAUTION,
        cause.value,
        pct,
        most_pct,
        channel=name,
        moved="moved" if sure else "may have moved",
        rest=rest,
        full=full,
        not_sure="" if sure else ", not sure",
        first="" if sure else "Check again with five more presses; then: ",
    )
