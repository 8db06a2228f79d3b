"""The bench check: a capture of rest, presses, switches and flexing, judged channel by channel."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from calib.checks.bench import converter
from calib.checks.bench.control import judge_control
from calib.checks.bench.crossing import crossing_findings
from calib.checks.bench.gathered import Gathered
from calib.checks.bench.noise import noise_findings
from calib.checks.bench.signals import Signal, signals_of
from calib.checks.bench.supply import supply_findings
from calib.checks.bench.switches import standing_findings, switch_findings
from calib.checks.bench.thermal import temperature_findings, temperature_of
from calib.checks.bench.truth import renumbered_findings, scale_findings
from calib.checks.bench.whole import cannot_see, whole_findings
from calib.checks.limits import refuse_unknown_limits
from calib.checks.order import judged
from calib.store.capture import Capture
from calib.store.documents import said
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
    signals = signals_of(capture, rig)
    seen = Gathered(signals, _on_record(earlier))
    controls = {hand.name: judge_control(seen, hand) for hand in seen.hands}
    figures = {
        name: controls[name][0] if name in controls else _still_figures(signal, seen)
        for name, signal in signals.by_name.items()
    }
    findings = [
        *whole_findings(capture, rig, signals, compared=earlier is not None),
        *renumbered_findings(signals, seen.then),
        *(finding for _, findings in controls.values() for finding in findings),
        *_number_findings(seen),
        *_supply_findings(seen, figures),
        *noise_findings(seen.noises, seen.hands, seen.quiet),
        *_temperature_findings(seen, settings),
        *_switch_findings(seen, settings),
        *crossing_findings(seen, figures),
    ]
    head = judged(findings, cautions, capture.ref(), Severity.PASS)
    return CheckDocument(
        **head,
        channels={
            name: _channel(channel.role, name, head["findings"], figures.get(name))
            for name, channel in rig.channels.items()
        },
        compared_with=None if earlier is None else earlier.id,
        quick=settings.quick,
        condition=settings.condition,
        cannot_see=tuple(cannot_see(signals)),
    )


def _on_record(earlier: Record | None) -> dict[str, CheckFigures]:
    """Figures on record by channel; none without a record of a check."""
    if earlier is None or not isinstance(earlier.document, CheckDocument):
        return {}
    channels = earlier.document.channels
    return {name: each.figures for name, each in channels.items() if each.figures is not None}


def _still_figures(signal: Signal, seen: Gathered) -> CheckFigures:
    """Figures of a channel that nobody works: its level over all of the rest."""
    if signal.name in seen.switches:
        on = float(seen.switches[signal.name].starts_on)
        return CheckFigures(unit="", rest=CheckLevel(mean=on, sd=0.0, u=0.0, stays=1))
    values = signal.values[seen.quiet]
    if not values.size or signal.role == "wheel":
        return CheckFigures(unit=signal.unit)
    noise = seen.noises.get(signal.name)
    sd = noise.now.sd if noise is not None else float(values.std())
    temperature = temperature_of(signal) if signal.role in ("temperature", "ambient") else None
    degC = None if temperature is None else temperature.degC
    return CheckFigures(
        unit=signal.unit,
        rest=CheckLevel(mean=float(values.mean()), sd=0.0, u=sd / math.sqrt(values.size), stays=1),
        noise=sd,
        repeats=seen.repeats(signal),
        hum=noise.now.hum if noise is not None else None,
        degC=degC if degC is not None and math.isfinite(degC) else None,
    )


def _number_findings(seen: Gathered) -> Iterator[Finding]:
    """What is wrong with a channel's numbers as such, whatever they measure."""
    signals = seen.signals
    for signal in signals.by_name.values():
        yield from converter.unit_findings(signal)
    for name, original in seen.copied.items():
        yield said.fail("multiplexer-stuck", channel=name, name=original.name)
    for name in seen.frozen:
        still, most_s = seen.still[name], signals.by_name[name].limit("frozen_s")
        yield said.fail("frozen", still.run_s, most_s, channel=name, count=still.count)
    for signal in signals.with_role("pitch", "roll", "other"):
        yield from converter.pinned_findings(signal)
    for signal in signals.with_role("wheel"):
        yield from standing_findings(signal)
    for hand in seen.hands:  # one that seems not to answer may miss just that bit
        yield from converter.stuck_bit_findings(hand.signal)


def _supply_findings(seen: Gathered, figures: Mapping[str, CheckFigures]) -> Iterator[Finding]:
    """Whether a supply is as it should be, and whether it is the supply that changed."""
    independent = [
        each
        for each in seen.signals.with_role("pitch", "roll", "other")
        if each.unit == "V" and each.channel.supply is None
    ]
    for name, supply in seen.rails.items():
        rail = seen.signals.by_name[name]
        at_rest = rail.raw[seen.quiet]
        yield from converter.clipped_findings(
            rail, at_rest, where="all the time", severity=Severity.CAUTION
        )
        if not converter.is_clipped(rail, at_rest):  # else its level is not known
            yield from supply_findings(rail, supply)
        yield from scale_findings(rail, independent, figures, seen.then)


def _temperature_findings(seen: Gathered, settings: CheckSettings) -> Iterator[Finding]:
    then = {name: figures.degC for name, figures in seen.then.items()}
    sensors = seen.signals.with_role("temperature", "ambient")
    read = [temperature_of(signal, then.get(signal.name)) for signal in sensors]
    cold = settings.condition is not None and COLD_WORD in settings.condition.casefold()
    yield from temperature_findings([each for each in read if each is not None], cold=cold)


def _switch_findings(seen: Gathered, settings: CheckSettings) -> Iterator[Finding]:
    for name, switch in seen.switches.items():
        then = seen.then.get(name)
        then_on = None if then is None or then.rest is None else bool(then.rest.mean)
        signal = seen.signals.by_name[name]
        yield from switch_findings(signal, switch, asked=not settings.quick, then_on=then_on)


def _channel(
    role: str, name: str, findings: tuple[Finding, ...], figures: CheckFigures | None
) -> ChannelCheck:
    own = tuple(finding for finding in findings if finding.channel == name)
    verdict = worst([Severity.PASS, *(finding.severity for finding in own)])
    return ChannelCheck(verdict=verdict, role=role, findings=own, figures=figures)
