"""Turns by hand past a mark: pulses a turn, or why there is no such number."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.checks.capture import capture_findings
from calib.checks.limits import limit
from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.columns import received
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.wheel import TurnFigures
from calib.store.rig import Channel, Rig
from calib.store.samples import EventKind
from calib.store.text import counted, neutral
from calib.wheel.counting import MOST_BOUNCE_S, Pulses, pulses_of, unit_of, unwrapped, way_of
from calib.wheel.turns import UNSEEN_TURNS, Turns, count_only, find_turns, turns_needed

Floats = NDArray[np.float64]

FINE_ENOUGH = 0.2
"""Pulses a sample, on the way, up to which a running count shows the gaps between pulses. Own
choice: a gap is then known to a fifth."""

BURST = 3.0
"""How many times as fast as on the mean a count may rise. Own choice: a hand that stops at marks
goes twice as fast in between, and magnets are uneven; a bounce makes many pulses of one."""

BURST_S = 2.0 * MOST_BOUNCE_S
"""Time over which that is looked at, s, or a sample's where that is longer. Own choice: both ends
of a short pulse bounce within it."""

LEVELS = 2
"""Different numbers in a level that never falls; more are a count."""

ONE_WAY = 0.9
"""Share of pulses that must say the same way. Own choice: a wheel that is set to the mark goes back
by a pulse or two."""


@dataclass(frozen=True, slots=True)
class Turned:
    """What turning gave.

    Attributes:
        pulses_a_turn: The number; None where there is none.
        figures: What it rests on; None where there was no pulse.
        findings: What was found.
    """

    pulses_a_turn: int | None
    figures: TurnFigures | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Seen:
    """Pulses as one of the two kinds of column shows them."""

    turns: Turns
    pulses: float
    level: Pulses | None
    backwards: bool | None
    one_way: bool
    unseen: bool = False
    burst_pct: float = 0.0


def judge_turned(capture: Capture, rig: Rig, name: str, turns: int | None) -> Turned:
    """Pulses a turn from a capture of whole turns.

    Args:
        capture: The wheel, turned from mark to mark.
        rig: What the columns are.
        name: The wheel sensor's channel.
        turns: How many turns were made; None where nobody counted.

    Raises:
        UsageError: There is no such channel or column, or a level has no clock.
    """
    channel = rig.channels[name]
    wanted = [channel.column]
    if channel.second_track is not None:
        wanted.append(rig.channels[channel.second_track].column)
    capture = capture.where_present(wanted)
    values = received(capture, rig, name)
    findings = list(capture_findings(capture, rig))
    misread = _misread(name, channel, values)
    if misread is not None:
        return Turned(None, None, (*findings, misread))
    seen = (
        _counted(capture, channel, values, turns)
        if channel.unit == "pulses"
        else _levels(capture, rig, name, values, turns)
    )
    if not seen.pulses:
        return Turned(None, None, (*findings, _no_pulse(name, channel, values)))
    findings += _way_findings(name, seen)
    findings += _hidden(capture, name, channel, seen)
    findings += _odd(name, channel, seen.turns)
    findings += _number(name, seen, turns)
    good = all(each.severity.is_good for each in findings)
    per = seen.turns.pulses_a_turn if good else None
    return Turned(per, _figures(channel, seen, turns), tuple(findings))


def pulses_over_way(capture: Capture, rig: Rig, name: str) -> float:
    """Pulses in a whole capture, made over a way of known length.

    Raises:
        UsageError: It is a level column, which a way at speed may fold, or there is no column.
    """
    channel = rig.channels[name]
    if channel.unit != "pulses":
        raise UsageError(
            f"Channel {neutral(name)!r} is a level, and over a way its pulses may be hidden.",
            "Give --over-turns N too, or log a running count (unit = 'pulses').",
        )
    capture = capture.where_present([channel.column])
    return abs(float(unwrapped(received(capture, rig, name), channel.wrap)[-1]))


def _counted(capture: Capture, channel: Channel, values: Floats, turns: int | None) -> _Seen:
    counts = unwrapped(values, channel.wrap)
    steps = np.diff(counts)
    net = float(counts[-1])
    gross = float(np.abs(steps).sum())
    one_way = gross == 0.0 or abs(net) >= ONE_WAY * gross
    moving = np.abs(steps[steps != 0.0])
    per_sample = gross / max(1, _moving_samples(steps))
    fine = len(moving) > 0 and float(moving.max()) <= 1.0 and per_sample <= FINE_ENOUGH
    if fine and capture.has_clock:
        found = find_turns(capture.time_s[1:][steps != 0.0], turns)
    elif turns is not None:
        found = count_only(round(abs(net)), turns)
    else:
        found = Turns(round(abs(net)), None, (), None, 0, 0, (), None)
    unseen = not (fine and capture.has_clock)
    burst_pct = 100.0 * _burst_share(capture, counts)
    return _Seen(found, abs(net), None, net < 0.0, one_way, unseen, burst_pct)


def _burst_share(capture: Capture, counts: Floats) -> float:
    """Share of the pulses that came within a bounce's time in which no wheel turns so far."""
    times_s = capture.time_s if capture.has_clock else np.arange(len(counts)) * BURST_S
    every = max(1, round(BURST_S / max(float(np.median(np.diff(times_s))), 1e-9)))
    steps = np.abs(np.diff(counts[::every]))
    spans_s = np.diff(times_s[::every])
    if not steps.any():
        return 0.0
    usual = float(steps.sum()) / max(1, _moving_samples(steps))
    bursts = steps > 1.0 + BURST * usual * spans_s / float(np.median(spans_s))
    return float(steps[bursts].sum() / steps.sum())


def _moving_samples(steps: Floats) -> int:
    """Samples from the first pulse to the last, standstills of a second or so aside."""
    at = np.flatnonzero(steps)
    if len(at) < 2:
        return len(steps)
    between = np.diff(at)
    return int(between[between <= 4.0 * float(np.median(between))].sum())


def _levels(capture: Capture, rig: Rig, name: str, values: Floats, turns: int | None) -> _Seen:
    capture.require_clock("a level's pulses")
    channel = rig.channels[name]
    level = pulses_of(capture.time_s, values)
    found = find_turns(level.start_s, turns, level.width_s)
    backwards, one_way = None, True
    if channel.second_track is not None:
        share = way_of(level, received(capture, rig, channel.second_track))
        if share is not None:
            backwards = share > 0.5
            one_way = abs(share - 0.5) >= ONE_WAY - 0.5
    return _Seen(found, float(level.count), level, backwards, one_way)


def _misread(name: str, channel: Channel, values: Floats) -> Finding | None:
    """A level that the rig file calls a count, or a count that it calls a level."""
    kind = unit_of(values)
    told = values.max() <= 1.0 if kind == "level" else len(np.unique(values)) > LEVELS
    if kind == channel.unit or not told:
        return None
    seen = "knows only 0 and 1 and falls again" if kind == "level" else "counts on and never falls"
    return said.unknown("unit/wheel", channel=name, seen=seen, the_unit=channel.unit, kind=kind)


def _no_pulse(name: str, channel: Channel, values: Floats) -> Finding:
    stuck = channel.unit == "level" and float(values.max()) > 0.0
    return Finding(
        code="never-falls" if stuck else "no-pulse",
        severity=Severity.FAIL if stuck else Severity.UNKNOWN,
        text=f"{name} stands at {values.max():g} all the time: its level never falls."
        if stuck
        else f"{name} gave no pulse.",
        action="Turn the wheel past the sensor by hand; then look at its supply, its pull-up and "
        "its wire, and at the gap to the magnet.",
        channel=name,
    )


def _way_findings(name: str, seen: _Seen) -> Iterator[Finding]:
    if not seen.one_way:
        yield said.unknown("turned-both-ways", channel=name)
    elif seen.backwards:
        yield said.caution(
            "turned-backwards",
            channel=name,
            level="count" if seen.level is None else "second track",
        )


def _hidden(capture: Capture, name: str, channel: Channel, seen: _Seen) -> Iterator[Finding]:
    """Whether pulses may have come that no sample saw."""
    resets = any(event.kind is EventKind.RESET for event in capture.events)
    if resets or (channel.unit == "level" and capture.gap_count):
        yield said.unknown("pulses-hidden", channel=name)
        return
    most = limit("wheel_odd_pct", channel)
    if seen.burst_pct > most:
        yield said.unknown("contact-bounces", seen.burst_pct, most, channel=name)
    if seen.level is None or seen.level.samples_between is None:
        return
    least = limit("wheel_stay_samples", channel)
    if seen.level.samples_between < least:
        yield said.unknown(
            "pulses-hidden/wheel", float(seen.level.samples_between), least, channel=name
        )


def _odd(name: str, channel: Channel, turns: Turns) -> Iterator[Finding]:
    """What is wrong with the ring of magnets, or with some of its pulses."""
    pattern = turns.pattern
    longest = limit("wheel_gap_ratio", channel)
    pair = limit("wheel_pair_ratio", channel)
    if pattern is not None and pattern.shortest < pair:
        yield said.unknown("pulses-doubled", pattern.shortest, pair, channel=name)
    elif pattern is not None and pattern.longest > longest:
        yield said.unknown("magnet-missed", pattern.longest, longest, channel=name)
    odd = turns.missed + turns.doubled
    if odd:
        share = 100.0 * odd / max(1, turns.pulses)
        most = limit("wheel_odd_pct", channel)
        yield Finding(
            code="gaps-odd",
            severity=Severity.UNKNOWN
            if turns.is_doubtful or (odd > 1 and share > most)
            else Severity.CAUTION,
            text=f"{name}: {counted(turns.missed, 'pulse')} too late and "
            f"{counted(turns.doubled, 'pulse')} too early for their place: missed, doubled, or a "
            "jerk of the hand"
            + (
                ", and so many may be missed that it is another number."
                if turns.is_doubtful
                else "."
            ),
            value=share,
            limit=most,
            unit="%",
            action="Turn it steadily again; if it stays so, set the sensor nearer to the magnets.",
            channel=name,
        )
    if pattern is not None and pattern.widths and len(pattern.widths) > 1:
        weak = limit("wheel_weak_pct", channel)
        least = 100.0 * min(pattern.widths)
        if least < weak:
            yield said.caution("magnet-weak", least, weak, channel=name, widths=len(pattern.widths))


def _number(name: str, seen: _Seen, turns: int | None) -> Iterator[Finding]:
    """The number of pulses a turn, or why there is none."""
    found = seen.turns
    per = found.pulses_a_turn
    if found.half_turns():
        yield said.finding(
            Severity.CAUTION if per is not None and turns is not None else Severity.UNKNOWN,
            "turned-half",
            channel=name,
            half_turns=found.half_turns(),
        )
    if turns is None and per is None:
        yield _uncounted(name, found)
    elif turns is not None and per is None:
        yield _no_whole(name, found, turns)
    if per is None:
        return
    if turns is not None and seen.unseen and turns < UNSEEN_TURNS:
        yield _unseen(name, per, turns)
        return
    if turns is not None and found.repeating is not None and per % found.repeating:
        yield _pattern_differs(name, per, found.repeating)
    if seen.level is not None and seen.level.bounces:
        yield said.caution("contact-bounces/wheel", float(seen.level.bounces), channel=name)
    how = f"{found.pulses} over {counted(turns, 'turn')}" if turns else "its pattern repeats after"
    yield Finding(
        code="pulses-a-turn",
        severity=Severity.PASS if turns else Severity.CAUTION,
        text=f"{name}: {counted(per, 'pulse')} a turn ({how})."
        if turns
        else f"{name}: {how} {counted(per, 'pulse')}, and the wheel stopped with it each time.",
        value=float(per),
        action="" if turns else "Count the turns to prove it: --turns 10.",
        channel=name,
    )


def _uncounted(name: str, found: Turns) -> Finding:
    return Finding(
        code="turns-not-counted",
        severity=Severity.UNKNOWN,
        text=f"{name}: {counted(found.pulses, 'pulse')}, and nobody counted the turns"
        + (
            "."
            if found.repeating is None
            else f"; the gaps repeat after {found.repeating}, which may be a turn, a part of one, "
            "or the swing of the hand."
        ),
        value=float(found.pulses),
        action="Turn it from mark to mark and say how often: --turns 10.",
        channel=name,
    )


def _no_whole(name: str, found: Turns, turns: int) -> Finding:
    per = found.pulses / turns
    if len(found.possible) > 1:
        needed = turns_needed(max(found.possible))
        return said.unknown(
            "turns-too-few/wheel",
            float(turns),
            float(needed),
            channel=name,
            pulses=found.pulses,
            names=" or ".join(map(str, found.possible)),
        )
    return said.unknown("turns-not-whole", per, channel=name, pulses=found.pulses, turns=turns)


def _unseen(name: str, per: int, turns: int) -> Finding:
    return said.unknown("turns-too-few", float(turns), float(UNSEEN_TURNS), channel=name, per=per)


def _pattern_differs(name: str, per: int, repeating: int) -> Finding:
    return said.unknown("pattern-differs", float(repeating), float(per), channel=name)


def _figures(channel: Channel, seen: _Seen, turns: int | None) -> TurnFigures:
    pattern = seen.turns.pattern
    return TurnFigures(
        unit="pulses" if channel.unit == "pulses" else "level",
        pulses=seen.pulses,
        turns=turns,
        basis="pattern" if turns is None else "turns",
        stops=seen.turns.stops,
        missed=seen.turns.missed,
        doubled=seen.turns.doubled,
        bounces=0 if seen.level is None else seen.level.bounces,
        gaps_deg=() if pattern is None else pattern.gaps_deg,
        widths=() if pattern is None else pattern.widths or (),
        backwards=seen.backwards,
    )
