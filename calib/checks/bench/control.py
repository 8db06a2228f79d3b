"""One control of a bench check: its figures and everything that is judged of it alone."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from calib.checks.bench import shape
from calib.checks.bench.converter import clipped_findings, is_clipped
from calib.checks.bench.dropouts import drop_out_findings
from calib.checks.bench.gathered import Gathered
from calib.checks.bench.hands import HELD_S, INTACT_SHARE, LEAST_WORKED_V, Ends, Hand, ends_of
from calib.checks.bench.signals import Flags, Floats, Signals, block_means
from calib.checks.file.moved import NOMINAL_SUPPLY_V, Cause, compare_ends, moved_findings
from calib.measure.sliding import Run, runs_of
from calib.measure.spread import level_spread
from calib.store.documents import said
from calib.store.documents.check import CheckFigures, CheckLevel

BLOCK_S = 0.1
"""Time over which a rest is averaged; own choice, because it holds whole periods of 50 and of
60 Hz."""

NOISE_SDS = 6.0
"""Standard deviations of such a mean below which it has not moved; own choice, because a check
has some hundred of them on every control."""

LESSER_SHARE = 0.1
"""Share of the rest that the lesser of two levels takes at least; own choice, because a control
that merely comes home late is there for less."""

SELDOM_SHARE = 0.1
"""Share of the rest at either end of its range that is left out; own choice, as LESSER_SHARE."""

TIGHT_SHARE = 0.125
"""Distance from one of two levels, as a share of theirs, within which a rest is at it; own choice:
what is farther lies between them."""

BETWEEN_SHARE = 0.1
"""Share of the rest that may lie between two levels; own choice, for a change from one to the other
takes a little time."""

WITHIN_SPAN = 0.3
"""Distance from the usual rest, as a share of the span, beyond which a level is no rest; own
choice, because there a wire is open or a hand is on it."""


def judge_control(seen: Gathered, hand: Hand) -> tuple[CheckFigures, said.Findings]:
    """Figures and findings of one control.

    Args:
        seen: What the capture shows.
        hand: The control and what was done with it.
    """
    rest, full = level_of(hand, hand.rests), level_of(hand, hand.holds)
    ends, ways = None, []
    if rest is not None and full is not None:
        ends = Ends(rest.mean, full.mean)
        others = [press for each in seen.hands if each is not hand for press in each.presses]
        ways = shape.returns(seen.signals, hand, ends, others)
    noise = seen.noises[hand.name].now
    figures = CheckFigures(
        unit=hand.signal.unit,
        rest=rest,
        full=full,
        presses=len(hand.presses),
        return_s=max((way.time_s for way in ways), default=None),
        noise=noise.sd,
        repeats=seen.repeats(hand.signal),
        hum=noise.hum,
        supply_V=seen.supply_V(hand.name),
    )
    return figures, _findings(seen, hand, figures, ends, ways)


def level_of(hand: Hand, stays: Sequence[Run]) -> CheckLevel | None:
    """Mean level of several stays, V; None where there is no reading.

    Args:
        hand: The control.
        stays: Its rests, or its holds.

    Source: one value a stay, as `calib.measure.spread`.
    """
    parts = [run.of(hand.volts) for run in stays]
    parts = [kept for part in parts if (kept := part[np.isfinite(part)]).size]
    if not parts:
        return None
    spread = level_spread(parts, lsb=hand.signal.step)
    repeated = (
        spread.sd_means / math.sqrt(len(parts))
        if len(parts) > 1
        else spread.sd_residual / math.sqrt(spread.n_effective)
    )
    u = math.hypot(repeated, spread.step_sd)
    return CheckLevel(mean=spread.mean, sd=spread.sd_means, u=u, stays=len(parts))


def _findings(
    seen: Gathered, hand: Hand, figures: CheckFigures, ends: Ends | None, ways: list[shape.Return]
) -> said.Findings:
    """Everything that is judged of one control alone."""
    yield from drop_out_findings(
        hand.signal, hand.drop_outs, seen.signals.time_s, hand.head_V, figures.supply_V
    )
    if hand.needs_rest_s is not None:
        yield said.unknown("rest-too-short", None, hand.needs_rest_s, channel=hand.name)
    if ends is not None:
        yield from _answered(seen, hand, ends, ways)
        turned_pct = _turned_pct(seen, hand, ends)
        if turned_pct is not None and turned_pct > hand.limit("pressed_pct"):
            yield from _held_at_first(seen, hand, turned_pct)
            return
        if not hand.released:
            yield said.unknown("ended-in-hand/check", channel=hand.name)
        if turned_pct is not None and ends_of(seen.then.get(hand.name)) is None:
            yield said.caution("reversed", channel=hand.name, name=hand.name)
        yield from _compared(seen, hand, figures, ends)
    elif hand.needs_rest_s is None:
        yield from _unanswered(seen, hand)


def _answered(seen: Gathered, hand: Hand, ends: Ends, ways: list[shape.Return]) -> said.Findings:
    """How a control moves that was worked. Source: limit ``span_low_V``, and as its shape."""
    yield from clipped_findings(hand.signal, _held_raw(hand), where="at full travel")
    falls = shape.reversals(seen.signals, hand, ends)
    stills = shape.flats(seen.signals, hand, ends)
    yield from shape.return_findings(hand, ways)
    yield from shape.spot_findings(hand, falls, stills)
    yield from rest_findings(seen.signals, hand, seen.calm)
    if seen.signals.is_second_track(hand.name):
        return  # its scale and its way round are judged by the first track's
    span_V, supply_V = abs(ends.span_V), seen.supply_V(hand.name)
    at_5_V = span_V * NOMINAL_SUPPLY_V / supply_V if supply_V else span_V
    least_V = hand.limit("span_low_V")
    yield from said.below("span-short", at_5_V, least_V, channel=hand.name, span_V=span_V)


def _turned_pct(seen: Gathered, hand: Hand, ends: Ends) -> float | None:
    """Time at what looks like full travel, %, of a control that seems to work the other way round.

    None where it works as on record, or reads low at rest and has no record; and, without a record,
    of a second track, whose way round is judged by the first track's.
    """
    known = ends_of(seen.then.get(hand.name))
    usual = 1.0 if known is None else known.span_V
    if ends.span_V * usual >= 0.0 or (known is None and seen.signals.is_second_track(hand.name)):
        return None
    pressed = np.abs(hand.volts - ends.full_V) < np.abs(hand.volts - ends.rest_V)
    return 100.0 * float(np.mean(pressed[np.isfinite(hand.volts)]))


def _held_at_first(seen: Gathered, hand: Hand, pct: float) -> said.Findings:
    """The capture may have begun in the hand, and then every end is mistaken for the other."""
    recorded = ends_of(seen.then.get(hand.name)) is not None
    yield said.unknown(
        "which-end-is-rest/record" if recorded else "which-end-is-rest",
        pct,
        hand.limit("pressed_pct"),
        unit="%",
        channel=hand.name,
        name=hand.name,
        why=f"it stood at what looks like full travel for {pct:.0f} % of the time",
    )


def _held_raw(hand: Hand) -> Floats:
    """What was received at full travel."""
    return np.concatenate([run.of(hand.signal.raw) for run in hand.holds])


def _compared(seen: Gathered, hand: Hand, figures: CheckFigures, ends: Ends) -> said.Findings:
    """Findings against the record; a full travel that the converter cut off did not move."""
    then = seen.then.get(hand.name)
    if then is None:
        return
    late = shape.sets_off_late(seen.signals, hand, ends)
    compared = compare_ends(figures, then, hand.signal.channel, late=late)
    if compared is None:
        return
    cause = compared.cause
    if cause in (Cause.FULL, Cause.OFFSET) and is_clipped(hand.signal, _held_raw(hand)):
        return
    yield from moved_findings(hand.name, compared)


def _unanswered(seen: Gathered, hand: Hand) -> said.Findings:
    """A control that never went through its travel, though there was time. Limit ``answer_pct``."""
    noise = seen.noises[hand.name]
    volts = hand.volts[np.isfinite(hand.volts)]
    reach_V = float(np.quantile(volts, 0.999) - np.quantile(volts, 0.001)) if volts.size else 0.0
    least_V = hand.limit("answer_pct") / 100.0 * hand.span_V
    if hand.half and reach_V > max(least_V, LEAST_WORKED_V, 8.0 * noise.now.sd):
        yield said.unknown("half-pressed", float(hand.half), channel=hand.name)
    elif not (noise.grown and _reaches(seen, hand)):  # else only its noise hides the presses
        yield from _silent(seen, hand)


def _reaches(seen: Gathered, hand: Hand) -> bool:
    """Whether a control held as far from rest as on record, whatever noise lies over it."""
    known = ends_of(seen.then.get(hand.name))
    means = block_means(hand.volts, seen.signals.samples_in(HELD_S))
    if known is None or not np.isfinite(means).any():
        return False
    reach_V = float(np.nanmax(means) - np.nanmin(means))
    return reach_V >= INTACT_SHARE * abs(known.span_V)


def _silent(seen: Gathered, hand: Hand) -> said.Findings:
    """Which wire of a control is at fault, told from where its signal stands.

    Source: limits ``wire_at_ground_pct``, ``wire_at_supply_pct``, ``frozen_s``, ``noise_ratio``.
    """
    name, noise, still = hand.name, seen.noises[hand.name], seen.still[hand.name]
    supply_V = seen.supply_V(name)
    top_V = NOMINAL_SUPPLY_V if supply_V is None else supply_V
    level_V = float(np.median(hand.signal.values))
    pct = 100.0 * level_V / max(top_V, 0.1)
    low_pct, high_pct = hand.limit("wire_at_ground_pct"), hand.limit("wire_at_supply_pct")
    if noise.hums:
        yield said.fail("signal-open/bench", level_V, channel=name, why="it hums")
    elif pct < low_pct:
        yield said.fail("signal-at-ground", level_V, low_pct / 100.0 * top_V, channel=name)
    elif pct > high_pct:
        yield said.fail("signal-at-supply", level_V, high_pct / 100.0 * top_V, channel=name)
    elif math.isnan(still.repeats_elsewhere) and still.run_s > hand.limit("frozen_s"):
        if name not in seen.frozen:  # which is told by itself
            run_s, most_s = still.run_s, hand.limit("frozen_s")
            yield said.fail(
                "frozen/bench", run_s, most_s, channel=name, still=still, level_V=level_V
            )
    elif _stands_elsewhere(seen, hand, level_V):
        why = "it stands where it never rested"
        yield said.fail("signal-open/bench", level_V, channel=name, why=why)
    elif noise.ratio is not None and noise.ratio > hand.limit("noise_ratio"):
        yield said.fail("signal-open/bench", level_V, channel=name, why="it is noisy")
    else:
        yield said.unknown("no-answer", level_V, channel=name)


def _stands_elsewhere(seen: Gathered, hand: Hand, level_V: float) -> bool:
    """Whether a control stands far from its rest on record, at today's supply."""
    then, supply_V = seen.then.get(hand.name), seen.supply_V(hand.name)
    if then is None or then.rest is None:
        return False
    ratio = supply_V / then.supply_V if supply_V and then.supply_V else 1.0
    return abs(level_V - then.rest.mean * ratio) > 0.1 * max(hand.span_V, 0.1)


def rest_findings(signals: Signals, hand: Hand, calm: Flags) -> said.Findings:
    """What is wrong with where a control rests, in per cent of its span; one finding at most.

    Nothing where it never rested, or has no span.

    Args:
        signals: The whole capture.
        hand: The control.
        calm: Where nothing at all is worked, shape (n,); drop-outs are no rest.

    Source: own choice of method: means over whole periods of mains, parted at their widest gap;
    limits ``two_rests_pct``, ``play_pct`` and ``rest_scatter_pct``.
    """
    block = signals.samples_in(BLOCK_S)
    stretches = runs_of(calm & np.isfinite(hand.volts))
    means = [block_means(run.of(hand.volts), block) for run in stretches]
    parts = [each for each in means if each.size >= 2]
    levels = np.concatenate([hand.volts[:0], *parts])
    if levels.size < 8 or hand.span_V <= 0.0:
        return
    steps = np.concatenate([np.diff(part) for part in parts])
    noise_V = NOISE_SDS * float(np.median(np.abs(steps))) / 0.6745 / math.sqrt(2.0)
    noise_V = max(noise_V, hand.signal.step)
    levels = np.sort(levels[np.abs(levels - np.median(levels)) <= WITHIN_SPAN * hand.span_V])
    low_V, high_V = np.quantile(levels, [SELDOM_SHARE, 1.0 - SELDOM_SHARE])
    usual_V, other_V = _two(levels)
    per_V = 100.0 / hand.span_V
    range_pct = per_V * max(0.0, float(high_V - low_V) - noise_V)
    apart_pct = per_V * max(0.0, abs(other_V - usual_V) - noise_V)
    two_pct, play_pct = hand.limit("two_rests_pct"), hand.limit("play_pct")
    scatter_pct = hand.limit("rest_scatter_pct")
    if apart_pct > two_pct:
        yield said.fail(
            "two-rests", apart_pct, two_pct, channel=hand.name, usual_V=usual_V, other_V=other_V
        )
    elif range_pct > play_pct:
        yield said.fail("play", range_pct, play_pct, channel=hand.name)
    else:
        yield from said.above("rest-scatters", range_pct, scatter_pct, channel=hand.name)


def _two(levels: Floats) -> tuple[float, float]:
    """Two levels that sorted means part into, V, the more usual first; nought where they do not."""
    least = max(2, round(LESSER_SHARE * levels.size))
    gaps = np.diff(levels)[least - 1 : levels.size - least]
    if not gaps.any():
        return 0.0, 0.0
    cut = least + int(gaps.argmax())
    low, high = levels[:cut], levels[cut:]
    apart = float(np.median(high) - np.median(low))
    near = np.minimum(abs(levels - np.median(low)), abs(levels - np.median(high)))
    if float(np.mean(near > TIGHT_SHARE * apart)) > BETWEEN_SHARE:
        return 0.0, 0.0
    usual, other = (low, high) if low.size >= high.size else (high, low)
    return float(np.median(usual)), float(np.median(other))
