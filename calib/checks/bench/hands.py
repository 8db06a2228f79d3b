"""What the hands did in a check, told from the signals: rests, presses, and who moved with whom."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from calib.checks.bench.dropouts import DropOut, Reach, find_drop_outs
from calib.checks.bench.signals import Flags, Floats, Signal, Signals, Times, block_means
from calib.controls.presses import Press, count_presses
from calib.measure.plateaus import white_sd
from calib.measure.sliding import Run
from calib.store.documents.check import CheckFigures

HEAD_S = 1.5
"""Time at the start in which nobody touches anything; own choice, the flow asks for three. Where
the control moves sooner, what stood still before is used, from `LEAST_REST_S` on."""

MOVED_SDS = 6.0
"""Noise of a mean over 0.1 s that a control has left rest by; own choice."""

MOVED_SHARE = 0.03
"""Share of all that the signal does by which it has left rest at least; own choice, as the dead
band."""

SMOOTH_S = 0.1
"""Time over which means are taken then; own choice, because it holds whole periods of 50 and of
60 Hz."""

LEAST_SPAN_V = 0.15
"""Span below which nothing is called a press; own choice, as `controls.presses`."""

HELD_S = 0.5
"""Time over which a hold is averaged at least; own choice, half of the hold asked for."""

INTACT_SHARE = 0.85
"""Share of its span on record that a control still reaches when it works, or when another one
merely follows it; own choice, because two wires that are joined halve each other's span."""

LEAST_WORKED_V = 0.5
"""Movement below which a control that was known to move by twice as much was not pressed, V; own
choice, a quarter of the least span. A wire that hangs open beside the mains wanders slowly where
the logger samples at nearly the mains' rate, and that is no hand."""

CLEAR_S = 0.2
"""Time kept clear of a press before its readings count as rest; own choice, because a spring's
rebound is over by then."""

EDGE_S = 0.06
"""Time cut off both ends of a hold; own choice, longer than a hand needs to come to a stop."""

LEAST_RESTS_SHARE = 0.5
"""Share of the time that a control rests at least which was never pressed fully; own choice, for an
open wire that wanders is no hand, and seldom at the end of its range."""

LEAST_REST_S = 0.3
"""Shortest rest that is used; own choice, as the shortest hold that is promised."""


@dataclass(frozen=True, slots=True)
class Hand:
    """One control and what was done with it.

    Attributes:
        signal: The channel.
        volts: Readings as if the supply had its mean voltage, drop-outs NaN, V, shape (n,).
        head_V: Median of the first readings, V.
        head_sd_V: Standard deviation of single readings there, V.
        span_V: Span expected: from the record, else from the readings, V; never negative.
        drop_outs: Excursions that no hand makes.
        presses: Full presses, in order.
        away_s: From when to when it was off its rest, in full presses and in others, s.
        released: Whether it is at rest at the end.
        half: How often it was off its rest without a full press; of a wire that wanders, only how
            often it came back.
        needs_rest_s: How long it must be left alone first, s, where it was worked sooner; else
            None.
        rests: Readings at rest.
        holds: Readings at full travel, one run a press.
    """

    signal: Signal
    volts: Floats = field(repr=False)
    head_V: float
    head_sd_V: float
    span_V: float
    drop_outs: tuple[DropOut, ...]
    presses: tuple[Press, ...]
    away_s: tuple[Times, ...]
    released: bool
    half: int
    needs_rest_s: float | None
    rests: tuple[Run, ...]
    holds: tuple[Run, ...]

    @property
    def name(self) -> str:
        """The channel's name."""
        return self.signal.name

    def limit(self, name: str) -> float:
        """A limit's figure for this control. Source: see the table of limits."""
        return self.signal.limit(name)


@dataclass(frozen=True, slots=True)
class Ends:
    """Rest and full travel of a control, now or on record.

    Attributes:
        rest_V: Rest, V.
        full_V: Full travel, V.
        supply_V: The supply at which they are so, V; None where it was not logged.
    """

    rest_V: float
    full_V: float
    supply_V: float | None = None

    @property
    def span_V(self) -> float:
        """Full travel less rest, V; negative where the control reads lower when it is pressed."""
        return self.full_V - self.rest_V

    def share(self, volts: Floats) -> Floats:
        """Readings as a share of the travel, 0 at rest and 1 at full travel; the same shape."""
        return (volts - self.rest_V) / self.span_V


def ends_of(figures: CheckFigures | None) -> Ends | None:
    """Rest and full travel by a check's figures; None where one of them is missing."""
    if figures is None or figures.rest is None or figures.full is None:
        return None
    return Ends(figures.rest.mean, figures.full.mean, figures.supply_V)


def read_hand(
    signals: Signals,
    signal: Signal,
    factor: Floats | None,
    expected: Ends | None,
    *,
    spared: Flags | None = None,
) -> Hand:
    """What was done with one control.

    Args:
        signals: The whole capture.
        signal: The control.
        factor: What its readings are multiplied with to undo the supply's changes, shape (n,).
        expected: What the record says of it; None without a record.
        spared: Where something else is worked, which may move this one too: no excursion there
            counts as a drop-out; shape (n,).
    """
    volts = signal.values if factor is None else signal.values * factor
    head = volts[: _head(volts, signals)]
    head_V, head_sd_V = float(np.median(head)), clipped_sd(head)
    span_V, direction = _span(volts, head_V, signals, expected)
    drop_outs = find_drop_outs(
        volts,
        Reach(head_V, head_sd_V, span_V, direction, top_known=expected is not None),
        rate_hz=signals.rate_hz,
        glitch_pct=signal.limit("glitch_pct"),
    )
    if spared is not None:
        drop_outs = tuple(drop for drop in drop_outs if not spared[drop.run.first])
    clean = _without(volts, drop_outs)
    worked = count_presses(signals.time_s, clean, lsb_V=signal.step)
    least_V = 0.0 if expected is None else min(LEAST_WORKED_V, 0.5 * span_V)
    moved = abs(worked.travel_V) >= least_V
    presses, away_s = (worked.presses, worked.away_s) if moved else ((), ())
    rests = _rests(signals, away_s)
    half = len(away_s) - len(presses)
    if not presses and sum(map(len, rests)) < LEAST_RESTS_SHARE * len(clean):
        away_s, rests, half = (), _rests(signals, ()), worked.half + worked.unheld
    return Hand(
        signal=signal,
        volts=clean,
        head_V=head_V,
        head_sd_V=head_sd_V,
        span_V=span_V,
        drop_outs=drop_outs,
        presses=presses,
        away_s=away_s,
        released=worked.released or not moved,
        half=half,
        needs_rest_s=_needs_rest_s(signals, clean, span_V) if presses else None,
        rests=rests,
        holds=_holds(signals, presses),
    )


def _head(volts: Floats, signals: Signals) -> int:
    """Count of the first readings in which the control stands still, `HEAD_S` at most."""
    most = max(8, signals.samples_in(HEAD_S))
    least = max(8, signals.samples_in(LEAST_REST_S))
    block = signals.samples_in(SMOOTH_S)
    if len(volts) < most or block < 2:
        return most
    first = volts[:least]
    noise_V = clipped_sd(first) / np.sqrt(block)
    means = block_means(volts[:most], block)
    left_V = max(MOVED_SDS * noise_V, MOVED_SHARE * float(np.nanmax(volts) - np.nanmin(volts)))
    away = np.flatnonzero(np.abs(means - np.nanmedian(first)) > left_V)
    # a drop-out comes back within the head; a hand stays away to its end
    stays = away.size and abs(float(means[-1]) - float(np.nanmedian(first))) > left_V
    return max(least, (int(away[0]) - 1) * block) if stays else most


def _needs_rest_s(signals: Signals, volts: Floats, span_V: float) -> float | None:
    """How long a control must be left alone first, s, where it was worked sooner; else None."""
    block = signals.samples_in(SMOOTH_S)
    noise_V = white_sd(volts)
    away_V = max(MOVED_SDS * noise_V / np.sqrt(block), MOVED_SHARE * span_V)
    readings = (MOVED_SDS * noise_V / max(MOVED_SHARE * span_V, 1e-12)) ** 2
    needed_s = max(LEAST_REST_S, min(float(readings) / max(signals.rate_hz, 1e-9), HEAD_S))
    means = block_means(volts[: signals.samples_in(needed_s)], block)
    # what comes back within the time is a drop-out or noise, and no hand
    away = means.size > 1 and abs(float(means[-1] - means[0])) > away_V
    return needed_s if away else None


def clipped_sd(values: Floats) -> float:
    """Standard deviation of readings, those beyond five of it left out once, in their unit.

    Source: own choice, because a glitch must not make the noise, and a median of absolute
    deviations is zero where the converter's step is wider than the noise.
    """
    values = values[np.isfinite(values)]
    if values.size < 2:
        return 0.0
    off = values - np.median(values)
    spread = float(np.quantile(np.abs(off), 0.9)) / 1.645
    kept = np.abs(off) <= max(5.0 * spread, 1e-12)
    return float(off[kept].std()) if kept.any() else 0.0


def _span(
    volts: Floats, head_V: float, signals: Signals, expected: Ends | None
) -> tuple[float, int]:
    block = signals.samples_in(0.1)
    grid = block_means(volts, block) if len(volts) >= 2 * block else volts
    up, down = float(grid.max()) - head_V, head_V - float(grid.min())
    direction = 1 if up >= down else -1
    seen = max(up, down)
    if expected is None:
        return seen, direction
    # A control that no longer answers keeps the direction it had.
    if seen < 0.5 * abs(expected.span_V):
        direction = 1 if expected.span_V >= 0.0 else -1
    return abs(expected.span_V), direction


def _without(volts: Floats, drop_outs: Sequence[DropOut]) -> Floats:
    clean = volts.copy()
    for drop in drop_outs:
        clean[max(0, drop.run.first - 1) : drop.run.stop + 1] = np.nan
    return clean


def _rests(signals: Signals, away_s: Sequence[Times]) -> tuple[Run, ...]:
    """Stretches in which a control was not off its rest, in readings."""
    starts_s = [signals.time_s[0], *(back_s + CLEAR_S for _, back_s in away_s)]
    ends_s = [*(leave_s - 0.5 * CLEAR_S for leave_s, _ in away_s), signals.time_s[-1]]
    stretches = zip(starts_s, ends_s, strict=True)
    found = (signals.run(a, b) for a, b in stretches if b - a >= LEAST_REST_S)
    return tuple(run for run in found if len(run) >= 3)


def _holds(signals: Signals, presses: Sequence[Press]) -> tuple[Run, ...]:
    found = (signals.run(*_held(press)) for press in presses)
    return tuple(Run(run.first, max(run.stop, run.first + 1)) for run in found)


def _held(press: Press) -> Times:
    """From when to when a press was held for certain, s."""
    edge_s = min(EDGE_S, 0.2 * (press.let_go_s - press.full_s))
    return press.full_s + edge_s, press.let_go_s - edge_s


@dataclass(frozen=True, slots=True)
class Work:
    """One press, and how every control moved while it lasted.

    Attributes:
        leader: The control that moved most against its span.
        moved_V: How far each control moved, V, by name.
    """

    leader: str
    moved_V: dict[str, float]


def works_of(signals: Signals, hands: Sequence[Hand]) -> tuple[Work, ...]:
    """Every press of the check in order of time, presses of several controls at once joined."""
    marked = sorted(
        ((press, hand) for hand in hands for press in hand.presses),
        key=lambda each: each[0].full_s,
    )
    groups: list[tuple[Press, list[Hand]]] = []
    for press, hand in marked:
        if groups and press.full_s < groups[-1][0].let_go_s:
            groups[-1][1].append(hand)
        else:
            groups.append((press, [hand]))
    return tuple(_work(signals, first, among, hands) for first, among in groups)


def _work(signals: Signals, first: Press, among: Sequence[Hand], hands: Sequence[Hand]) -> Work:
    """The press of several hands that began first; the leader is one of ``among``."""
    moved_V = {hand.name: _moved_V(signals, hand, first) for hand in hands}
    leader = max(
        among,
        key=lambda hand: (
            not signals.is_second_track(hand.name),
            abs(moved_V[hand.name]) / max(hand.span_V, LEAST_SPAN_V),
        ),
    )
    return Work(leader.name, moved_V)


def _moved_V(signals: Signals, hand: Hand, press: Press) -> float:
    """Shift of a control between the hold of a press and the rests beside it, V."""
    before = (press.leave_s - 0.5, press.leave_s - 0.05)
    after = (press.back_s + CLEAR_S, press.back_s + 0.7)
    moved_V = shift(signals, hand.volts, _held(press), (before, after))
    return 0.0 if math.isnan(moved_V) else moved_V


def shift(signals: Signals, values: Floats, during: Times, beside: Sequence[Times]) -> float:
    """Mean of the readings in a time less their mean beside it; NaN where one is not known."""
    means = [signals.mean(values, *times) for times in beside]
    known = [mean for mean in means if not math.isnan(mean)]
    return signals.mean(values, *during) - float(np.mean(known)) if known else math.nan


def at_rest(signals: Signals, hands: Iterable[Hand]) -> Flags:
    """Readings at which no control was worked; shape (n,)."""
    return ~signals.within(
        (leave_s - 0.5 * CLEAR_S, back_s + CLEAR_S)
        for hand in hands
        for leave_s, back_s in hand.away_s
    )
