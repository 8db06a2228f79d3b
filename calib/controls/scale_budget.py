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
    level_V = spread.mean
    repetition_V = spread.sd_means if spread.plateaus > 1 else spread.sd_residual
    parts = [
        Component(
            source=f"repetition over {counted(spread.plateaus, 'plateau')}",
            u=repetition_V / math.sqrt(max(spread.plateaus, 1)),
            kind="A",
            dof=max(spread.plateaus - 1.0, 1.0),
        ),
        Component(source="logger's step", u=spread.step_sd, kind="B"),
        *scale_components(level_V, knowledge),
        *sensor_components(level_V, knowledge),
    ]
    return budget(part for part in parts if part.u > NEGLIGIBLE_V)


def scale_components(level_V: float, knowledge: ScaleKnowledge) -> Iterator[Component]:
    """What the logger may read wrongly at a level, V."""
    bow = knowledge.nonlinearity_lsb
    assumed = "" if bow is not None else ", assumed"
    bow = NONLINEARITY_LSB if bow is None else bow
    yield Component(
        source=f"converter bows by ±{bow:g} step{'' if bow == 1.0 else 's'}{assumed}",
        u=rectangular_u(bow * knowledge.step_V),
        kind="B",
    )
    trued = knowledge.trued
    if trued is not None:
        yield Component(source="truing of the logger", u=trued_u(level_V, trued), kind="B")
        yield Component(
            source=f"{outside_V(level_V, trued):.2f} V beyond what was trued",
            u=rectangular_u(doubt_outside_V(level_V, trued)),
            kind="B",
            remedy=f"true the logger with 'calib meter' as far as {level_V:.2f} V",
        )
        return
    remedy = "hold the logger against a multimeter with 'calib meter', then measure again"
    left_V = rectangular_u(METER_PCT / 100.0 * level_V)
    word = "reference" if knowledge.in_counts else "logger's volts"
    pct = knowledge.reference_pct
    assumed = "" if pct is not None else ", assumed"
    pct = UNTRUED_PCT if pct is None else pct
    yield Component(
        source=f"{word} ±{pct:g} %{assumed}",
        u=rectangular_u(pct / 100.0 * level_V),
        kind="B",
        remedy=remedy,
        u_remedied=left_V,
    )
    if knowledge.divider != 1.0:
        stated = knowledge.divider_pct
        pct = DIVIDER_PCT if stated is None else stated
        share = (1.0 - 1.0 / knowledge.divider) * math.sqrt(2.0)
        yield Component(
            source=f"divider resistors ±{pct:g} %{'' if stated is not None else ', assumed'}",
            u=rectangular_u(pct / 100.0 * level_V) * share,
            kind="B",
            remedy=remedy,
        )
    if knowledge.source_ohm is not None and knowledge.leak_ohm is not None:
        loading = knowledge.source_ohm / (knowledge.source_ohm + knowledge.leak_ohm)
        yield Component(
            source="loading by the logger's input",
            u=rectangular_u(loading * level_V),
            kind="B",
            remedy=remedy,
        )


def sensor_components(level_V: float, knowledge: ScaleKnowledge) -> Iterator[Component]:
    """What the sensor and the controller may do otherwise on another day, V."""
    supply = knowledge.supply
    stated = supply.half_range_pct
    pct = SUPPLY_PCT if stated is None else stated
    yield Component(
        source=f"sensor supply ±{pct:.2g} %{', assumed' if stated is None else ', as logged'}",
        u=rectangular_u(pct / 100.0 * level_V),
        kind="B",
    )
    yield Component(source="controller's step", u=step_u(knowledge.controller_step_V), kind="B")
    span_K = knowledge.temperature_span_K
    half_V = TEMPERATURE_PCT_PER_K / 100.0 * span_K * abs(level_V - 0.5 * supply.volts)
    yield Component(
        source=f"temperature anywhere within ±{span_K:g} K", u=rectangular_u(half_V), kind="B"
    )
