"""The values to type in, with what they rest on: allowance, whose volts, what would help."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from calib.controls.scale_budget import (
    TEMPERATURE_SPAN_K,
    AllowedLevel,
    ScaleKnowledge,
    level_budget,
    scale_components,
)
from calib.controls.shown_scale import ShownEnd, ShownScale, shown_scale
from calib.controls.supply import Supply
from calib.controls.travel import LevelMeasurement, TravelMeasurement, measure_travel
from calib.controls.values import FaultWindow, dead_band, fault_window
from calib.errors import UsageError
from calib.measure.uncertainty import budget
from calib.store.capture import Capture
from calib.store.columns import has_column, in_base_unit, received
from calib.store.conversion import rails, step_in
from calib.store.documents.travel import DeadBand
from calib.store.rig import Rig

MORE_PRESSES = 10
"""Own choice, because a person will do ten presses and not thirty."""

WORTH_STEPS = 1.0
"""Own choice: a gain of less than one step of the controller is not worth an evening."""


@dataclass(frozen=True)
class TravelSettings:
    """What the person may set.

    Attributes:
        content: Share of future readings that each limit shall hold.
        confidence: Confidence of that promise.
        presses: Full presses that are wanted.
        floor_pct: Least dead travel at rest, per cent of the span.
        shown_rest_V: What the controller shows at rest; None if it was not typed in.
        shown_full_V: What the controller shows at full travel; None if it was not typed in.
        shown_step_V: Step of the controller's display; None for the setting step.
        temperature_span_K: Half the temperature range that the limits shall hold for.
    """

    content: float = 0.999
    confidence: float = 0.95
    presses: int = 5
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
        band: The dead band in the volts of `basis`; None where there is no travel left, or a limit
            lies where no wire can read.
        window: The fault window in the volts of `basis`; None where a limit is unknown.
        shown: The map to the controller's volts; None where the values are in the logger's.
        knowledge: What is known of the logger's scale, and what feeds the sensor.
        advice: What would shrink the limit, in sentences.
    """

    rest: AllowedLevel
    full: AllowedLevel
    band: DeadBand | None
    window: FaultWindow | None
    shown: ShownScale | None
    knowledge: ScaleKnowledge
    advice: tuple[str, ...]

    @property
    def basis(self) -> Literal["logger", "controller"]:
        """Whose volts the band and the window are in."""
        return "logger" if self.shown is None else "controller"


def inner_limits_V(rest: AllowedLevel, full: AllowedLevel) -> tuple[float, float]:
    """The limits of both ends on the side of the travel, V."""
    turned = full.mean_V < rest.mean_V
    return rest.limit_V(upper=not turned), full.limit_V(upper=turned)


def require_both_shown(settings: TravelSettings) -> None:
    """Refuse one shown value without the other, since one point makes no scale.

    Raises:
        UsageError: Only one was given.
    """
    if (settings.shown_rest_V is None) != (settings.shown_full_V is None):
        raise UsageError.of("shown-by-halves")


def travel_numbers(
    measured: TravelMeasurement,
    rest: LevelMeasurement,
    full: LevelMeasurement,
    rig: Rig,
    channel: str,
    settings: TravelSettings,
    supply: Supply,
) -> TravelNumbers:
    """Dead band and fault window of a measured control, with advice.

    Both are None where a level or its limit on the travel's side is beyond what the supply gives.

    Args:
        measured: The travel.
        rest: Its rest level.
        full: Its full level.
        rig: For the controller's step and the channel's scale.
        channel: The control.
        settings: What the person set.
        supply: What feeds the sensor.
    """
    about, step_V = rig.channel(channel), rig.rig.setting_step_V
    knowledge = ScaleKnowledge(about, supply, rest.spread.lsb, step_V, settings.temperature_span_K)
    shown = _shown(rest, full, rig, settings)
    rest_a, full_a = (_allowed(level, knowledge, shown) for level in (rest, full))
    inner_V = inner_limits_V(rest_a, full_a)
    band = window = None
    if all(supply.holds(volts) for volts in (rest.mean, full.mean, *inner_V)):
        band = dead_band(
            rest_V=in_basis(rest_a.mean_V, shown),
            full_V=in_basis(full_a.mean_V, shown),
            rest_limit_V=in_basis(inner_V[0], shown),
            full_limit_V=in_basis(inner_V[1], shown),
            floor_pct=settings.floor_pct,
            step_V=step_V,
        )
        window = _window(rest_a, full_a, shown, knowledge)
    return TravelNumbers(
        rest=rest_a,
        full=full_a,
        band=band,
        window=window,
        shown=shown,
        knowledge=knowledge,
        advice=tuple(_advice(measured, rest_a, band, step_V)),
    )


def measured_in(
    capture: Capture, rig: Rig, channel: str, settings: TravelSettings
) -> TravelMeasurement:
    """The travel of a control, or of one of its tracks, in a capture."""
    about = rig.channel(channel)
    return measure_travel(
        capture.time_s,
        in_base_unit(capture, rig, channel),
        lsb_V=step_in(about, received(capture, rig, channel)),
        gaps=capture.gap_indices,
        content=settings.content,
        confidence=settings.confidence,
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


def _shown(
    rest: LevelMeasurement, full: LevelMeasurement, rig: Rig, settings: TravelSettings
) -> ShownScale | None:
    if settings.shown_rest_V is None or settings.shown_full_V is None:
        return None
    return shown_scale(
        ShownEnd(rest.mean, settings.shown_rest_V, rest.spread.sd_means),
        ShownEnd(full.mean, settings.shown_full_V, full.spread.sd_means),
        step_V=settings.shown_step_V or rig.rig.setting_step_V,
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
    return AllowedLevel(level, whole)


def in_basis(volts: float, shown: ShownScale | None) -> float:
    """A voltage of the logger's in the volts of the values: the controller's where it was read."""
    return volts if shown is None else shown.shown(volts)


def _window(
    rest: AllowedLevel, full: AllowedLevel, shown: ShownScale | None, knowledge: ScaleKnowledge
) -> FaultWindow:
    about, supply = knowledge.about, knowledge.supply
    ends_V, output_V = rails(about), about.output_range_V
    logged = supply.origin == "logged"
    return fault_window(
        lowest_V=in_basis(min(each.limit_V(upper=False) for each in (rest, full)), shown),
        highest_V=in_basis(max(each.limit_V(upper=True) for each in (rest, full)), shown),
        supply_V=in_basis(supply.volts, shown) if logged else supply.volts,
        step_V=knowledge.controller_step_V,
        output_range_V=None
        if output_V is None
        else (in_basis(output_V[0], shown), in_basis(output_V[1], shown)),
        most_readable_V=None if ends_V is None else in_basis(max(ends_V), shown),
    )


def _advice(
    measured: TravelMeasurement, rest: AllowedLevel, band: DeadBand | None, step_V: float
) -> Iterator[str]:
    """What would move the rest limit by a step of the controller or more."""
    upper = not measured.hand.reversed
    now_V = rest.limit_V(upper=upper)
    verb = "falls" if upper else "rises"
    gains = []
    best = rest.budget.of_kind("B").best_remedy()
    if best is not None:
        then_V = rest.limit_remedied_V(upper=upper)
        gains.append((abs(now_V - then_V), best.remedy, then_V))
    # where evenings make the limit, more presses on one of them move next to nothing
    if measured.hand.count < MORE_PRESSES and rest.level.limits.method != "evenings":
        plateaus = rest.level.spread.plateaus + MORE_PRESSES - measured.hand.count
        then_V = rest.limit_after_V(plateaus, upper=upper)
        gains.append((abs(now_V - then_V), "ten presses", then_V))
    worthy = [gain for gain in gains if gain[0] >= WORTH_STEPS * step_V]
    worthy.sort(key=lambda gain: -gain[0])
    for _, what, then_V in worthy:
        yield (
            f"{what[0].upper()}{what[1:]}: the limit of rest {verb} from {now_V:.2f} to "
            f"{then_V:.2f} V (logger's volts)."
        )
    if band is not None and band.start_decided_by == "floor" and worthy:
        yield "The least share (--floor-pct) set the start: a nearer limit would not move it."
