"""The values to type in, with what they rest on: allowance, whose volts, what would help."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from calib.checks.limits import limit
from calib.checks.travel.trued_range import outside_findings
from calib.controls.allowance import AllowedLevel, allow, limit_after, limit_remedied
from calib.controls.deadband import DeadBand, dead_band
from calib.controls.fault_window import FaultWindow, fault_window
from calib.controls.scale_budget import (
    TEMPERATURE_SPAN_K,
    ScaleKnowledge,
    level_budget,
    scale_components,
)
from calib.controls.shown_scale import ShownScale, disagreements, shown_scale
from calib.controls.supply import Supply
from calib.controls.travel import LevelMeasurement, TravelMeasurement
from calib.errors import UsageError
from calib.measure.uncertainty import budget
from calib.store.capture import Capture
from calib.store.columns import has_column, in_base_unit
from calib.store.conversion import rails
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel, Rig

Basis = Literal["logger", "controller"]

MORE_PRESSES = 10
"""Own choice, because a person will do ten presses and not thirty."""

WORTH_STEPS = 1.0
"""Own choice: a gain of less than one step of the controller is not worth an evening."""


@dataclass(frozen=True)
class NumberSettings:
    """What the person may set about the numbers.

    Attributes:
        floor_pct: Least dead travel at rest, per cent of the span.
        shown_rest_V: What the controller shows at rest; None if it was not typed in.
        shown_full_V: What the controller shows at full travel; None if it was not typed in.
        shown_step_V: Step of the controller's display; None for the setting step.
        temperature_span_K: Half the temperature range that the limits shall hold for.
    """

    floor_pct: float = 3.0
    shown_rest_V: float | None = None
    shown_full_V: float | None = None
    shown_step_V: float | None = None
    temperature_span_K: float = TEMPERATURE_SPAN_K


@dataclass(frozen=True)
class TravelNumbers:
    """The values and what they rest on.

    Attributes:
        rest: Rest with its allowance, in the logger's volts.
        full: Full travel with its allowance, in the logger's volts.
        band: The dead band in the volts of `basis`; None where there is no travel left.
        window: The fault window in the volts of `basis`; None where a limit is unknown.
        basis: Whose volts the band and the window are in.
        shown: The map to the controller's volts; None where the basis is the logger.
        supply: What feeds the sensor.
        advice: What would shrink the limit, in sentences.
        findings: What is odd about the numbers.
    """

    rest: AllowedLevel
    full: AllowedLevel
    band: DeadBand | None
    window: FaultWindow | None
    basis: Basis
    shown: ShownScale | None
    supply: Supply
    advice: tuple[str, ...]
    findings: tuple[Finding, ...]


def require_both_shown(settings: NumberSettings) -> None:
    """Refuse one shown value without the other, since one point makes no scale.

    Raises:
        UsageError: Only one was given.
    """
    if (settings.shown_rest_V is None) != (settings.shown_full_V is None):
        raise UsageError(
            "Only one of --shown-rest and --shown-full was given.",
            "Read the controller's display at rest and at full travel, and give both.",
        )


def travel_numbers(
    measured: TravelMeasurement,
    rest: LevelMeasurement,
    full: LevelMeasurement,
    rig: Rig,
    channel: str,
    settings: NumberSettings,
    capture: Capture,
) -> TravelNumbers:
    """Dead band and fault window of a measured control, with findings and advice.

    Args:
        measured: The travel.
        rest: Its rest level.
        full: Its full level.
        rig: For the controller's step and the channel's scale.
        channel: The control.
        settings: What the person set.
        capture: For the supply channel, where there is one.
    """
    about = rig.channel(channel)
    supply = supply_of(rig, channel, capture)
    knowledge = scale_knowledge(rig, about, settings, supply, rest.spread.lsb)
    shown = _shown(rest, full, rig, settings)
    rest_a, full_a = (_allowed(level, knowledge, shown) for level in (rest, full))
    outside = tuple(
        _impossible_findings(rest, full, supply) or _outside_findings(rest_a, full_a, supply)
    )
    band = None if outside else _band(rest_a, full_a, shown, rig, settings)
    return TravelNumbers(
        rest=rest_a,
        full=full_a,
        band=band,
        window=None if outside else _window(rest_a, full_a, shown, rig, about, supply),
        basis="logger" if shown is None else "controller",
        shown=shown,
        supply=supply,
        advice=tuple(_advice(measured, rest, rest_a, band, rig)),
        findings=(
            *outside,
            *_supply_findings(supply),
            _temperature_finding(settings),
            *_shown_findings(shown, knowledge, settings, limit("scales_far_pct", about)),
            *(outside_findings(about, rest_a, full_a, band) if shown is None else ()),
        ),
    )


def supply_of(rig: Rig, channel: str, capture: Capture) -> Supply:
    """What feeds a control's sensor: the median of its logged rail, else as stated, else assumed.

    Outermost thousandths of the rail's readings aside.
    """
    about = rig.channel(channel)
    if about.supply is not None and has_column(capture.columns, rig, about.supply):
        rail = in_base_unit(capture, rig, about.supply)
        rail = rail[np.isfinite(rail)]
        if rail.size and float(np.median(rail)) > 0.0:
            low, middle, high = (float(v) for v in np.quantile(rail, [0.001, 0.5, 0.999]))
            return Supply(middle, "logged", 50.0 * (high - low) / middle)
    if about.supply_V is not None:
        return Supply(about.supply_V, "stated")
    return Supply()


def scale_knowledge(
    rig: Rig, about: Channel, settings: NumberSettings, supply: Supply, step_V: float
) -> ScaleKnowledge:
    """What the rig file, the supply and the readings' own step say of a channel's scale."""
    return ScaleKnowledge(
        trued=about.scale,
        reference_pct=about.reference_tolerance_pct,
        divider=about.divider,
        divider_pct=about.divider_tolerance_pct,
        source_ohm=about.source_ohm,
        leak_ohm=about.leak_ohm,
        controller_step_V=rig.rig.setting_step_V,
        step_V=step_V,
        nonlinearity_lsb=about.nonlinearity_lsb,
        supply=supply,
        temperature_span_K=settings.temperature_span_K,
        in_counts=about.unit == "count",
    )


def _shown(
    rest: LevelMeasurement, full: LevelMeasurement, rig: Rig, settings: NumberSettings
) -> ShownScale | None:
    if settings.shown_rest_V is None or settings.shown_full_V is None:
        return None
    return shown_scale(
        rest_V=rest.mean,
        full_V=full.mean,
        shown_rest_V=settings.shown_rest_V,
        shown_full_V=settings.shown_full_V,
        shown_step_V=settings.shown_step_V or rig.rig.setting_step_V,
        u_rest_V=rest.spread.sd_means,
        u_full_V=full.spread.sd_means,
    )


def _allowed(
    level: LevelMeasurement, knowledge: ScaleKnowledge, shown: ShownScale | None
) -> AllowedLevel:
    """A level with its allowance; the controller's display stands for the logger's whole scale."""
    whole = level_budget(level.spread, knowledge)
    if shown is not None:
        display = shown.display_component(level.mean)
        own = {part.source for part in scale_components(level.mean, knowledge)}
        whole = budget([*(part for part in whole.components if part.source not in own), display])
    return allow(level, whole)


def _band(
    rest: AllowedLevel,
    full: AllowedLevel,
    shown: ShownScale | None,
    rig: Rig,
    settings: NumberSettings,
) -> DeadBand | None:
    turned = full.mean_V < rest.mean_V
    volts = [
        rest.mean_V,
        full.mean_V,
        rest.low_V if turned else rest.high_V,
        full.high_V if turned else full.low_V,
    ]
    if shown is not None:
        volts = [shown.shown(value) for value in volts]
    return dead_band(
        rest_V=volts[0],
        full_V=volts[1],
        rest_limit_V=volts[2],
        full_limit_V=volts[3],
        floor_pct=settings.floor_pct,
        step_V=rig.rig.setting_step_V,
    )


def _window(
    rest: AllowedLevel,
    full: AllowedLevel,
    shown: ShownScale | None,
    rig: Rig,
    about: Channel,
    supply: Supply,
) -> FaultWindow:
    ends = rails(about)
    logged: list[float | None] = [
        min(rest.low_V, full.low_V),
        max(rest.high_V, full.high_V),
        *(about.output_range_V or (None, None)),
        None if ends is None else max(ends),
        supply.volts if supply.origin == "logged" else None,
    ]
    if shown is not None:
        logged = [None if volts is None else shown.shown(volts) for volts in logged]
    lowest, highest, out_low, out_high, most_readable, rail = logged
    return fault_window(
        lowest_V=0.0 if lowest is None else lowest,
        highest_V=supply.volts if highest is None else highest,
        supply_V=supply.volts if rail is None else rail,
        step_V=rig.rig.setting_step_V,
        output_range_V=None if out_low is None or out_high is None else (out_low, out_high),
        most_readable_V=most_readable,
    )


def _impossible_findings(
    rest: LevelMeasurement, full: LevelMeasurement, supply: Supply
) -> list[Finding]:
    """Levels that the supply cannot bring about: a scale is wrong, and nothing is known."""
    levels = (("Rest", rest.mean), ("Full travel", full.mean))
    return [
        said.unknown("level-impossible", mean_V, word=word, beyond=supply.beyond(mean_V))
        for word, mean_V in levels
        if not supply.holds(mean_V)
    ]


def _outside_findings(rest: AllowedLevel, full: AllowedLevel, supply: Supply) -> Iterator[Finding]:
    """Limits on the side of the travel that no wire can read: they are unknown, with the reason."""
    turned = full.mean_V < rest.mean_V
    for word, level, upper in (("rest", rest, not turned), ("full travel", full, turned)):
        limit_V = level.high_V if upper else level.low_V
        if not supply.holds(limit_V):
            yield said.unknown(
                "limit-outside", float(level.mean_V), word=word, beyond=supply.beyond(limit_V)
            )


def _temperature_finding(settings: NumberSettings) -> Finding:
    """What ± K on the page means."""
    span_K = settings.temperature_span_K
    return said.passes("temperature-span", span_K)


def _supply_findings(supply: Supply) -> Iterator[Finding]:
    """That nobody said what feeds the sensor."""
    if supply.origin == "assumed":
        yield said.passes("supply-assumed", supply.volts)


def _advice(
    measured: TravelMeasurement,
    rest: LevelMeasurement,
    allowed: AllowedLevel,
    band: DeadBand | None,
    rig: Rig,
) -> Iterator[str]:
    """What would move the rest limit by a step of the controller or more."""
    upper = not measured.reversed
    now_V = allowed.high_V if upper else allowed.low_V
    verb = "falls" if upper else "rises"
    worth_V = WORTH_STEPS * rig.rig.setting_step_V
    gains = []
    best = allowed.budget.of_kind("B").best_remedy()
    if best is not None:
        then_V = limit_remedied(rest, allowed.budget, upper=upper)
        gains.append((abs(now_V - then_V), f"{best.remedy}", then_V))
    # where evenings make the limit, more presses on one of them move next to nothing
    if measured.press_count < MORE_PRESSES and rest.limits.method != "evenings":
        plateaus = rest.plateaus + MORE_PRESSES - measured.press_count
        then_V = limit_after(rest, allowed.budget, plateaus=plateaus, upper=upper)
        gains.append((abs(now_V - then_V), "ten presses", then_V))
    worthy = sorted((gain for gain in gains if gain[0] >= worth_V), key=lambda gain: -gain[0])
    for _, what, then_V in worthy:
        yield (
            f"{what[0].upper()}{what[1:]}: the limit of rest {verb} from {now_V:.2f} to "
            f"{then_V:.2f} V (logger's volts)."
        )
    if band is not None and band.start_decided_by == "floor" and worthy:
        yield "The least share (--floor-pct) set the start: a nearer limit would not move it."


def _shown_findings(
    shown: ShownScale | None,
    knowledge: ScaleKnowledge,
    settings: NumberSettings,
    far_pct: float,
) -> Iterator[Finding]:
    """Whether the controller's own volts and the logger's can be reconciled."""
    if shown is None:
        if settings.shown_rest_V is not None:
            yield said.unknown("shown-values-odd")
        return
    u_rest, u_full = (
        budget(scale_components(level_V, knowledge)).u for level_V in (shown.rest_V, shown.full_V)
    )
    for one in disagreements(shown, u_logger_rest_V=u_rest, u_logger_full_V=u_full):
        level_V = shown.rest_V if one.at == "rest" else shown.full_V
        far = abs(one.difference_V) > far_pct / 100.0 * level_V
        yield said.finding(
            Severity.UNKNOWN if far else Severity.CAUTION,
            "scales-disagree",
            one.difference_V,
            one.allowed_V,
            at=one.at,
        )
