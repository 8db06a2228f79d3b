"""The bench check: a capture of rest, presses, switches and flexing, judged channel by channel."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import msgspec
import numpy as np

from calib.checks.bench import crossing
from calib.checks.bench.blind import cannot_see
from calib.checks.bench.control import Around, expected_of, judge_control
from calib.checks.bench.converter import (
    clipped_findings,
    copies_finding,
    is_clipped,
    pinned_findings,
    stuck_bit_findings,
    unit_findings,
)
from calib.checks.bench.gathered import Gathered, figures_of, gather
from calib.checks.bench.hands import Hand
from calib.checks.bench.noise import (
    explained_share,
    grown_finding,
    hum_finding,
    supply_noise_finding,
)
from calib.checks.bench.rests import rests_of
from calib.checks.bench.signals import Signal, signals_of
from calib.checks.bench.supply import supply_figures, supply_findings
from calib.checks.bench.switches import switch_findings
from calib.checks.bench.thermal import absurd_finding, apart_findings, temperature_of
from calib.checks.bench.tracks import track_findings
from calib.checks.bench.truth import renumbered_findings, scale_findings
from calib.checks.bench.wheel import standing_findings
from calib.checks.bench.whole import whole_findings
from calib.checks.limits import limit, refuse_unknown_limits
from calib.checks.order import in_order
from calib.store.capture import Capture
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures, CheckLevel
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.records import Record
from calib.store.rig import Rig

COLD_WORD = "cold"


@dataclass(frozen=True, slots=True)
class CheckSettings:
    """How a check was made.

    Attributes:
        quick: Rest and one press each.
        condition: What the person said of the conditions.
    """

    quick: bool = False
    condition: str | None = None


def judge_check(
    capture: Capture,
    rig: Rig,
    cautions: tuple[str, ...],
    *,
    earlier: Record | None = None,
    settings: CheckSettings | None = None,
) -> CheckDocument:
    """The document of a bench check.

    Args:
        capture: Rest, each control worked in turn, switches, flexing.
        rig: What its columns are.
        cautions: The usual cautions of the flow.
        earlier: The record to compare with; None without one.
        settings: How the check was made.

    Raises:
        RigError: The rig file names a limit that does not exist.
    """
    refuse_unknown_limits(rig)
    settings = settings or CheckSettings()
    evidence = gather(signals_of(capture, rig), figures_of(earlier))
    figures: dict[str, CheckFigures] = {}
    ordered = in_order(
        [
            *whole_findings(capture, rig, evidence.signals, compared=earlier is not None),
            *renumbered_findings(evidence.signals, evidence.then),
            *_controls(evidence, figures),
            *_others(evidence, figures, settings),
            *_crossings(evidence, figures),
        ]
    )
    channels = {name: _channel(rig, name, ordered, figures.get(name)) for name in rig.channels}
    return CheckDocument(
        verdict=worst([Severity.PASS, *(each.severity for each in ordered)]),
        findings=ordered,
        cautions=cautions,
        capture=capture.ref(),
        channels=channels,
        compared_with=None if earlier is None else earlier.id,
        quick=settings.quick,
        condition=settings.condition,
        cannot_see=cannot_see(evidence.signals),
    )


def _controls(evidence: Gathered, figures: dict[str, CheckFigures]) -> Iterator[Finding]:
    for hand in evidence.hands:
        name = hand.name
        around = Around(
            noise=evidence.noises[name],
            still=evidence.still[name],
            rests=rests_of(evidence.signals, hand, evidence.calm),
            then=evidence.then.get(name),
            supply_V=evidence.supply_V(name),
            others=[
                press for other in evidence.hands if other is not hand for press in other.presses
            ],
            second_track=evidence.signals.is_second_track(name),
        )
        checked = judge_control(evidence.signals, hand, around)
        figures[name] = _with_repeats(checked.figures, hand.signal, evidence)
        told = {each.code for each in (evidence.frozen.get(name),) if each is not None}
        yield from (each for each in checked.findings if each.code not in told)


def _with_repeats(figures: CheckFigures, signal: Signal, evidence: Gathered) -> CheckFigures:
    raw = signal.raw[evidence.quiet]
    repeats = float(np.mean(raw[1:] == raw[:-1])) if raw.size > 1 else None
    return msgspec.structs.replace(figures, repeats=repeats)


def _others(
    evidence: Gathered, figures: dict[str, CheckFigures], settings: CheckSettings
) -> Iterator[Finding]:
    signals = evidence.signals
    for signal in signals.by_name.values():
        if signal.name not in figures:
            figures[signal.name] = _still_figures(signal, evidence)
        yield from unit_findings(signal)
    yield from (copies_finding(each, signals.by_name[n]) for n, each in evidence.copied.items())
    yield from evidence.frozen.values()
    for signal in signals.with_role("pitch", "roll", "other"):
        yield from pinned_findings(signal)
    for signal in signals.with_role("wheel"):
        yield from standing_findings(signal)
    for hand in evidence.hands:  # one that seems not to answer may miss just that bit
        yield from stuck_bit_findings(hand.signal)
    yield from _supply_findings(evidence, figures)
    yield from _noise_findings(evidence)
    yield from _temperature_findings(evidence, settings)
    for name, switch in evidence.switches.items():
        known = evidence.then.get(name)
        then_on = None if known is None or known.rest is None else bool(known.rest.mean)
        yield from switch_findings(
            signals.by_name[name], switch, asked=not settings.quick, then_on=then_on
        )


def _still_figures(signal: Signal, evidence: Gathered) -> CheckFigures:
    """Figures of a channel that nobody works: its level over all of the rest."""
    if signal.name in evidence.switches:
        on = float(evidence.switches[signal.name].starts_on)
        return CheckFigures(unit="", rest=CheckLevel(mean=on, sd=0.0, u=0.0, stays=1))
    values = signal.values[evidence.quiet]
    if not values.size or signal.role == "wheel":
        return CheckFigures(unit=signal.unit)
    noise = evidence.noises.get(signal.name)
    sd = noise.now.sd if noise is not None else float(values.std())
    temperature = temperature_of(signal) if signal.role in ("temperature", "ambient") else None
    figures = CheckFigures(
        unit=signal.unit,
        rest=CheckLevel(mean=float(values.mean()), sd=0.0, u=sd / math.sqrt(values.size), stays=1),
        noise=sd,
        hum=noise.now.hum if noise is not None else None,
        degC=temperature.degC
        if temperature is not None and np.isfinite(temperature.degC)
        else None,
    )
    return _with_repeats(figures, signal, evidence)


def _supply_findings(evidence: Gathered, figures: dict[str, CheckFigures]) -> Iterator[Finding]:
    signals = evidence.signals
    for rail in signals.with_role("supply"):
        at_rest = rail.raw[evidence.quiet]
        yield from clipped_findings(rail, at_rest, where="all the time", severity=Severity.CAUTION)
        if not is_clipped(rail, at_rest):  # else its level is not known
            yield from supply_findings(rail, supply_figures(signals, rail))
        independent = [
            each
            for each in signals.with_role("pitch", "roll", "other")
            if each.unit == "V" and each.channel.supply is None
        ]
        yield from scale_findings(rail, independent, figures, evidence.then)


def _noise_findings(evidence: Gathered) -> Iterator[Finding]:
    noises = evidence.noises
    humming = [name for name, noise in noises.items() if noise.hums]
    for rail in evidence.signals.with_role("supply"):
        noise = noises[rail.name]
        if noise.grown and not (noise.hums and len(humming) > 1):
            followers = [
                hand.name
                for hand in evidence.hands
                if hand.signal.channel.supply == rail.name
                and 100.0 * explained_share(hand.signal.values, rail.values, evidence.quiet)
                > limit("common_pct", hand.signal.channel)
            ]
            yield supply_noise_finding(rail, noise, followers)
    for noise in noises.values():
        if noise.signal.role == "supply" and not noise.hums:
            continue
        if noise.hums and (noise.hum_explains or len(humming) > 1):
            yield hum_finding(noise, humming)
        elif noise.grown:
            yield grown_finding(noise)


def _temperature_findings(evidence: Gathered, settings: CheckSettings) -> Iterator[Finding]:
    then = {name: figures.degC for name, figures in evidence.then.items()}
    read = [
        temperature
        for signal in evidence.signals.with_role("temperature", "ambient")
        if (temperature := temperature_of(signal, then.get(signal.name))) is not None
    ]
    yield from (absurd_finding(each) for each in read if each.is_absurd)
    cold = settings.condition is not None and COLD_WORD in settings.condition.casefold()
    yield from apart_findings([each for each in read if not each.is_absurd], cold=cold)


def _crossings(evidence: Gathered, figures: dict[str, CheckFigures]) -> Iterator[Finding]:
    signals = evidence.signals
    hands = [hand for hand in evidence.hands if hand.name not in evidence.copied]
    then = {n: e for n, f in evidence.then.items() if (e := expected_of(f)) is not None}
    now = {n: e for n, f in figures.items() if (e := expected_of(f)) is not None}
    names = [hand.name for hand in hands if not signals.is_second_track(hand.name)]
    pair = crossing.swapped(names, crossing.turns(evidence.works), now, then)
    if pair is not None:
        yield from crossing.swapped_findings(pair, compared=set(pair) <= set(then))
    for first, second in combinations(hands, 2):
        tracks = _as_tracks(first, second)
        if tracks is not None:
            yield from track_findings(signals, *tracks, now)
            continue
        together = crossing.joined(evidence.works, first, second, then)
        if together is not None:
            yield together
            continue
        for worked, other in ((first, second), (second, first)):
            if other.answered:
                yield from crossing.cross_talk_findings(
                    evidence.works, worked, other, signals.rate_hz
                )
    for name, switch in evidence.switches.items():
        current_A = signals.by_name[name].channel.current_A
        for hand in hands:
            yield from crossing.load_findings(signals, hand, switch, name, current_A)


def _as_tracks(first: Hand, second: Hand) -> tuple[Hand, Hand] | None:
    """The first and the second track, where two channels are those of one control."""
    if first.signal.channel.second_track == second.name:
        return first, second
    if second.signal.channel.second_track == first.name:
        return second, first
    return None


def _channel(
    rig: Rig, name: str, findings: tuple[Finding, ...], figures: CheckFigures | None
) -> ChannelCheck:
    own = tuple(finding for finding in findings if finding.channel == name)
    return ChannelCheck(
        verdict=worst([Severity.PASS, *(finding.severity for finding in own)]),
        role=rig.channels[name].role,
        findings=own,
        figures=figures,
    )
