"""Travel of a hand control: rest and full level with their spread, presses, return, glitches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from calib.controls.presses import JUMP_SHARE, Place, Presses, Stay, count_presses
from calib.measure.distributions import student_beyond
from calib.measure.plateaus import LSB_FACTOR, Plateaus, median, white_sd
from calib.measure.sliding import edges_of
from calib.measure.spread import LevelSpread, level_spread
from calib.measure.step import seen_step
from calib.measure.straight_line import fit_line
from calib.measure.tolerance import ToleranceLimits, tolerance_limits

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Own choice: readings this close to a stay's border may already belong to the movement.
EDGE_S = 0.02
# Own choice: a lone reading farther from its neighbours than this many robust standard deviations,
# and than 3 % of the span (the usual dead band, common practice, no source), is a glitch and not
# noise: noise of that size would itself be the fault.
GLITCH_SDS = 8.0
GLITCH_SHARE = 0.03
# Own choice: with fewer releases no drift is told from chance; above this chance none is told.
LEAST_DRIFT_STAYS = 4
DRIFT_CHANCE = 0.01
# Own choice: a glitch is over within this time; what lasts longer is a drop-out.
GLITCH_S = 0.003
# Own choice: a control has come home when it stays this close to rest, the usual dead band; the
# last trembling of a spring inside it moves nothing.
HOME_SHARE = 0.03
# Own choice: a stay is looked at in pieces of this length, five in a period of 12 Hz.
PIECE_S = 0.015
# Own choice: what stays within this share of the travel stands still, as it does within so many
# standard deviations of the fast noise and a flicker of the converter.
MOVES_SHARE = 0.003
NOISE_SDS = 8.0
# Own choice: share of a stay that moves whose readings make its level, the nearest to the travel.
INNER_SHARE = 0.25
LEAST_PIECES = 4
LEAST_READINGS = 5


@dataclass(frozen=True)
class StayLevel:
    """What one stay says of one end of the travel.

    Attributes:
        readings: Readings that make its level, V, shape (n,).
        outer_V: Where it stood farthest from the travel, V: its mean where it stood still.
        sunk_V: How far it went towards the travel from its first third to its last, V; negative
            where it went the other way, and 0 where it stood still.
        tremble_V: Half its swing about that way, V; 0 where it stood still.
    """

    readings: Floats = field(repr=False)
    outer_V: float
    sunk_V: float = 0.0
    tremble_V: float = 0.0


@dataclass(frozen=True)
class LevelMeasurement:
    """One end of the travel, in V, from the plateaus at it.

    Attributes:
        spread: Mean and spread of the level.
        limits: Its one-sided tolerance limits, before floor, allowance and rounding.
        stays: The level of each stay, one a release (or press).
    """

    spread: LevelSpread
    limits: ToleranceLimits
    stays: tuple[StayLevel, ...] = field(repr=False)

    @property
    def mean(self) -> float:
        """Mean level, V."""
        return self.spread.mean

    @property
    def sunk_V(self) -> float:
        """Farthest that a stay went towards the travel while it lasted, V; 0 where none did."""
        return max((stay.sunk_V for stay in self.stays), default=0.0)

    @property
    def tremble_V(self) -> float:
        """Largest tremble of a stay, V either way; 0 where none trembled."""
        return max((stay.tremble_V for stay in self.stays), default=0.0)


@dataclass(frozen=True)
class TravelMeasurement:
    """What a capture of a control's presses says. A missing figure is None.

    Attributes:
        rest: Level with the hand off.
        full: Level at full travel.
        hand: What the hand did, and where the signal stands still.
        returns_s: Time from letting go to staying near rest, of each press.
        glitches: Runs of readings off their neighbours within a stay, over within 3 ms.
        dropouts: Longer runs that begin and end with a jump no hand makes.
        drift_V: Straight-line drift of rest from the first release to the last, V; None with
            fewer than four rest plateaus, or where chance explains it.
        hysteresis_V: Median rest after a release less rest before the first press, V; None with
            fewer than three rest plateaus.
    """

    rest: LevelMeasurement | None
    full: LevelMeasurement | None
    hand: Presses
    returns_s: tuple[float, ...]
    glitches: int
    dropouts: int
    drift_V: float | None
    hysteresis_V: float | None

    @property
    def span_V(self) -> float | None:
        """Distance from rest to full travel, V, always positive; None where either is missing."""
        if self.rest is None or self.full is None:
            return None
        return abs(self.full.mean - self.rest.mean)

    @property
    def return_median_s(self) -> float | None:
        """Median time from letting go to staying near rest, s."""
        return float(np.median(self.returns_s)) if self.returns_s else None

    @property
    def return_max_s(self) -> float | None:
        """Longest time from letting go to staying near rest, s."""
        return max(self.returns_s) if self.returns_s else None


def measure_travel(
    time_s: Floats,
    volts: Floats,
    *,
    lsb_V: float = 0.0,
    gaps: Sequence[int] = (),
    content: float = 0.999,
    confidence: float = 0.95,
) -> TravelMeasurement:
    """Rest, full travel and presses of a control, in V and s.

    Args:
        time_s: Times of the readings, s, shape (n,), rising.
        volts: Readings in V, shape (n,); NaN means missing.
        lsb_V: Step of the converter, V; 0 where unknown.
        gaps: Indices of readings before which the record has a gap.
        content: Share of future readings that each limit shall hold.
        confidence: Confidence of that promise.

    Returns:
        The measurement; what could not be measured is None, never guessed.

    Source: one-way random model of presses, see `calib.measure.spread` and
    `calib.measure.tolerance`.
    """
    hand = count_presses(time_s, volts, lsb_V=lsb_V, gaps=gaps)
    step_V = max(lsb_V, seen_step(volts))
    stays, glitches, dropouts = _stays(volts, hand, step_V)
    rests_V = [float(stay.readings.mean()) for stay in stays[Place.REST]]
    return TravelMeasurement(
        rest=_level(stays[Place.REST], lsb_V, content, confidence),
        full=_level(stays[Place.FULL], lsb_V, content, confidence),
        hand=hand,
        returns_s=_returns(time_s, volts, hand, gaps),
        glitches=glitches,
        dropouts=dropouts + len(hand.breaks),
        drift_V=_drift(rests_V),
        hysteresis_V=_hysteresis(rests_V),
    )


def _stays(
    volts: Floats, hand: Presses, step_V: float
) -> tuple[dict[Place, list[StayLevel]], int, int]:
    """The level of each stay at either end, and the counts of glitches and drop-outs in them."""
    broken = np.zeros(len(volts), dtype=np.bool_)
    for each in hand.breaks:
        broken[each] = True
    span_V = abs(hand.travel_V) or hand.plateaus.span
    rising, rate_hz = 1 if hand.travel_V >= 0.0 else -1, hand.plateaus.rate_hz
    levels: dict[Place, list[StayLevel]] = {Place.REST: [], Place.FULL: []}
    glitches = dropouts = 0
    for stay in hand.stays:
        kept, short, long = _clean(volts, stay, hand.plateaus, broken, span_V)
        glitches, dropouts = glitches + short, dropouts + long
        if kept.size:
            inward = rising if stay.place is Place.REST else -rising
            levels[stay.place].append(
                stay_level(kept, inward=inward, span_V=span_V, rate_hz=rate_hz, lsb_V=step_V)
            )
    return levels, glitches, dropouts


def stay_level(
    readings: Floats, *, inward: int, span_V: float, rate_hz: float, lsb_V: float
) -> StayLevel:
    """The level of one stay, on the safe side where it moves inside.

    A stay that stands still gives all its readings. In one that moves (a spring that settles, a
    hand that sinks or trembles, a thumb that is laid on) the quarter nearest the travel makes the
    level, at both ends. At rest that keeps the start above where the control really stood with
    the hand off, so nothing drives; at full travel it keeps the end below what the hand really
    held, so full drive, or full braking, is reached by this hand. It is one level whatever its
    shape: a stay never counts for more than one release, and what it does inside is told beside
    it and not pooled with the noise of the line.

    Args:
        readings: Readings of the stay, without glitches, V, shape (n,), n at least 1.
        inward: +1 where the travel lies above this end, -1 where it lies below.
        span_V: Span of the travel, V.
        rate_hz: Readings a second.
        lsb_V: Step of the converter, V; 0 where unknown.

    Returns:
        The readings of its level and the figures of what moved.

    Source: own choice, because a limit that is wrong on the travel's side takes travel and one
    that is wrong on the other side gives drive with the hand off, or never the whole of it.
    """
    piece = max(1, round(PIECE_S * rate_hz))
    whole = len(readings) // piece
    if whole < LEAST_PIECES:
        return StayLevel(readings, float(readings.mean()))
    pieces = readings[: whole * piece].reshape(whole, piece)
    way = pieces.mean(axis=1)
    noise_V = white_sd(readings) / float(np.sqrt(piece))
    swing_V = float(np.subtract(*np.quantile(way, [0.98, 0.02])))
    if swing_V <= max(MOVES_SHARE * span_V, NOISE_SDS * noise_V, LSB_FACTOR * lsb_V):
        return StayLevel(readings, float(readings.mean()))
    third = max(1, whole // 3)
    sunk_V = float(np.median(way[-third:]) - np.median(way[:third]))
    straight = np.linspace(-0.75, 0.75, whole) * sunk_V
    low, high = np.quantile(way - straight, [0.05, 0.95])
    count = max(round(INNER_SHARE * whole), -(-LEAST_READINGS // piece))
    order = np.argsort(-inward * way, kind="stable")
    outer_V, tremble_V = float(way[order[-count:]].mean()), 0.5 * float(high - low)
    return StayLevel(pieces[np.sort(order[:count])].ravel(), outer_V, inward * sunk_V, tremble_V)


def _returns(
    time_s: Floats, volts: Floats, hand: Presses, gaps: Sequence[int]
) -> tuple[float, ...]:
    """Time from letting go to staying near rest, s, of each press in which no reading is missing.

    Nobody knows what a spring did while the line was silent.
    """
    rests = [stay for stay in hand.stays if stay.place is Place.REST]
    leaves_s = [press.leave_s for press in hand.presses[1:]]
    returns = []
    for press, next_s in zip(hand.presses, [*leaves_s, float("inf")], strict=False):
        rest = next((stay for stay in rests if press.let_go_s < stay.start_s < next_s), None)
        end_s = press.back_s if rest is None else rest.start_s
        first, stop = np.searchsorted(time_s, [press.let_go_s, end_s], side="right")
        if any(first <= gap <= stop for gap in gaps):
            continue
        if rest is not None:
            home_V = median(volts[rest.first : rest.stop])
            away = np.abs(volts[first:stop] - home_V) > HOME_SHARE * abs(hand.travel_V)
            stop = first + (int(np.flatnonzero(away)[-1]) + 1 if away.any() else 0)
        returns.append(float(time_s[min(stop, len(time_s) - 1)] - press.let_go_s))
    return tuple(returns)


def _clean(
    volts: Floats, stay: Stay, plateaus: Plateaus, broken: Flags, span_V: float
) -> tuple[Floats, int, int]:
    """Readings of a stay that are noise, and the counts of glitches and drop-outs among them."""
    trim = min(round(EDGE_S * plateaus.rate_hz), (stay.stop - stay.first) // 8)
    first, stop = stay.first + trim, min(stay.stop - trim, len(volts))
    values, broken = volts[first:stop], broken[first:stop]
    block = int(plateaus.grid_first[1]) if len(plateaus.grid_first) > 1 else 1
    near = plateaus.grid[np.minimum(np.arange(first, stop) // block, len(plateaus.grid) - 1)]
    off = np.abs(values - near)
    known = np.isfinite(off) & ~broken
    if not known.any():
        return values[:0], 0, 0
    least_V = max(GLITCH_SDS * 1.4826 * median(off[known]), GLITCH_SHARE * span_V)
    odd = known & (off > least_V)
    if not odd.any():
        return values[known], 0, 0
    starts, stops = edges_of(odd)
    # what is off at either end of a stay is the hand on its way, not a fault of the line
    inner = (starts > 0) & (stops < len(values))
    # a rate that comes of stamps is off by some 1e-13, and a whole count must stay whole
    brief = (stops - starts) <= max(1, int(GLITCH_S * plateaus.rate_hz * (1.0 + 1e-9)))
    far = np.maximum.reduceat(off, starts) > JUMP_SHARE * span_V
    return values[known & ~odd], int((inner & brief).sum()), int((inner & ~brief & far).sum())


def _level(
    stays: list[StayLevel], lsb_V: float, content: float, confidence: float
) -> LevelMeasurement | None:
    if not stays:
        return None
    spread = level_spread([stay.readings for stay in stays], lsb=lsb_V)
    limits = tolerance_limits(spread, content=content, confidence=confidence)
    return LevelMeasurement(spread=spread, limits=limits, stays=tuple(stays))


def _drift(rests_V: list[float]) -> float | None:
    """Drift of rest from the first release to the last, V, where chance does not explain it.

    Source: JCGM 100, H.3 for the slope; Student's t at 1 % (own choice).
    """
    if len(rests_V) < LEAST_DRIFT_STAYS:
        return None
    line = fit_line(np.arange(len(rests_V), dtype=np.float64), np.array(rests_V))
    if line.u_slope > 0.0:
        chance = 2.0 * student_beyond(abs(line.slope) / line.u_slope, line.dof)
    else:  # step by step of the converter, without a scatter that could explain it
        chance = 0.0 if line.slope else 1.0
    return line.slope * (len(rests_V) - 1) if chance < DRIFT_CHANCE else None


def _hysteresis(rests_V: list[float]) -> float | None:
    """Rest after releases less rest before the first press, V."""
    return float(np.median(rests_V[1:])) - rests_V[0] if len(rests_V) >= 3 else None
