"""What only the controller's display shows, against something true."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from calib.checks.limits import limit_of_all
from calib.checks.order import judged
from calib.checks.temperature import degrees
from calib.controls.meter import MeterSpec
from calib.measure.coverage import KNOWN_FACTOR
from calib.measure.uncertainty import rectangular_u, step_u
from calib.store.capture import Capture
from calib.store.columns import in_base_unit
from calib.store.documents import said
from calib.store.documents.display import BrakeShown, DisplayDocument, DisplayFigure
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Rig

OnOff = Literal["on", "off"]
Brake = tuple[OnOff, OnOff]
"""What is said of the brake with the lever pulled, then free."""

WAVERS_K: Final = 1.0
"""How far a garage's temperature may lie from a motor's after a night, K, besides both sensors. Own
choice: a garage cools faster than 10 kg of iron."""


@dataclass(frozen=True, slots=True)
class Pack:
    """Pack volts.

    Attributes:
        shown_V: As the display shows them.
        step_V: Its step.
        meter_V: As a meter shows them at the same moment.
        spec: The meter's accuracy.
        spec_assumed: Whether that was assumed.
    """

    shown_V: float
    step_V: float
    meter_V: float
    spec: MeterSpec
    spec_assumed: bool


@dataclass(frozen=True, slots=True)
class Motor:
    """Temperature of the motor, cold.

    Attributes:
        shown_degC: As the display shows it.
        step_K: Its step.
        garage_degC: What the garage has.
        garage_from: Who says so.
        cold_h: How long the motor has stood; None where nobody said.
    """

    shown_degC: float
    step_K: float
    garage_degC: float
    garage_from: str
    cold_h: float | None


def garage_degC(capture: Capture, rig: Rig, name: str) -> float | None:
    """Mean temperature that an ambient channel logged, degrees C; None where it gives none.

    Raises:
        UsageError: There is no such channel or column.
    """
    mean = np.array([float(np.nanmean(in_base_unit(capture, rig, name)))])
    found = degrees(rig.channels[name], mean)
    return None if found is None or not np.isfinite(found[0]) else float(found[0])


def judge_display(
    pack: Pack | None, motor: Motor | None, brake: Brake | None, rig: Rig, cautions: tuple[str, ...]
) -> DisplayDocument:
    """The document of what was read from the display.

    Args:
        pack: Pack volts; None where they were not read.
        motor: The cold motor's temperature; None likewise.
        brake: The brake; None likewise.
        rig: The user's own limits.
        cautions: The usual cautions of the flow.
    """
    findings: list[Finding] = []
    figures: list[DisplayFigure] = []
    if pack is not None:
        figures.append(_pack(pack, rig))
        findings += _pack_findings(pack, figures[-1])
    if motor is not None:
        figures.append(_motor(motor, rig))
        findings.append(_motor_finding(motor, figures[-1], rig))
    shown = None
    if brake is not None:
        pulled, free = brake
        findings.append(_brake_finding(pulled, free))
        shown = BrakeShown(pulled=pulled, free=free, verdict=findings[-1].severity)
    return DisplayDocument(**judged(findings, cautions), figures=tuple(figures), brake=shown)


def _pack(pack: Pack, rig: Rig) -> DisplayFigure:
    """Volts: both accuracies are half-widths, their steps too. Source: JCGM 100, 4.3.7, 5.1.2."""
    pct = limit_of_all("pack_shown_pct", rig.channels.values())
    u_V = math.hypot(
        pack.spec.u_V(pack.meter_V),
        rectangular_u(pct / 100.0 * pack.meter_V),
        step_u(pack.step_V),
    )
    return _figure("pack", (pack.shown_V, pack.meter_V), KNOWN_FACTOR * u_V, "meter")


def _motor(motor: Motor, rig: Rig) -> DisplayFigure:
    """Degrees: two sensors after a cold soak, as the bench check takes them, and the steps."""
    apart_K = limit_of_all("temperature_apart_K", rig.with_role("temperature", "ambient").values())
    explained_K = math.hypot(apart_K, WAVERS_K) + 0.5 * motor.step_K
    pair = (motor.shown_degC, motor.garage_degC)
    return _figure("motor", pair, explained_K, motor.garage_from)


def _figure(
    figure: Literal["pack", "motor"], pair: tuple[float, float], explained: float, true_from: str
) -> DisplayFigure:
    """What is shown and what is true of one figure."""
    shown, true = pair
    return DisplayFigure(
        figure=figure,
        unit="V" if figure == "pack" else "degC",
        shown=shown,
        true=true,
        difference=shown - true,
        explained=explained,
        true_from=true_from,
        verdict=Severity.PASS if abs(shown - true) <= explained else Severity.FAIL,
    )


def _pack_findings(pack: Pack, figure: DisplayFigure) -> said.Findings:
    yield _shown_finding(figure)
    if pack.spec_assumed:
        yield said.passes("meter-assumed", spec=pack.spec)


def _motor_finding(motor: Motor, figure: DisplayFigure, rig: Rig) -> Finding:
    least_h = limit_of_all("motor_cold_h", rig.with_role("temperature").values())
    if motor.cold_h is None:
        return said.unknown("motor-not-cold/unsaid", None, least_h)
    if motor.cold_h < least_h:
        return said.unknown("motor-not-cold", motor.cold_h, least_h)
    return _shown_finding(figure)


def _shown_finding(figure: DisplayFigure) -> Finding:
    """Whether what is shown and what is true lie no further apart than is explained."""
    is_pack = figure.figure == "pack"
    return said.within(
        "pack-shown" if is_pack else "motor-shown",
        "pack-shown/off" if is_pack else "motor-shown/off",
        abs(figure.difference),
        figure.explained,
        Severity.FAIL,
        figure=figure,
    )


def _brake_finding(pulled: OnOff, free: OnOff) -> Finding:
    if pulled == free:
        return said.fail("brake-shown/stays-on" if free == "on" else "brake-shown/stays-off")
    return said.passes("brake-shown") if pulled == "on" else said.fail("brake-shown/reversed")
