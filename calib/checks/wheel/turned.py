"""Turns by hand past a mark: pulses a turn, or why there is no such number."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calib.checks.capture import capture_findings
from calib.checks.limits import limit
from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.columns import Floats, received
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.wheel import TurnFigures
from calib.store.rig import Channel, Rig
from calib.store.samples import EventKind
from calib.store.text import neutral
from calib.wheel.counting import MOST_BOUNCE_S, Pulses, pulses_of, unit_of, unwrapped, way_of
from calib.wheel.turns import UNSEEN_TURNS, Turns, count_only, find_turns, turns_needed

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
    tracks = [rig.channels[each] for each in (name, channel.second_track) if each is not None]
    capture = capture.where_present([track.column for track in tracks])
    values = received(capture, rig, name)
    odd = tuple(capture_findings(capture, rig))
    misread = _misread(name, channel, values)
    if misread is not None:
        return Turned(None, None, (*odd, misread))
    if channel.unit == "pulses":
        seen = _counted(capture, channel, values, turns)
    else:
        seen = _levels(capture, rig, name, values, turns)
    if not seen.pulses:
        return Turned(None, None, (*odd, _no_pulse(name, channel, values)))
    findings = (
        *odd,
        *_way_findings(name, seen),
        *_hidden_findings(capture, name, channel, seen),
        *_ring_findings(name, channel, seen.turns),
        *_number_findings(name, seen, turns),
    )
    good = all(each.severity.is_good for each in findings)
    per = seen.turns.pulses_a_turn if good else None
    return Turned(per, _figures(channel, seen, turns), findings)


def pulses_over_way(capture: Capture, rig: Rig, name: str) -> float:
    """Pulses in a whole capture, made over a way of known length.

    Raises:
        UsageError: It is a level column, which a way at speed may fold, or there is no column.
    """
    channel = rig.channels[name]
    if channel.unit != "pulses":
        raise UsageError.of("pulses-may-hide", name=neutral(name))
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
    fine = 0.0 < moving.max(initial=0.0) <= 1.0 and per_sample <= FINE_ENOUGH
    timed = fine and capture.has_clock
    if timed:
        found = find_turns(capture.time_s[1:][steps != 0.0], turns)
    else:
        found = count_only(round(abs(net)), turns)
    burst_pct = 100.0 * _burst_share(capture, counts)
    return _Seen(found, abs(net), None, net < 0.0, one_way, not timed, burst_pct)


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
    return said.unknown(
        "unit/wheel" if kind == "level" else "unit/wheel-counts", channel=name, stated=channel.unit
    )


def _no_pulse(name: str, channel: Channel, values: Floats) -> Finding:
    level = float(values.max())
    if channel.unit == "level" and level > 0.0:
        return said.fail("never-falls", channel=name, level=level)
    return said.unknown("no-pulse", channel=name)


def _way_findings(name: str, seen: _Seen) -> said.Findings:
    if not seen.one_way:
        yield said.unknown("turned-both-ways", channel=name)
    elif seen.backwards:
        shown_by = "count" if seen.level is None else "second track"
        yield said.caution("turned-backwards", channel=name, shown_by=shown_by)


def _hidden_findings(capture: Capture, name: str, channel: Channel, seen: _Seen) -> said.Findings:
    """Whether pulses may have come that no sample saw."""
    resets = any(event.kind is EventKind.RESET for event in capture.events)
    if resets or (channel.unit == "level" and capture.gap_count):
        yield said.unknown("pulses-hidden", channel=name)
        return
    unknown = Severity.UNKNOWN
    most = limit("wheel_odd_pct", channel)
    yield from said.above("contact-bounces", seen.burst_pct, most, unknown, channel=name)
    if seen.level is not None and seen.level.samples_between is not None:
        shortest, least = float(seen.level.samples_between), limit("wheel_stay_samples", channel)
        yield from said.below("pulses-hidden/wheel", shortest, least, unknown, channel=name)


def _ring_findings(name: str, channel: Channel, turns: Turns) -> said.Findings:
    """What is wrong with the ring of magnets, or with some of its pulses."""
    pattern = turns.pattern
    longest, pair = limit("wheel_gap_ratio", channel), limit("wheel_pair_ratio", channel)
    if pattern is not None and pattern.shortest < pair:
        yield said.unknown("pulses-doubled", pattern.shortest, pair, channel=name)
    elif pattern is not None and pattern.longest > longest:
        yield said.unknown("magnet-missed", pattern.longest, longest, channel=name)
    odd = turns.missed + turns.doubled
    if odd:
        share, most = 100.0 * odd / max(1, turns.pulses), limit("wheel_odd_pct", channel)
        bad = turns.is_doubtful or (odd > 1 and share > most)
        yield said.finding(
            Severity.UNKNOWN if bad else Severity.CAUTION,
            "gaps-odd/another-number" if turns.is_doubtful else "gaps-odd",
            share,
            most,
            channel=name,
            turns=turns,
        )
    if pattern is not None and pattern.widths and len(pattern.widths) > 1:
        weak, least = limit("wheel_weak_pct", channel), 100.0 * min(pattern.widths)
        if least < weak:
            magnets = len(pattern.widths)
            yield said.caution("magnet-weak", least, weak, channel=name, magnets=magnets)


def _number_findings(name: str, seen: _Seen, turns: int | None) -> said.Findings:
    """The number of pulses a turn, or why there is none."""
    found = seen.turns
    per = found.pulses_a_turn
    half_turns = found.half_turns()
    if half_turns:
        severity = Severity.UNKNOWN if per is None or turns is None else Severity.CAUTION
        yield said.finding(severity, "turned-half", channel=name, half_turns=half_turns)
    if per is None:
        yield _no_number(name, found, turns)
        return
    if turns is not None and seen.unseen and turns < UNSEEN_TURNS:
        few, wanted = float(turns), float(UNSEEN_TURNS)
        yield said.unknown("turns-too-few", few, wanted, channel=name, per=per)
        return
    if turns is not None and found.repeating is not None and per % found.repeating:
        yield said.unknown("pattern-differs", float(found.repeating), float(per), channel=name)
    if seen.level is not None and seen.level.bounces:
        yield said.caution("contact-bounces/wheel", float(seen.level.bounces), channel=name)
    if turns is None:
        yield said.caution("pulses-a-turn/pattern", float(per), channel=name)
    else:
        yield said.passes("pulses-a-turn", float(per), channel=name, found=found, turns=turns)


def _no_number(name: str, found: Turns, turns: int | None) -> Finding:
    """Why turns and pulses make no number of pulses a turn."""
    pulses = found.pulses
    if turns is None and found.repeating is None:
        return said.unknown("turns-not-counted", float(pulses), channel=name)
    if turns is None:
        return said.unknown("turns-not-counted/repeating", float(pulses), channel=name, found=found)
    if len(found.possible) > 1:
        needed = float(turns_needed(max(found.possible)))
        either = " or ".join(map(str, found.possible))
        return said.unknown(
            "turns-too-few/wheel", float(turns), needed, channel=name, pulses=pulses, either=either
        )
    return said.unknown("turns-not-whole", pulses / turns, channel=name, pulses=pulses, turns=turns)


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
