"""The bench check: a capture of rest, presses, switches and flexing, judged channel by channel."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from calib.checks import crossing
from calib.checks.blind import cannot_see
from calib.checks.capture import capture_findings
from calib.checks.clock import clock_figures, clock_findings
from calib.checks.control import expected_of, judge_control
from calib.checks.converter import (
    Standstill,
    clipped_finding,
    copies,
    copies_finding,
    frozen_finding,
    pinned_finding,
    standstill,
    stuck_bit_finding,
)
from calib.checks.hands import Expected, Hand, Work, at_rest, mark, read_hand, works_of
from calib.checks.limits import limit, refuse_unknown_limits
from calib.checks.noise import (
    Noise,
    explained_share,
    grown_finding,
    hum_finding,
    noise_figures,
    supply_noise_finding,
)
from calib.checks.order import in_order
from calib.checks.signals import Flags, Signal, Signals, signals_of
from calib.checks.supply import (
    SupplyFigures,
    supply_figures,
    supply_findings,
    undo_factor,
    usable,
)
from calib.checks.switches import SwitchFigures, switch_figures, switch_findings
from calib.checks.thermal import absurd_finding, apart_finding, temperature_of
from calib.checks.tracks import tracks_finding
from calib.checks.truth import scale_finding
from calib.errors import PortError
from calib.store.capture import Capture
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures, CheckLevel
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.records import Record
from calib.store.rig import Rig

ANALOG_ROLES = ("control", "supply", "temperature", "ambient", "pitch", "roll", "other")
STILL_ROLES = (*ANALOG_ROLES, "accel-x", "accel-y", "accel-z", "gyro-x", "gyro-y", "gyro-z")
COLD_WORD = "cold"
LEAST_CHECK_S = 5.0
"""Shortest capture that can be a check; own choice: three seconds of rest and one press."""


@dataclass(frozen=True, slots=True)
class CheckSettings:
    """How a check was made.

    Attributes:
        quick: Rest and one press each.
        condition: What the person said of the conditions.
    """

    quick: bool = False
    condition: str | None = None


@dataclass(frozen=True)
class Evidence:
    """What the capture of a check shows, before anything is judged.

    Attributes:
        signals: All channels.
        then: Figures on record, by channel.
        copied: Channels that read the same as another one, by name.
        still: Longest run of equal readings, by channel.
        frozen: Findings on channels that stand still.
        supplies: Supplies, by channel.
        hands: Controls, in the order of the rig file.
        works: Every press.
        switches: Switches, by channel.
        quiet: Where nothing is worked.
        noises: Noise, by channel.
    """

    signals: Signals
    then: Mapping[str, CheckFigures]
    copied: Mapping[str, Signal]
    still: Mapping[str, Standstill]
    frozen: Mapping[str, Finding]
    supplies: Mapping[str, SupplyFigures]
    hands: tuple[Hand, ...]
    works: tuple[Work, ...]
    switches: Mapping[str, SwitchFigures]
    quiet: Flags = field(repr=False)
    noises: Mapping[str, Noise]

    def supply_V(self, name: str) -> float | None:
        """Mean of the supply of a channel, V; None where it is not logged or cannot be used."""
        rail = self.signals.by_name[name].channel.supply
        return self.supplies[rail].mean_V if rail is not None and rail in self.supplies else None


def judge_check(
    capture: Capture,
    rig: Rig,
    cautions: tuple[str, ...],
    *,
    earlier: Record | None = None,
    settings: CheckSettings | None = None,
    cut_short: PortError | None = None,
) -> CheckDocument:
    """The document of a bench check.

    Args:
        capture: Rest, each control worked in turn, switches, flexing.
        rig: What its columns are.
        cautions: The usual cautions of the flow.
        earlier: The record to compare with; None without one.
        settings: How the check was made.
        cut_short: What broke the capture off.

    Raises:
        RigError: The rig file names a limit that does not exist.
    """
    refuse_unknown_limits(rig)
    settings = settings or CheckSettings()
    then = _figures_of(earlier)
    evidence = gather(signals_of(capture, rig), then)
    figures: dict[str, CheckFigures] = {}
    found = [*_capture(capture, cut_short), *_short(capture), *_missing(evidence.signals)]
    found.extend(_controls(evidence, figures))
    found.extend(_others(evidence, figures, settings))
    found.extend(_crossings(evidence, figures))
    if earlier is None:
        found.append(_no_record())
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


def gather(signals: Signals, then: Mapping[str, CheckFigures]) -> Evidence:
    """What a capture shows of every channel.

    Args:
        signals: All channels.
        then: Figures on record, by channel.
    """
    copied = _copied(signals)
    still = {
        signal.name: standstill(signal.raw, signals.rate_hz)
        for signal in signals.with_role(*STILL_ROLES)
    }
    frozen = _frozen(signals, still, then)
    supplies = _supplies(signals, {*copied, *frozen})
    switches = {each.name: switch_figures(signals, each) for each in signals.with_role("switch")}
    hands = _hands(signals, then, supplies, switches)
    quiet = at_rest(signals, hands)
    thrown = np.zeros(signals.time_s.shape[0], dtype=np.bool_)
    for figures in switches.values():
        mark(signals, thrown, [(t.at_s - 0.1, t.at_s + t.chatter_s + 0.1) for t in figures.throws])
    quiet &= ~thrown
    return Evidence(
        signals=signals,
        then=then,
        copied=copied,
        still=still,
        frozen=frozen,
        supplies=supplies,
        hands=hands,
        works=works_of(signals, hands),
        switches=switches,
        quiet=quiet,
        noises=_noises(signals, hands, quiet, then),
    )


def _hands(
    signals: Signals,
    then: Mapping[str, CheckFigures],
    supplies: Mapping[str, SupplyFigures],
    switches: Mapping[str, SwitchFigures],
) -> tuple[Hand, ...]:
    """Controls; what moves one while another input is worked is no drop-out of it."""
    factors = {
        name: undo_factor(signals, signals.by_name[name], figures.mean_V)
        for name, figures in supplies.items()
    }

    def read(signal: Signal, spared: Flags | None) -> Hand:
        return read_hand(
            signals,
            signal,
            factors.get(signal.channel.supply or ""),
            _expected(signal, then, supplies),
            spared=spared,
        )

    first = [read(signal, None) for signal in signals.with_role("control")]
    switched = np.zeros(signals.time_s.shape[0], dtype=np.bool_)
    for switch in switches.values():
        mark(signals, switched, [(a - 0.05, b + 0.05) for a, b in switch.on_from_to_s])
    hands = []
    for hand in first:
        if hand.drop_outs:
            spared = switched | ~at_rest(signals, [each for each in first if each is not hand])
            hand = read(hand.signal, spared)
        hands.append(hand)
    return tuple(hands)


def _figures_of(earlier: Record | None) -> dict[str, CheckFigures]:
    if earlier is None or not isinstance(earlier.document, CheckDocument):
        return {}
    return {
        name: channel.figures
        for name, channel in earlier.document.channels.items()
        if channel.figures is not None
    }


def _copied(signals: Signals) -> dict[str, Signal]:
    """Channels that read the same as one before them."""
    found: dict[str, Signal] = {}
    analog = [each for each in signals.with_role(*ANALOG_ROLES) if each.last_code is not None]
    for first, second in combinations(analog, 2):
        if first.role == second.role == "control":
            continue  # two controls may also be joined by a wire: see crossing.joined
        if second.name not in found and copies(first, second):
            found[second.name] = first
    return found


def _frozen(
    signals: Signals, still: Mapping[str, Standstill], then: Mapping[str, CheckFigures]
) -> dict[str, Finding]:
    found = {}
    for name, standing in still.items():
        known = then[name].repeats if name in then else None
        finding = frozen_finding(signals.by_name[name], standing, known)
        if finding is not None:
            found[name] = finding
    return found


def _supplies(signals: Signals, doubtful: set[str]) -> dict[str, SupplyFigures]:
    """Supplies whose readings can be used to undo their own changes."""
    found = {}
    for rail in signals.with_role("supply"):
        figures = supply_figures(signals, rail)
        if rail.name not in doubtful and usable(figures):
            found[rail.name] = figures
    return found


def _expected(
    signal: Signal, then: Mapping[str, CheckFigures], supplies: Mapping[str, SupplyFigures]
) -> Expected | None:
    """What the record says of a control, in volts at today's supply."""
    known = expected_of(then.get(signal.name))
    if known is None:
        return None
    rail = supplies.get(signal.channel.supply or "")
    if rail is None or known.supply_V is None:
        return known
    ratio = rail.mean_V / known.supply_V
    return Expected(known.rest_V * ratio, known.full_V * ratio, rail.mean_V)


def _noises(
    signals: Signals, hands: tuple[Hand, ...], quiet: Flags, then: Mapping[str, CheckFigures]
) -> dict[str, Noise]:
    # Without a press and without a record, the span is only that of the noise itself.
    spans = {hand.name: hand.span_V for hand in hands if hand.answered or hand.name in then}
    spans |= {rail.name: float(np.median(rail.values)) for rail in signals.with_role("supply")}
    dropped = {hand.name: np.isfinite(hand.volts) for hand in hands}
    found = {}
    for signal in signals.with_role(*ANALOG_ROLES):
        calm = quiet & dropped[signal.name] if signal.name in dropped else quiet
        now = noise_figures(signal.values, calm, signals.rate_hz, signal.step)
        known = then.get(signal.name)
        found[signal.name] = Noise(
            signal=signal,
            now=now,
            then_sd=known.noise if known is not None else None,
            then_hum=known.hum if known is not None else None,
            span=spans.get(signal.name, 0.0),
        )
    return found


def _capture(capture: Capture, cut_short: PortError | None) -> list[Finding]:
    timed = clock_findings(clock_figures(capture.time_s, capture.arrival_s, capture.events))
    told = {"gaps", "logger-reset"} if timed else set()
    return [*timed, *(f for f in capture_findings(capture, cut_short) if f.code not in told)]


def _short(capture: Capture) -> list[Finding]:
    """A capture in which no check can have taken place."""
    length_s = float(capture.time_s[-1] - capture.time_s[0]) if len(capture) else 0.0
    if length_s >= LEAST_CHECK_S:
        return []
    return [
        Finding(
            code="too-short",
            severity=Severity.UNKNOWN,
            text=f"The capture lasts {length_s:.1f} s: nobody can have worked every input in it.",
            value=length_s,
            limit=LEAST_CHECK_S,
            unit="s",
            action="Capture a whole check: rest, each control, each switch, flexing.",
        )
    ]


def _missing(signals: Signals) -> list[Finding]:
    return [
        Finding(
            code="column-missing",
            severity=Severity.UNKNOWN,
            text=f"The logger sends no column for {name}.",
            action="Mend 'column' in the rig file, or run 'calib setup'.",
            channel=name,
        )
        for name in signals.missing
    ]


def _controls(evidence: Evidence, figures: dict[str, CheckFigures]) -> list[Finding]:
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


def _with_repeats(figures: CheckFigures, signal: Signal, evidence: Evidence) -> CheckFigures:
    import msgspec

    raw = signal.raw[evidence.quiet]
    repeats = float(np.mean(raw[1:] == raw[:-1])) if raw.size > 1 else None
    return msgspec.structs.replace(figures, repeats=repeats)


def _others(
    evidence: Evidence, figures: dict[str, CheckFigures], settings: CheckSettings
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


def _still_figures(signal: Signal, evidence: Evidence) -> CheckFigures:
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


def _supply_findings(evidence: Evidence, figures: dict[str, CheckFigures]) -> list[Finding]:
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


def _noise_findings(evidence: Evidence) -> list[Finding]:
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
    for name, noise in noises.items():
        if noise.signal.role == "supply" and not noise.hums:
            continue
        if noise.hums and (noise.hum_explains or len(humming) > 1):
            found.append(hum_finding(noise, humming))
        elif noise.grown:
            found.append(grown_finding(noise))
        del name
    return found


def _temperature_findings(evidence: Evidence, settings: CheckSettings) -> list[Finding]:
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


def _crossings(evidence: Evidence, figures: dict[str, CheckFigures]) -> list[Finding]:
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


def _load_shifts(evidence: Evidence, hands: list[Hand]) -> list[Finding]:
    found = []
    for name, switch in evidence.switches.items():
        current_A = evidence.signals.by_name[name].channel.current_A
        for hand in hands:
            shift = crossing.load_shift(evidence.signals, hand, switch, name, current_A)
            if shift is not None:
                found.append(shift)
    return found


def _no_record() -> Finding:
    return Finding(
        code="no-record",
        severity=Severity.CAUTION,
        text="There is no earlier good check of this rig to compare with.",
        action="Keep this one; the next check after a rewire is compared with it.",
    )


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
