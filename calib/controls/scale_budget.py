"""What may be wrong with the logger's volts, beyond what repetition shows."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from calib.controls.supply import Supply
from calib.controls.trued import doubt_outside_V, outside_V, trued_u
from calib.measure.spread import LevelSpread
from calib.measure.uncertainty import Budget, Component, budget, rectangular_u, step_u
from calib.store.rig import UNTRUED_PCT, Scale
from calib.store.text import counted

# Ordinary resistors; common practice, no source.
DIVIDER_PCT = 1.0
# Own choice where no supply channel is logged: a regulated 5 V rail under a changing load.
SUPPLY_PCT = 0.5
# Own choice, because a garage evening is warmer or colder by that much than the ride; wider with
# `--temperature-span`.
TEMPERATURE_SPAN_K = 5.0
# Magnets of Hall controls lose 0.1 to 0.2 % a kelvin (from memory) of what they add to or take
# from the middle of the supply.
TEMPERATURE_PCT_PER_K = 0.15
# Own choice where a rig file states none: converters of common microcontrollers are specified to
# bow by 0.5 to 2 steps (their data sheets).
NONLINEARITY_LSB = 1.0
# Own choice: a source below a microvolt is no line of a budget.
NEGLIGIBLE_V = 1e-6
# A hand-held multimeter that is neither good nor bad (own choice): what truing would leave.
METER_PCT = 0.5


@dataclass(frozen=True)
class ScaleKnowledge:
    """What is known of a channel's scale; None means that the rig file does not say.

    Attributes:
        trued: Result of truing, which then stands for reference, divider and loading.
        reference_pct: Tolerance of the reference, per cent.
        divider: Volts at the wire over volts at the pin.
        divider_pct: Tolerance of the divider's resistors, per cent.
        source_ohm: Resistance that feeds the pin.
        leak_ohm: Resistance of the pin to ground.
        controller_step_V: Step in which the controller reads or is set, V.
        step_V: Step in which readings come at the wire, V; 0 where none is seen.
        nonlinearity_lsb: How far the converter bows, in its steps.
        supply: The sensor's supply.
        temperature_span_K: Half the temperature range that the limits shall hold for, K.
        in_counts: Whether the readings are counts, so that a reference is in play.
    """

    trued: Scale | None = None
    reference_pct: float | None = None
    divider: float = 1.0
    divider_pct: float | None = None
    source_ohm: float | None = None
    leak_ohm: float | None = None
    controller_step_V: float = 0.0
    step_V: float = 0.0
    nonlinearity_lsb: float | None = None
    supply: Supply = field(default_factory=Supply)
    temperature_span_K: float = TEMPERATURE_SPAN_K
    in_counts: bool = True


def level_budget(spread: LevelSpread, knowledge: ScaleKnowledge) -> Budget:
    """Uncertainty budget of one mean level, in V, largest first.

    Args:
        spread: The level's plateaus.
        knowledge: What is known of the scale.

    Returns:
        Type A from the plateaus, type B from everything else.

    Source: JCGM 100, 4.2 and 4.3; each half-width as named beside its constant.
    """
    level_V, count = spread.mean, spread.plateaus
    repetition_V = spread.sd_means if count > 1 else spread.sd_residual
    parts = [
        Component(
            f"repetition over {counted(count, 'plateau')}",
            repetition_V / math.sqrt(max(count, 1)),
            "A",
            dof=max(count - 1.0, 1.0),
        ),
        Component("logger's step", spread.step_sd, "B"),
        *scale_components(level_V, knowledge),
        *sensor_components(level_V, knowledge),
    ]
    return budget(part for part in parts if part.u > NEGLIGIBLE_V)


def _stated(value: float | None, usual: float) -> tuple[float, str]:
    """A figure of the rig file, or the usual one, and how that is marked."""
    return (usual, ", assumed") if value is None else (value, "")


def scale_components(level_V: float, knowledge: ScaleKnowledge) -> Iterator[Component]:
    """What the logger may read wrongly at a level, V."""
    bow, assumed = _stated(knowledge.nonlinearity_lsb, NONLINEARITY_LSB)
    bows = f"converter bows by ±{bow:g} step{'' if bow == 1.0 else 's'}{assumed}"
    yield Component(bows, rectangular_u(bow * knowledge.step_V), "B")
    trued = knowledge.trued
    if trued is not None:
        yield Component("truing of the logger", trued_u(level_V, trued), "B")
        yield Component(
            f"{outside_V(level_V, trued):.2f} V beyond what was trued",
            rectangular_u(doubt_outside_V(level_V, trued)),
            "B",
            remedy=f"true the logger with 'calib meter' as far as {level_V:.2f} V",
        )
        return
    remedy = "hold the logger against a multimeter with 'calib meter', then measure again"
    word = "reference" if knowledge.in_counts else "logger's volts"
    pct, assumed = _stated(knowledge.reference_pct, UNTRUED_PCT)
    yield Component(
        f"{word} ±{pct:g} %{assumed}",
        rectangular_u(pct / 100.0 * level_V),
        "B",
        remedy=remedy,
        u_remedied=rectangular_u(METER_PCT / 100.0 * level_V),
    )
    if knowledge.divider != 1.0:
        pct, assumed = _stated(knowledge.divider_pct, DIVIDER_PCT)
        share = (1.0 - 1.0 / knowledge.divider) * math.sqrt(2.0)
        u_V = rectangular_u(pct / 100.0 * level_V) * share
        yield Component(f"divider resistors ±{pct:g} %{assumed}", u_V, "B", remedy=remedy)
    if knowledge.source_ohm is not None and knowledge.leak_ohm is not None:
        loading = knowledge.source_ohm / (knowledge.source_ohm + knowledge.leak_ohm)
        u_V = rectangular_u(loading * level_V)
        yield Component("loading by the logger's input", u_V, "B", remedy=remedy)


def sensor_components(level_V: float, knowledge: ScaleKnowledge) -> Iterator[Component]:
    """What the sensor and the controller may do otherwise on another day, V."""
    supply = knowledge.supply
    stated = supply.half_range_pct
    pct, origin = (SUPPLY_PCT, "assumed") if stated is None else (stated, "as logged")
    u_V = rectangular_u(pct / 100.0 * level_V)
    yield Component(f"sensor supply ±{pct:.2g} %, {origin}", u_V, "B")
    yield Component("controller's step", step_u(knowledge.controller_step_V), "B")
    span_K = knowledge.temperature_span_K
    half_V = TEMPERATURE_PCT_PER_K / 100.0 * span_K * abs(level_V - 0.5 * supply.volts)
    yield Component(f"temperature anywhere within ±{span_K:g} K", rectangular_u(half_V), "B")
