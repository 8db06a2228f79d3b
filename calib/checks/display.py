"""What only the controller's display shows, against something true."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from calib.checks.limits import limit_of_all
from calib.checks.order import in_order
from calib.checks.temperature import degrees
from calib.controls.meter import MeterSpec
from calib.measure.coverage import KNOWN_FACTOR
from calib.measure.uncertainty import rectangular_u, step_u
from calib.store.capture import Capture
from calib.store.columns import in_base_unit
from calib.store.documents import said
from calib.store.documents.display import BrakeShown, DisplayDocument, DisplayFigure
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.rig import Rig

OnOff = Literal["on", "off"]

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


@dataclass(frozen=True, slots=True)
class Shown:
    """Everything that was read from the display.

    Attributes:
        pack: Pack volts; None where they were not read.
        motor: The cold motor's temperature; None likewise.
        brake: With the lever pulled, then free; None likewise.
    """

    pack: Pack | None = None
    motor: Motor | None = None
    brake: tuple[OnOff, OnOff] | None = None


def garage_degC(capture: Capture, rig: Rig, name: str) -> float | None:
    """Mean temperature that an ambient channel logged, degrees C; None where it gives none.

    Raises:
        UsageError: There is no such channel or column.
    """
    mean = np.array([float(np.nanmean(in_base_unit(capture, rig, name)))])
    found = degrees(rig.channels[name], mean)
    return None if found is None or not np.isfinite(found[0]) else float(found[0])


def judge_display(shown: Shown, rig: Rig, cautions: tuple[str, ...]) -> DisplayDocument:
    """The document of what was read from the display.

    Args:
        shown: What was read, and what is true.
        rig: The user's own limits.
        cautions: The usual cautions of the flow.
    """
    findings: list[Finding] = []
    figures: list[DisplayFigure] = []
    if shown.pack is not None:
        figures.append(_pack(shown.pack, rig))
        findings += _pack_findings(shown.pack, figures[-1])
    if shown.motor is not None:
        figures.append(_motor(shown.motor, rig))
        findings += _motor_findings(shown.motor, figures[-1], rig)
    brake = None
    if shown.brake is not None:
        pulled, free = shown.brake
        finding = _brake_finding(pulled, free)
        findings.append(finding)
        brake = BrakeShown(pulled=pulled, free=free, verdict=finding.severity)
    return DisplayDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=in_order(findings),
        cautions=cautions,
        figures=tuple(figures),
        brake=brake,
    )


def _pack(pack: Pack, rig: Rig) -> DisplayFigure:
    """Volts: both accuracies are half-widths, their steps too. Source: JCGM 100, 4.3.7, 5.1.2."""
    pct = limit_of_all("pack_shown_pct", rig.channels.values())
    u_V = math.hypot(
        pack.spec.u_V(pack.meter_V),
        rectangular_u(pct / 100.0 * pack.meter_V),
        step_u(pack.step_V),
    )
    return _figure("pack", "V", pack.shown_V, pack.meter_V, KNOWN_FACTOR * u_V, "meter")


def _motor(motor: Motor, rig: Rig) -> DisplayFigure:
    """Degrees: two sensors after a cold soak, as the bench check takes them, and the steps."""
    apart_K = limit_of_all("temperature_apart_K", rig.with_role("temperature", "ambient").values())
    explained = math.hypot(apart_K, WAVERS_K) + 0.5 * motor.step_K
    return _figure(
        "motor", "degC", motor.shown_degC, motor.garage_degC, explained, motor.garage_from
    )


def _figure(
    figure: Literal["pack", "motor"],
    unit: Literal["V", "degC"],
    shown: float,
    true: float,
    explained: float,
    true_from: str,
) -> DisplayFigure:
    within = abs(shown - true) <= explained
    return DisplayFigure(
        figure=figure,
        unit=unit,
        shown=shown,
        true=true,
        difference=shown - true,
        explained=explained,
        true_from=true_from,
        verdict=Severity.PASS if within else Severity.FAIL,
    )


def _pack_findings(pack: Pack, figure: DisplayFigure) -> Iterator[Finding]:
    yield Finding(
        code="pack-shown",
        severity=figure.verdict,
        text=f"The display shows {figure.shown:.2f} V of the pack and the meter {figure.true:.2f}: "
        f"{figure.difference:+.2f} V, and both accuracies explain {figure.explained:.2f}.",
        value=abs(figure.difference),
        limit=figure.explained,
        unit="V",
        action=""
        if figure.verdict.is_good
        else "Read both again at rest, at the same moment; then its limits on pack volts are off "
        "by as much.",
    )
    if pack.spec_assumed:
        yield said.passes(
            "meter-assumed", pct=pack.spec.pct, digits=pack.spec.digits, step_V=pack.spec.step_V
        )


def _motor_findings(motor: Motor, figure: DisplayFigure, rig: Rig) -> Iterator[Finding]:
    least_h = limit_of_all("motor_cold_h", rig.with_role("temperature").values())
    if motor.cold_h is None or motor.cold_h < least_h:
        stood = (
            "Nobody said how long the motor has stood"
            if motor.cold_h is None
            else f"The motor has stood for only {motor.cold_h:g} h"
        )
        yield said.unknown("motor-not-cold", motor.cold_h, least_h, stood=stood)
        return
    yield Finding(
        code="motor-shown",
        severity=figure.verdict,
        text=f"The display shows {figure.shown:.1f} degC of the cold motor and the garage has "
        f"{figure.true:.1f}: {figure.difference:+.1f} K, and two sensors explain "
        f"{figure.explained:.1f}.",
        value=abs(figure.difference),
        limit=figure.explained,
        unit="K",
        action=""
        if figure.verdict.is_good
        else "Look at the sensor's type as it is set, its plug, and whether degrees C or F are "
        "shown.",
    )


def _brake_finding(pulled: OnOff, free: OnOff) -> Finding:
    right = (pulled, free) == ("on", "off")
    what = {
        ("on", "off"): "on with the lever pulled and off with it free",
        ("off", "on"): "off with the lever pulled and on with it free: it works the other way "
        "round",
        ("on", "on"): "on whether the lever is pulled or free: it never opens",
        ("off", "off"): "off whether the lever is pulled or free: it never closes",
    }[pulled, free]
    return Finding(
        code="brake-shown",
        severity=Severity.PASS if right else Severity.FAIL,
        text=f"The display shows the brake switch {what}.",
        action=""
        if right
        else "Look at the switch, its plug and how its input is set; until then "
        "nothing cuts the drive when you brake.",
    )
