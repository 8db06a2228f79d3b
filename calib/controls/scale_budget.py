"""What may be wrong with the logger's volts beyond what repetition shows, and limits that bear it.

The model stands in `calib.measure.tolerance`: a shift moves the whole distribution of readings, so
that the distance which the readings need stays as it is and only what is unknown of it and of the
shift are added in squares.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from calib.controls.supply import Supply
from calib.controls.travel import LevelMeasurement
from calib.measure.spread import LevelSpread
from calib.measure.tolerance import ToleranceLimits, limits_after
from calib.measure.uncertainty import Budget, Component, budget, rectangular_u, step_u
from calib.store.rig import UNTRUED_PCT, Channel, Scale
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
# How far volts beyond the trued range may be off, as a share of how far they lie beyond it. Source:
# published counts against millivolts of a common 12-bit converter, average of 219 modules: a line
# over counts 256 to 2816 is 216 mV off at 3840, which it puts 830 mV beyond its end. That is 0.26;
# rounded up.
OUTSIDE_SHARE = 0.3


@dataclass(frozen=True)
class ScaleKnowledge:
    """What is known of a channel's scale.

    Attributes:
        about: The channel as the rig file has it; its truing stands for reference, divider and
            loading.
        supply: The sensor's supply.
        step_V: Step in which readings come at the wire, V; 0 where none is seen.
        controller_step_V: Step in which the controller reads or is set, V.
        temperature_span_K: Half the temperature range that the limits shall hold for, K.
    """

    about: Channel
    supply: Supply
    step_V: float
    controller_step_V: float
    temperature_span_K: float = TEMPERATURE_SPAN_K


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
    source, u_V = f"repetition over {counted(count, 'plateau')}", repetition_V / math.sqrt(count)
    parts = [
        Component(source, u_V, "A", dof=max(count - 1.0, 1.0)),
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
    about = knowledge.about
    bow, assumed = _stated(about.nonlinearity_lsb, NONLINEARITY_LSB)
    bows = f"converter bows by ±{bow:g} step{'' if bow == 1.0 else 's'}{assumed}"
    yield Component(bows, rectangular_u(bow * knowledge.step_V), "B")
    trued = about.scale
    if trued is not None:
        yield Component("truing of the logger", trued_u(level_V, trued), "B")
        beyond = f"{outside_V(level_V, trued):.2f} V beyond what was trued"
        remedy = f"true the logger with 'calib meter' as far as {level_V:.2f} V"
        u_V = rectangular_u(doubt_outside_V(level_V, trued))
        yield Component(beyond, u_V, "B", remedy=remedy)
        return
    remedy = "hold the logger against a multimeter with 'calib meter', then measure again"
    word = "reference" if about.unit == "count" else "logger's volts"
    pct, assumed = _stated(about.reference_tolerance_pct, UNTRUED_PCT)
    source, u_V = f"{word} ±{pct:g} %{assumed}", rectangular_u(pct / 100.0 * level_V)
    u_remedied_V = rectangular_u(METER_PCT / 100.0 * level_V)
    yield Component(source, u_V, "B", remedy=remedy, u_remedied=u_remedied_V)
    if about.divider != 1.0:
        pct, assumed = _stated(about.divider_tolerance_pct, DIVIDER_PCT)
        share = (1.0 - 1.0 / about.divider) * math.sqrt(2.0)
        u_V = rectangular_u(pct / 100.0 * level_V) * share
        yield Component(f"divider resistors ±{pct:g} %{assumed}", u_V, "B", remedy=remedy)
    if about.source_ohm is not None and about.leak_ohm is not None:
        u_V = rectangular_u(about.source_ohm / (about.source_ohm + about.leak_ohm) * level_V)
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


def outside_V(level_V: float, scale: Scale) -> float:
    """How far a true voltage lies beyond what was trued, V; 0 inside, or where no range is noted.

    Args:
        level_V: True volts.
        scale: As trued.
    """
    if scale.from_V is None or scale.to_V is None:
        return 0.0
    return max(scale.from_V - level_V, level_V - scale.to_V, 0.0)


def doubt_outside_V(level_V: float, scale: Scale) -> float:
    """Half-width of what a voltage beyond the trued range may be off, V.

    Source: see `OUTSIDE_SHARE`.
    """
    return OUTSIDE_SHARE * outside_V(level_V, scale)


def trued_u(level_V: float, scale: Scale) -> float:
    """Standard uncertainty of a trued level inside the trued range, V.

    Source: JCGM 100, H.3.4, eq. (H.15) for a line; for a curve, straight between its rows, the
    most that any correlation of two rows allows.
    """
    if scale.curve is not None:
        _, true, u_V = np.array(scale.curve).T
        return float(np.interp(level_V, true, u_V))
    raw_V = (level_V - scale.offset_V) / scale.gain
    variance = (raw_V * scale.u_gain) ** 2 + scale.u_offset_V**2 + 2.0 * raw_V * scale.cov
    return math.sqrt(max(0.0, variance))


def u_at(level_V: float, scale: Scale) -> float:
    """Standard uncertainty of a trued level anywhere, V."""
    return math.hypot(trued_u(level_V, scale), rectangular_u(doubt_outside_V(level_V, scale)))


@dataclass(frozen=True)
class AllowedLevel:
    """One end of the travel with an allowance for what repetition does not show.

    Attributes:
        level: As it was measured.
        budget: The uncertainty budget of tonight's mean.
    """

    level: LevelMeasurement
    budget: Budget

    @property
    def mean_V(self) -> float:
        """The mean that the limits are counted from, V."""
        return self.level.limits.centre

    def limit_V(self, *, upper: bool) -> float:
        """The limit on one side, widened by the shift that the type B uncertainty allows, V.

        Source: `calib.measure.tolerance`, *Scale*.
        """
        return self._shifted_V(self.level.limits, self.budget.of_kind("B").u, upper=upper)

    def limit_after_V(self, plateaus: int, *, upper: bool) -> float:
        """Limit to expect of so many plateaus, all else being equal, V.

        Source: own choice: the spreads found so far are taken for the true ones.
        """
        limits = limits_after(self.level.spread, self.level.limits, plateaus)
        return self._shifted_V(limits, self.budget.of_kind("B").u, upper=upper)

    def limit_remedied_V(self, *, upper: bool) -> float:
        """Limit that would be left after the best remedy of a type B part, V."""
        type_b = self.budget.of_kind("B")
        best = type_b.best_remedy()
        change = 0.0 if best is None else best.u_remedied**2 - best.u**2
        u_V = math.sqrt(max(0.0, type_b.u**2 + change))
        return self._shifted_V(self.level.limits, u_V, upper=upper)

    def _shifted_V(self, limits: ToleranceLimits, u_V: float, *, upper: bool) -> float:
        if upper:
            return limits.centre + limits.above.shifted(u_V, limits.confidence)
        return limits.centre - limits.below.shifted(u_V, limits.confidence)
