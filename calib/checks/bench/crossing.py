"""One control against another: swapped, joined, leaking over, or lifted by a load's current."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from calib.checks.bench.converter import copies, copies_finding
from calib.checks.bench.hands import (
    EDGE_S,
    HELD_S,
    INTACT_SHARE,
    Expected,
    Hand,
    Work,
    mean_between,
)
from calib.checks.bench.signals import Signals
from calib.checks.bench.switches import SwitchFigures
from calib.checks.limits import limit
from calib.store.documents import said
from calib.store.documents.finding import Finding

MEAN_SDS = 4.0
"""Standard deviations of a mean below which a movement is noise; own choice."""


def turns(works: Sequence[Work]) -> tuple[str, ...]:
    """The controls in the order in which they were worked, repeats joined.

    What was worked less often in one turn than in another was a slip there, or a sign of somebody
    being there; it stands for no turn of its own.
    """
    runs: list[tuple[str, int]] = []
    for work in works:
        if runs and runs[-1][0] == work.leader:
            runs[-1] = (work.leader, runs[-1][1] + 1)
        else:
            runs.append((work.leader, 1))
    most = {name: max(count for each, count in runs if each == name) for name, _ in runs}
    return tuple(name for name, count in runs if count == most[name])


def swapped(
    names: Sequence[str], order: Sequence[str], now: dict[str, Expected], then: dict[str, Expected]
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


def _apart(now: Expected, then: Expected) -> float:
    scale = 1.0
    if now.supply_V is not None and then.supply_V is not None and now.supply_V > 0.0:
        scale = then.supply_V / now.supply_V
    return abs(now.rest_V * scale - then.rest_V) + abs(now.full_V * scale - then.full_V)


def swapped_findings(pair: tuple[str, str], *, compared: bool) -> Iterator[Finding]:
    """Both channels of a swap."""
    sure = (
        "and each reads what the other reads on record: their plugs changed places"
        if compared
        else "their plugs changed places, or they were worked in the other order"
    )
    for asked, other in (pair, pair[::-1]):
        yield said.fail("channels-swapped", channel=asked, other=other, sure=sure)


def joined(
    works: Sequence[Work], first: Hand, second: Hand, then: dict[str, Expected]
) -> Finding | None:
    """Two controls that always move together: one wire for both, or one that only follows.

    Args:
        works: Every press.
        first: One control.
        second: The other.
        then: Levels on record, by name.

    Source: limits ``one_wire_pct``; a bridge halves what each shows of its own sensor, while an
    input that floats takes nothing from its neighbour.
    """
    both = [work for work in works if work.leader in (first.name, second.name)]
    if not both:
        return None
    shares = [_lesser_share(work, first, second) for work in both]
    if min(shares) < limit("one_wire_pct", first.signal.channel) / 100.0:
        return None
    follower = _follower(both, first, second, then)
    if follower is not None:
        leader = second if follower is first else first
        if copies(leader.signal, follower.signal):
            return copies_finding(leader.signal, follower.signal)
        share = float(np.median(shares))
        return said.fail(
            "signal-open",
            100.0 * share,
            limit("one_wire_pct", follower.signal.channel),
            channel=follower.name,
            name=leader.name,
            pct=100 * share,
        )
    return said.fail(
        "one-wire",
        100.0 * min(shares),
        limit("one_wire_pct", first.signal.channel),
        channel=first.name,
        name=second.name,
        pct=100 * min(shares),
    )


def _lesser_share(work: Work, first: Hand, second: Hand) -> float:
    moved = sorted(abs(work.moved_V[hand.name]) for hand in (first, second))
    return moved[0] / max(moved[1], 1e-9)


def _follower(
    works: Sequence[Work], first: Hand, second: Hand, then: dict[str, Expected]
) -> Hand | None:
    """The control that has no press of its own while the other one's span is intact."""
    for leader, follower in ((first, second), (second, first)):
        if leader.name not in then:
            continue
        known = then[leader.name]
        moved = np.median([abs(work.moved_V[leader.name]) for work in works])
        if moved >= INTACT_SHARE * abs(known.full_V - known.rest_V):
            return follower
    return None


def cross_talk_findings(
    works: Sequence[Work], worked: Hand, other: Hand, rate_hz: float
) -> Iterator[Finding]:
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
    if pct <= limit("cross_talk_pct", other.signal.channel) or abs(move_V) <= noise_V:
        return
    current_A = worked.signal.channel.current_A
    ohms = ""
    if current_A is not None:
        ohms = (
            f" If {current_A:g} A flow then, the ground that both share has about "
            f"{abs(move_V) / current_A:.2g} ohm."
        )
    yield said.fail(
        "cross-talk",
        pct,
        limit("cross_talk_pct", other.signal.channel),
        channel=other.name,
        mV=1000 * move_V,
        name=worked.name,
        ohms=ohms,
    )


def load_findings(
    signals: Signals, hand: Hand, throws: SwitchFigures, switch_name: str, current_A: float | None
) -> Iterator[Finding]:
    """How far a control at rest shifts while a switch holds a load on.

    Args:
        signals: The whole capture.
        hand: The control.
        throws: What the switch did.
        switch_name: Its name.
        current_A: The load's current; None where it is not given.

    Source: limit ``ground_shift_mV``; Ohm's law for the resistance.
    """
    shifts_V = []
    held = 0
    for start_s, end_s in throws.on_from_to_s:
        if _overlaps(hand, start_s - 0.6, end_s + 0.6) or end_s - start_s < 3.0 * EDGE_S:
            continue
        during = mean_between(signals, hand.volts, start_s + EDGE_S, end_s - EDGE_S)
        before = mean_between(signals, hand.volts, start_s - 0.5, start_s - EDGE_S)
        after = mean_between(signals, hand.volts, end_s + EDGE_S, end_s + 0.5)
        around = [value for value in (before, after) if value == value]
        if during == during and around:
            shifts_V.append(during - float(np.mean(around)))
            held += signals.samples_in(min(end_s - start_s, 0.5))
    if not shifts_V:
        return
    shift_V = float(np.median(shifts_V))
    noise_V = MEAN_SDS * hand.head_sd_V / np.sqrt(max(1, held) / 2.0)
    limit_V = limit("ground_shift_mV", hand.signal.channel) / 1000.0
    if abs(shift_V) <= max(limit_V, noise_V):
        return
    ohms = ""
    if current_A is not None:
        ohms = f" With {current_A:g} A that is about {abs(shift_V) / current_A:.2g} ohm."
    yield said.fail(
        "shared-ground",
        1000.0 * shift_V,
        1000.0 * limit_V,
        channel=hand.name,
        mV=1000 * shift_V,
        switch_name=switch_name,
        ohms=ohms,
    )


def _overlaps(hand: Hand, start_s: float, end_s: float) -> bool:
    return any(press.leave_s < end_s and press.back_s > start_s for press in hand.presses)
