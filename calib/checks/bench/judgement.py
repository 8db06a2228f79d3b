"""The bench check: a capture of rest, presses, switches and flexing, judged channel by channel."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from calib.checks.bench import converter
from calib.checks.bench.control import judge_control
from calib.checks.bench.crossing import crossing_findings
from calib.checks.bench.gathered import Gathered
from calib.checks.bench.noise import MAINS_HZ, UNSEEN_HZ, alias_hz, noise_findings
from calib.checks.bench.signals import Floats, Signal, Signals, signals_of
from calib.checks.bench.supply import supply_findings
from calib.checks.bench.switches import standing_findings, switch_findings
from calib.checks.bench.thermal import temperature_findings, temperature_of
from calib.checks.bench.truth import renumbered_findings, scale_findings
from calib.checks.capture import line_findings
from calib.checks.limits import limit_of_all, limit_of_line, refuse_unknown_limits
from calib.checks.order import judged
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures, CheckLevel
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.records import Record
from calib.store.rig import Rig

COLD_WORD = "cold"

MISSED_STEPS = 1.5
"""Own choice: a lost line makes two steps of one, and jitter seldom half a step."""

AROUND = 40
"""Readings on each side of a step over which host and device clock are compared; own choice,
because a USB line hands over that many at a time."""

SAMPLES_OF_BOUNCE = 3.0
"""Readings that must fall into a chatter for it to be seen; own choice: with one it is luck."""

SHORTEST_DROP_OUT_S = 0.01
"""Own choice: a contact that opens for less is seldom felt at the wheel."""


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
        *whole_findings(capture, rig, signals, known=earlier is not None),
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
            name: _channel(rig.channels[name].role, name, head["findings"], figures.get(name))
            for name in rig.channels
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


def _number_findings(seen: Gathered) -> said.Findings:
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


def _supply_findings(seen: Gathered, figures: Mapping[str, CheckFigures]) -> said.Findings:
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


def _temperature_findings(seen: Gathered, settings: CheckSettings) -> said.Findings:
    then = {name: figures.degC for name, figures in seen.then.items()}
    sensors = seen.signals.with_role("temperature", "ambient")
    read = [temperature_of(signal, then.get(signal.name)) for signal in sensors]
    cold = settings.condition is not None and COLD_WORD in settings.condition.casefold()
    yield from temperature_findings([each for each in read if each is not None], cold=cold)


def _switch_findings(seen: Gathered, settings: CheckSettings) -> said.Findings:
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


def whole_findings(capture: Capture, rig: Rig, signals: Signals, *, known: bool) -> said.Findings:
    """Everything that is odd about a check whatever its channels read.

    Args:
        capture: The capture.
        rig: The rig file, whose channels share the limits of the line.
        signals: Its channels.
        known: Whether there is a record to compare with.
    """
    jump_s, missed_pct = limit_of_line("jump_s", rig), limit_of_line("missed_pct", rig)
    times_s = signals.time_s, signals.arrival_s
    yield from clock_findings(*times_s, missed_pct=missed_pct, jump_s=jump_s)
    most_pct, least_s = limit_of_line("repeated_pct", rig), limit_of_line("check_short_s", rig)
    yield from said.above("samples-repeated", signals.repeated_pct, most_pct)
    yield from line_findings(capture, rig)
    length_s = float(capture.time_s[-1] - capture.time_s[0]) if len(capture) else 0.0
    yield from said.below("too-short", length_s, least_s, Severity.UNKNOWN)
    for name in signals.missing:
        yield said.unknown("column-missing", channel=name)
    if not known:
        yield said.caution("no-record")


def clock_findings(
    time_s: Floats, arrival_s: Floats, *, missed_pct: float, jump_s: float
) -> said.Findings:
    """Missed samples and jumps of the clock.

    A long step of the device's clock is a jump when the host's clock did not see it pass.

    Args:
        time_s: Device clock, s, shape (n,).
        arrival_s: Host clock, s, shape (n,); not finite where it is unknown.
        missed_pct: Limit ``missed_pct``.
        jump_s: Limit ``jump_s``.

    Source: own choice of method.
    """
    steps_s = np.diff(time_s)
    usual_s = float(np.median(steps_s)) if steps_s.size > 1 else 0.0
    if usual_s <= 0.0:
        return
    missed, longest_s, jumps_s = 0, 0.0, []
    for place in np.flatnonzero(steps_s > MISSED_STEPS * usual_s).tolist():
        step_s = float(steps_s[place])
        ahead_s = _ahead_s(time_s, arrival_s, place)
        if ahead_s > max(jump_s, 0.5 * step_s):
            jumps_s.append(ahead_s)
            continue
        missed += round(step_s / usual_s) - 1
        longest_s = max(longest_s, step_s)
    jumps_s += steps_s[steps_s < -jump_s].tolist()
    due = len(time_s) + missed
    pct = 100.0 * missed / due
    yield from said.above(
        "samples-missed", pct, missed_pct, missed=missed, samples=due, longest_s=longest_s
    )
    if jumps_s:
        worst_s = max(abs(each_s) for each_s in jumps_s)
        yield said.caution("clock-jumps", worst_s, jump_s, jumps=len(jumps_s))


def _ahead_s(time_s: Floats, arrival_s: Floats, place: int) -> float:
    """How far the device's clock went ahead of the host's over one step, s; 0 where unknown."""
    window = slice(max(0, place + 1 - AROUND), place + 1 + AROUND)
    offset_s = time_s[window] - arrival_s[window]
    here = place + 1 - window.start
    if not np.isfinite(offset_s).all() or np.ptp(arrival_s[window]) <= 0.0:
        return 0.0
    return float(np.median(offset_s[here:]) - np.median(offset_s[:here]))


def unseen_mains_hz(rate_hz: float) -> tuple[float, ...]:
    """Mains lines that look like a level, or hang on their phase, at this rate, Hz.

    Source: sampling theorem: a multiple of the rate lands on nought, half the rate on its phase.
    """
    return tuple(
        line_hz
        for line_hz in MAINS_HZ
        if alias_hz(line_hz, rate_hz) < UNSEEN_HZ
        or abs(alias_hz(line_hz, rate_hz) - 0.5 * rate_hz) < UNSEEN_HZ
    )


def cannot_see(signals: Signals) -> Iterator[str]:
    """What is beyond this logger at its rate, one sentence each."""
    rate_hz = signals.rate_hz
    if rate_hz <= 0.0:
        yield "The rate of the readings is not known, so nothing quick can be seen."
        return
    step_ms = 1000.0 / rate_hz
    switches = [each.channel for each in signals.with_role("switch")]
    bounce_ms = limit_of_all("bounce_ms", switches)
    if switches and step_ms * SAMPLES_OF_BOUNCE > bounce_ms:
        yield (
            f"At {rate_hz:.4g} Hz a switch's chatter shorter than "
            f"{step_ms * SAMPLES_OF_BOUNCE:.0f} ms can go unseen; it takes "
            f"{1000 * SAMPLES_OF_BOUNCE / bounce_ms:.0f} Hz to judge {bounce_ms:g} ms."
        )
    unseen = unseen_mains_hz(rate_hz)
    if unseen:
        lines = ", ".join(f"{line_hz:.0f}" for line_hz in unseen)
        yield (
            f"At {rate_hz:.4g} Hz mains hum of {lines} Hz looks like a constant level, or depends "
            "on its phase: it may pass unseen."
        )
    if step_ms > 1000.0 * SHORTEST_DROP_OUT_S:
        yield f"A contact that opens for less than {step_ms:.0f} ms can fall between two readings."
    if signals.with_role("control") and not signals.with_role("supply"):
        yield "No supply is logged: a moved supply looks like moved controls."
