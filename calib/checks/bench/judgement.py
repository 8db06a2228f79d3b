"""The bench check: a capture of rest, presses, switches and flexing, judged channel by channel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import msgspec
import numpy as np

from calib.checks.bench import crossing
from calib.checks.bench.blind import cannot_see
from calib.checks.bench.control import expected_of, judge_control
from calib.checks.bench.converter import (
    clipped_finding,
    copies_finding,
    pinned_finding,
    stuck_bit_finding,
)
from calib.checks.bench.gathered import Gathered, figures_of, gather
from calib.checks.bench.hands import Hand
from calib.checks.bench.noise import (
    explained_share,
    grown_finding,
    hum_finding,
    supply_noise_finding,
)
from calib.checks.bench.signals import Signal, signals_of
from calib.checks.bench.supply import supply_figures, supply_findings
from calib.checks.bench.switches import switch_findings
from calib.checks.bench.thermal import absurd_finding, apart_finding, temperature_of
from calib.checks.bench.tracks import tracks_finding
from calib.checks.bench.truth import scale_finding
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
    then = figures_of(earlier)
    evidence = gather(signals_of(capture, rig), then)
    figures: dict[str, CheckFigures] = {}
    found = whole_findings(capture, evidence.signals, compared=earlier is not None)
    found.extend(_controls(evidence, figures))
    found.extend(_others(evidence, figures, settings))
    found.extend(_crossings(evidence, figures))
    ordered = in_order(found)
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


def _controls(evidence: Gathered, figures: dict[str, CheckFigures]) -> list[Finding]:
    found: list[Finding] = []
    for hand in evidence.hands:
        name = hand.name
        checked = judge_control(
            evidence.signals,
            hand,
            evidence.noises[name],
            evidence.still[name],
            evidence.then.get(name),
            evidence.supply_V(name),
            [press for other in evidence.hands if other is not hand for press in other.presses],
        )
        figures[name] = _with_repeats(checked.figures, hand.signal, evidence)
        told = {"frozen"} if name in evidence.frozen else set()
        found.extend(each for each in checked.findings if each.code not in told)
    return found


def _with_repeats(figures: CheckFigures, signal: Signal, evidence: Gathered) -> CheckFigures:
    raw = signal.raw[evidence.quiet]
    repeats = float(np.mean(raw[1:] == raw[:-1])) if raw.size > 1 else None
    return msgspec.structs.replace(figures, repeats=repeats)


def _others(
    evidence: Gathered, figures: dict[str, CheckFigures], settings: CheckSettings
) -> list[Finding]:
    signals = evidence.signals
    for signal in signals.by_name.values():
        if signal.name not in figures:
            figures[signal.name] = _still_figures(signal, evidence)
    found: list[Finding] = []
    found.extend(copies_finding(first, signals.by_name[n]) for n, first in evidence.copied.items())
    found.extend(evidence.frozen.values())
    idle = (pinned_finding(each) for each in signals.with_role("pitch", "roll", "other"))
    found.extend(each for each in idle if each is not None)
    for hand in evidence.hands:
        stuck = stuck_bit_finding(hand.signal) if hand.answered or hand.half else None
        if stuck is not None:
            found.append(stuck)
    found.extend(_supply_findings(evidence, figures))
    found.extend(_noise_findings(evidence))
    found.extend(_temperature_findings(evidence, settings))
    for name, switch in evidence.switches.items():
        known = evidence.then.get(name)
        then_on = None if known is None or known.rest is None else bool(known.rest.mean)
        found.extend(
            switch_findings(
                signals.by_name[name], switch, asked=not settings.quick, then_on=then_on
            )
        )
    return found


def _still_figures(signal: Signal, evidence: Gathered) -> CheckFigures:
    """Figures of a channel that nobody works: its level over all of the rest."""
    if signal.name in evidence.switches:
        on = float(evidence.switches[signal.name].starts_on)
        return CheckFigures(unit="", rest=CheckLevel(mean=on, sd=0.0, u=0.0, stays=1))
    values = signal.values[evidence.quiet]
    if not values.size:
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


def _supply_findings(evidence: Gathered, figures: dict[str, CheckFigures]) -> list[Finding]:
    signals = evidence.signals
    found: list[Finding] = []
    for rail in signals.with_role("supply"):
        found.extend(supply_findings(rail, supply_figures(signals, rail)))
        clipped = clipped_finding(
            rail, rail.raw[evidence.quiet], where="all the time", severity=Severity.CAUTION
        )
        if clipped is not None:
            found.append(clipped)
        independent = [
            each
            for each in signals.with_role("pitch", "roll", "other")
            if each.unit == "V" and each.channel.supply is None
        ]
        scale = scale_finding(rail, independent, figures, evidence.then)
        if scale is not None:
            found.append(scale)
    return found


def _noise_findings(evidence: Gathered) -> list[Finding]:
    noises = evidence.noises
    found: list[Finding] = []
    humming = [name for name, noise in noises.items() if noise.hums]
    for rail in evidence.signals.with_role("supply"):
        noise = noises[rail.name]
        if noise.grown and not (noise.hums and len(humming) > 1):
            followers = [
                hand.name
                for hand in evidence.hands
                if hand.signal.channel.supply == rail.name
                and 100.0 * explained_share(hand.signal.values, rail.values, evidence.quiet)
                > limit("common_pct")
            ]
            found.append(supply_noise_finding(rail, noise, followers))
    for noise in noises.values():
        if noise.signal.role == "supply" and not noise.hums:
            continue
        if noise.hums and (noise.hum_explains or len(humming) > 1):
            found.append(hum_finding(noise, humming))
        elif noise.grown:
            found.append(grown_finding(noise))
    return found


def _temperature_findings(evidence: Gathered, settings: CheckSettings) -> list[Finding]:
    then = {name: figures.degC for name, figures in evidence.then.items()}
    read = [
        temperature
        for signal in evidence.signals.with_role("temperature", "ambient")
        if (temperature := temperature_of(signal, then.get(signal.name))) is not None
    ]
    absurd = {each.signal.name: absurd_finding(each) for each in read}
    found = [finding for finding in absurd.values() if finding is not None]
    cold = settings.condition is not None and COLD_WORD in settings.condition.casefold()
    apart = apart_finding([t for t in read if absurd[t.signal.name] is None], cold=cold)
    return found if apart is None else [*found, apart]


def _crossings(evidence: Gathered, figures: dict[str, CheckFigures]) -> list[Finding]:
    hands = [hand for hand in evidence.hands if hand.name not in evidence.copied]
    then = {n: e for n, f in evidence.then.items() if (e := expected_of(f)) is not None}
    now = {n: e for n, f in figures.items() if (e := expected_of(f)) is not None}
    found: list[Finding] = []
    names = [hand.name for hand in hands]
    pair = crossing.swapped(names, crossing.turns(evidence.works), now, then)
    if pair is not None:
        found.extend(crossing.swapped_findings(pair, compared=set(pair) <= set(then)))
    for first, second in combinations(hands, 2):
        if _same_control(first, second):
            apart = tracks_finding(evidence.signals, first, second, now)
            found.extend([] if apart is None else [apart])
            continue
        together = crossing.joined(evidence.works, first, second, then)
        if together is not None:
            found.append(together)
            continue
        for worked, other in ((first, second), (second, first)):
            if other.answered:
                talk = crossing.cross_talk(evidence.works, worked, other, evidence.signals.rate_hz)
                if talk is not None:
                    found.append(talk)
    found.extend(_load_shifts(evidence, hands))
    return found


def _same_control(first: Hand, second: Hand) -> bool:
    """Whether two channels are the two tracks of one control."""
    return (
        first.signal.channel.second_track == second.name
        or second.signal.channel.second_track == first.name
    )


def _load_shifts(evidence: Gathered, hands: list[Hand]) -> list[Finding]:
    found = []
    for name, switch in evidence.switches.items():
        current_A = evidence.signals.by_name[name].channel.current_A
        for hand in hands:
            shift = crossing.load_shift(evidence.signals, hand, switch, name, current_A)
            if shift is not None:
                found.append(shift)
    return found


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
