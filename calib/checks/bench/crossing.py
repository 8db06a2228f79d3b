"""One control against another: swapped, joined, leaking over, or lifted by a load's current."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import combinations, groupby, permutations

import numpy as np

from calib.checks.bench.converter import copies
from calib.checks.bench.gathered import Gathered
from calib.checks.bench.hands import EDGE_S, HELD_S, INTACT_SHARE, Ends, Hand, Work, ends_of, shift
from calib.checks.bench.signals import Floats, Signal, Signals
from calib.checks.bench.switches import SwitchFigures
from calib.checks.file.moved import at_supply
from calib.checks.travel.two_track import tracks_finding
from calib.store.documents import said
from calib.store.documents.check import CheckFigures

Known = Mapping[str, Ends]
"""Rest and full travel by channel, where both are known."""

MEAN_SDS = 4.0
"""Standard deviations of a mean below which a movement is noise; own choice."""


def crossing_findings(seen: Gathered, figures: Mapping[str, CheckFigures]) -> said.Findings:
    """What is wrong with one control against another, or with a switch's load against it.

    Args:
        seen: What the capture shows.
        figures: Figures by channel.
    """
    signals = seen.signals
    hands = [hand for hand in seen.hands if hand.name not in seen.copied]
    now, then = _known_ends(figures), _known_ends(seen.then)
    names = [hand.name for hand in hands if not signals.is_second_track(hand.name)]
    pair = swapped(names, turns(seen.works), now, then)
    if pair is not None:
        compared = set(pair) <= set(then)
        for name, other in permutations(pair):
            yield said.fail(
                "channels-swapped/recorded" if compared else "channels-swapped",
                channel=name,
                other=other,
            )
    for first, second in combinations(hands, 2):
        if second.name == first.signal.channel.second_track:
            yield from track_findings(signals, first, second, now)
        elif first.name == second.signal.channel.second_track:
            yield from track_findings(signals, second, first, now)
        else:
            yield from _pair_findings(seen, first, second, then)
    for name, done in seen.switches.items():
        for hand in hands:
            yield from load_findings(signals, hand, signals.by_name[name], done)


def _known_ends(figures: Mapping[str, CheckFigures]) -> dict[str, Ends]:
    found = {name: ends_of(each) for name, each in figures.items()}
    return {name: ends for name, ends in found.items() if ends is not None}


def turns(works: Sequence[Work]) -> tuple[str, ...]:
    """The controls in the order in which they were worked, repeats joined.

    What was worked less often in one turn than in another was a slip there, or a sign of somebody
    being there; it stands for no turn of its own.
    """
    runs = [(name, len(list(same))) for name, same in groupby(work.leader for work in works)]
    most = {name: max(count for each, count in runs if each == name) for name, _ in runs}
    return tuple(name for name, count in runs if count == most[name])


def swapped(
    names: Sequence[str], order: Sequence[str], now: Known, then: Known
) -> tuple[str, str] | None:
    """Two controls whose plugs changed places.

    They answered in each other's turn; where there is a record, each must also fit the other's
    levels better than its own.

    Args:
        names: Controls in the order in which they are asked for.
        order: Controls in the order in which they answered.
        now: Levels now, by name.
        then: Levels on record, by name.
    """
    asked = [name for name in names if name in order]
    left = iter(order)
    if all(name in left for name in asked):  # there is a turn for each, in the order of asking
        return None
    answered = [name for name in dict.fromkeys(order) if name in asked]
    wrong = [(a, b) for a, b in zip(asked, answered, strict=True) if a != b]
    if len(wrong) != 2 or set(wrong[0]) != set(wrong[1]):
        return None
    first, second = wrong[0]
    both_known = all(name in levels for name in (first, second) for levels in (now, then))
    if both_known:
        own = _apart(now[first], then[first]) + _apart(now[second], then[second])
        other = _apart(now[first], then[second]) + _apart(now[second], then[first])
        if own <= other:
            return None
    return first, second


def _apart(now: Ends, then: Ends) -> float:
    scale = at_supply(then.supply_V, now.supply_V)
    return abs(now.rest_V * scale - then.rest_V) + abs(now.full_V * scale - then.full_V)


def track_findings(signals: Signals, first: Hand, second: Hand, ends: Known) -> said.Findings:
    """Whether two tracks agree, in per cent of their own travel; nothing where one was not worked.

    Args:
        signals: The whole capture.
        first: One track.
        second: The other.
        ends: Rest and full travel of both in this check, by name.

    Source: `calib.checks.travel.two_track`.
    """
    if first.name in ends and second.name in ends:
        first_pct, second_pct = (_percent(each, ends[each.name]) for each in (first, second))
        about = second.signal.channel
        yield tracks_finding(second.name, about, signals.time_s, first_pct, second_pct)


def _percent(hand: Hand, ends: Ends) -> Floats:
    """A track in per cent of its travel, 0 in its drop-outs, which are told by themselves."""
    share = ends.share(hand.volts)
    return 100.0 * np.where(np.isfinite(share), share, 0.0)


def _pair_findings(seen: Gathered, first: Hand, second: Hand, then: Known) -> said.Findings:
    """Two controls that always move together, or one that moves a little with the other.

    Together: one wire for both, or one that only follows; a bridge halves what each shows of its
    own sensor, while an input that floats takes nothing from its neighbour.

    Source: limit ``one_wire_pct``.
    """
    works = [work for work in seen.works if work.leader in (first.name, second.name)]
    moves = [sorted(abs(work.moved_V[hand.name]) for hand in (first, second)) for work in works]
    shares = [lesser_V / max(greater_V, 1e-9) for lesser_V, greater_V in moves]
    if not shares or min(shares) < first.limit("one_wire_pct") / 100.0:
        for worked, other in permutations((first, second)):
            if other.presses:
                yield from cross_talk_findings(works, worked, other, seen.signals.rate_hz)
        return
    led = [pair for pair in permutations((first, second)) if _leads(pair[0], works, then)]
    if not led:
        pct, least_pct = 100.0 * min(shares), first.limit("one_wire_pct")
        yield said.fail("one-wire", pct, least_pct, channel=first.name, name=second.name)
        return
    leader, follower = led[0]
    if copies(leader.signal, follower.signal):
        yield said.fail("multiplexer-stuck", channel=follower.name, name=leader.name)
        return
    pct, least_pct = 100.0 * float(np.median(shares)), follower.limit("one_wire_pct")
    yield said.fail("signal-open", pct, least_pct, channel=follower.name, name=leader.name)


def _leads(hand: Hand, works: Sequence[Work], then: Known) -> bool:
    """Whether a control's span is intact, so that another one has no press of its own."""
    if hand.name not in then:
        return False
    moved_V = np.median([abs(work.moved_V[hand.name]) for work in works])
    return bool(moved_V >= INTACT_SHARE * abs(then[hand.name].span_V))


def cross_talk_findings(
    works: Sequence[Work], worked: Hand, other: Hand, rate_hz: float
) -> said.Findings:
    """How far one control moves while another one is worked.

    Args:
        works: Every press.
        worked: The control that was worked.
        other: The control that nobody touched.
        rate_hz: Rate of readings, Hz.

    Source: limit ``cross_talk_pct``; four standard deviations of a mean are noise.
    """
    moves_V = [work.moved_V[other.name] for work in works if work.leader == worked.name]
    if not moves_V:
        return
    move_V = float(np.median(moves_V))
    pct = 100.0 * abs(move_V) / max(other.span_V, 1e-9)
    readings = rate_hz * HELD_S * len(moves_V)
    noise_V = MEAN_SDS * other.head_sd_V * math.sqrt(2.0 / max(1.0, readings))
    most_pct = other.limit("cross_talk_pct")
    if pct <= most_pct or abs(move_V) <= noise_V:
        return
    ohms, current_A = "", worked.signal.channel.current_A
    if current_A is not None:
        ohms = (
            f" If {current_A:g} A flow then, the ground that both share has about "
            f"{abs(move_V) / current_A:.2g} ohm."
        )
    name, move_mV = worked.name, 1000.0 * move_V
    yield said.fail(
        "cross-talk", pct, most_pct, channel=other.name, move_mV=move_mV, name=name, ohms=ohms
    )


def load_findings(
    signals: Signals, hand: Hand, switch: Signal, done: SwitchFigures
) -> said.Findings:
    """How far a control at rest shifts while a switch holds a load on.

    Args:
        signals: The whole capture.
        hand: The control.
        switch: The switch; its channel names the load's current.
        done: What it did.

    Source: limit ``ground_shift_mV``; Ohm's law for the resistance.
    """
    current_A, ohms = switch.channel.current_A, ""
    shifts_V, held = [], 0
    for on_s, off_s in done.on_from_to_s:
        worked = any(p.leave_s < off_s + 0.6 and p.back_s > on_s - 0.6 for p in hand.presses)
        if worked or off_s - on_s < 3.0 * EDGE_S:
            continue
        beside = (on_s - 0.5, on_s - EDGE_S), (off_s + EDGE_S, off_s + 0.5)
        shift_V = shift(signals, hand.volts, (on_s + EDGE_S, off_s - EDGE_S), beside)
        if not math.isnan(shift_V):
            shifts_V.append(shift_V)
            held += signals.samples_in(min(off_s - on_s, 0.5))
    if not shifts_V:
        return
    shift_V = float(np.median(shifts_V))
    noise_V = MEAN_SDS * hand.head_sd_V / math.sqrt(held / 2.0)
    limit_V = hand.limit("ground_shift_mV") / 1000.0
    if abs(shift_V) <= max(limit_V, noise_V):
        return
    if current_A is not None:
        ohms = f" With {current_A:g} A that is about {abs(shift_V) / current_A:.2g} ohm."
    mV, most_mV = 1000.0 * shift_V, 1000.0 * limit_V
    yield said.fail("shared-ground", mV, most_mV, channel=hand.name, switch=switch.name, ohms=ohms)
