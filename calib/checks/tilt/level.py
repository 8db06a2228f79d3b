"""From standings of the machine to the level zero, its findings and its document."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from calib.checks.limits import tilt_limit
from calib.checks.order import in_order
from calib.checks.temperature import degrees
from calib.checks.tilt.level_findings import (
    Rider,
    rider_finding,
    sign_findings,
    standing_findings,
    zero_findings,
)
from calib.checks.tilt.rest import never_alive, read_standing
from calib.checks.tilt.signal import one_of_each
from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.columns import has_column, in_base_unit
from calib.store.documents import said
from calib.store.documents.budget import BudgetLine
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.level import AxisZeroFigures, LevelDocument
from calib.store.documents.signs import SignsDocument
from calib.store.rig import Rig
from calib.tilt.inputs import find_inputs
from calib.tilt.series import TiltReading
from calib.tilt.zero import AxisZero, Heading, LevelZero, Method, Standing, TypedSlope, find_zero
from calib.tilt.zero_budget import HOLD_U_DEG, STICTION_MM, YAW_U_RAD, Circumstances

SEATED_U_DEG: Final = 0.5
"""Standard uncertainty of a rider's tilt, degrees. Own choice, because a rider never sits twice
alike."""

DEFAULT_WHEELBASE_MM: Final = 1250.0
"""Wheelbase where the rig file gives none, mm; only the budget rests on it. Common practice for
light off-road machines, no source."""


@dataclass(frozen=True)
class Shown:
    """What the person typed from the controller's display, degrees."""

    level_deg: float | None = None
    turned_deg: float | None = None
    seated_deg: float | None = None
    step_deg: float = 0.1


@dataclass(frozen=True)
class LevelSettings:
    """What the person set or typed.

    Attributes:
        stand: Whether a stand fixed to the floor sets the roll.
        typed_slope: The floor's slope as measured otherwise.
        shown: The controller's own readings.
        wheelbase_mm: Distance of the axles, mm; from the rig file when None.
        stiction_mm: Half-width of where the suspension settles, mm.
        hold_u_deg: Standard uncertainty of a hand's upright, degrees.
    """

    stand: bool = False
    typed_slope: TypedSlope | None = None
    shown: Shown = Shown()
    wheelbase_mm: float | None = None
    stiction_mm: float = STICTION_MM
    hold_u_deg: float = HOLD_U_DEG


@dataclass(frozen=True)
class Standings:
    """The captures of one level run.

    Attributes:
        first: On the first heading, in order of time.
        turned: Turned end for end.
        seated: With the rider, on the first heading.
    """

    first: tuple[Capture, ...] = ()
    turned: tuple[Capture, ...] = ()
    seated: tuple[Capture, ...] = ()

    @property
    def all(self) -> tuple[Capture, ...]:
        """Every capture."""
        return (*self.first, *self.turned, *self.seated)


def judge_level(
    standings: Standings,
    rig: Rig,
    settings: LevelSettings,
    cautions: tuple[str, ...],
    *,
    signs: SignsDocument | None = None,
) -> LevelDocument:
    """The document of a level zero from its captures and what was typed.

    Args:
        standings: The captures; none where only the controller sees the sensor.
        rig: What the columns are.
        settings: What the person set.
        cautions: The usual cautions of the flow.
        signs: The latest proof of sign, for the floor's direction and the sensor's yaw.

    Raises:
        UsageError: No capture and nothing typed; no tilt sensor in the rig file.
    """
    typed = _typed_standings(settings.shown)
    if not standings.first and not typed:
        raise UsageError(
            "There is nothing to make a zero of.",
            "Give --port or --from FILE, or what the controller shows with --shown-level.",
        )
    circumstances = _circumstances(rig, settings, signs)
    findings: list[Finding] = []
    logged: LevelZero | None = None
    rider = None
    if standings.first:
        logged, rider, found = _judge_captures(standings, rig, settings, circumstances)
        findings += found
    shown = None
    if typed:
        step = replace(circumstances, step_deg=settings.shown.step_deg)
        shown = find_zero(typed, step, typed_slope=settings.typed_slope)
        findings += zero_findings(shown, "The controller shows", rig)
    shown_rider = _shown_rider(settings.shown, circumstances)
    if rider is None and shown_rider is not None:
        rider = shown_rider
        findings.append(rider_finding(rider, rig))
    if rider is not None and abs(rider.tilt_deg) <= tilt_limit("unlike_deg", rig):
        rider = None
    findings += sign_findings(signs, rig)
    main = logged if standings.first else shown
    return LevelDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=in_order(findings),
        cautions=cautions,
        capture=standings.first[0].ref() if standings.first else None,
        pitch=None if main is None else _figures(main.pitch, rider),
        roll=None if main is None or main.roll is None else _figures(main.roll, None),
        method=_method(main, standings, settings).value,
        basis="logger" if standings.first else "controller",
        shown=None if shown is None else _figures(shown.pitch, None),
        shown_method=None if shown is None else shown.method.value,
        standings=0 if main is None else main.standings,
        stand=settings.stand,
    )


def _method(main: LevelZero | None, standings: Standings, settings: LevelSettings) -> Method:
    """How the floor was told from the sensor, also where no zero came of it."""
    if main is not None:
        return main.method
    if standings.turned:
        return Method.TURNED
    return Method.SINGLE if settings.typed_slope is None else Method.TYPED_SLOPE


def _typed_standings(shown: Shown) -> list[Standing]:
    """Standings as typed from the controller's display."""
    values = ((Heading.FIRST, shown.level_deg), (Heading.TURNED, shown.turned_deg))
    other = shown.turned_deg if shown.turned_deg is not None else shown.seated_deg
    if other is not None and shown.level_deg is None:
        raise UsageError(
            "--shown-turned or --shown-seated was given without --shown-level.",
            "Type what the controller shows in the first standing, too.",
        )
    return [
        Standing(heading, TiltReading(pitch_deg=value, u_pitch_deg=0.0))
        for heading, value in values
        if value is not None
    ]


def _circumstances(rig: Rig, settings: LevelSettings, signs: SignsDocument | None) -> Circumstances:
    """What the budget assumes, with what an earlier proof of sign knows."""
    yaw_u_rad, sign = YAW_U_RAD, 1
    if signs is not None:
        sign = signs.pitch_sign or 1
        if signs.yaw_deg is not None:
            # own choice: a yaw read off a raised nose is good to two degrees
            yaw_u_rad = math.radians(math.hypot(signs.yaw_deg, 2.0))
    elif rig.tilt.expects == "nose-down-positive" and rig.with_role("pitch"):
        sign = -1
    return Circumstances(
        wheelbase_mm=settings.wheelbase_mm or rig.tilt.wheelbase_mm or DEFAULT_WHEELBASE_MM,
        stand=settings.stand,
        hold_u_deg=settings.hold_u_deg,
        yaw_u_rad=yaw_u_rad,
        stiction_mm=settings.stiction_mm,
        pitch_sign=sign,
    )


def _judge_captures(
    standings: Standings, rig: Rig, settings: LevelSettings, circumstances: Circumstances
) -> tuple[LevelZero | None, Rider | None, list[Finding]]:
    """Zero and rider's tilt from captures; no zero of a signal that cannot be one."""
    findings: list[Finding] = []
    used: list[Standing] = []
    seated: list[TiltReading] = []
    for heading, captures in (
        (Heading.FIRST, standings.first),
        (Heading.TURNED, standings.turned),
        (None, standings.seated),
    ):
        for number, capture in enumerate(captures, 1):
            label = _label(heading, number, len(captures))
            reading, found = read_standing(capture, rig, label)
            findings += found
            if reading is not None and heading is None:
                seated.append(reading)
            elif reading is not None and heading is not None:
                used.append(Standing(heading, reading))
    findings = [*one_of_each(findings), *never_alive(standings.all, rig)]
    wanted = len(standings.first) + len(standings.turned)
    if len(used) < wanted or any(f.severity is Severity.FAIL for f in findings):
        findings.append(said.fail("no-zero"))
        return None, None, findings
    inputs = find_inputs(rig, standings.first[0].columns)
    change_k = _change_k((*standings.first, *standings.turned), rig)
    known = replace(circumstances, step_deg=inputs.step_deg(), change_k=change_k)
    zero = find_zero(used, known, typed_slope=settings.typed_slope)
    findings += zero_findings(zero, "Level reads", rig)
    findings += standing_findings(zero, used, known, rig)
    rider = _rider(used, seated, known) if standings.seated else None
    if rider is not None:
        findings.append(rider_finding(rider, rig))
    return zero, rider, findings


def _label(heading: Heading | None, number: int, count: int) -> str:
    """A standing in words."""
    name = {Heading.FIRST: "first", Heading.TURNED: "turned", None: "seated"}[heading]
    return f"the {name} standing" + (f" ({number})" if count > 1 else "")


def _change_k(captures: Sequence[Capture], rig: Rig) -> float | None:
    """Change of the garage's temperature between the standings, K; None where none shows it."""
    for name, channel in rig.with_role("ambient").items():
        if not all(has_column(capture.columns, rig, name) for capture in captures):
            continue
        seen = [degrees(channel, in_base_unit(capture, rig, name)) for capture in captures]
        known = [float(np.median(values)) for values in seen if values is not None]
        if len(known) == len(captures) and np.isfinite(known).all():
            return max(known) - min(known)
    return None


def _shown_rider(shown: Shown, circumstances: Circumstances) -> Rider | None:
    """The rider's tilt as typed from the controller's display."""
    if shown.seated_deg is None or shown.level_deg is None:
        return None
    shift = circumstances.pitch_sign * (shown.seated_deg - shown.level_deg)
    return Rider(shift, math.hypot(SEATED_U_DEG, shown.step_deg / math.sqrt(6)))


def _rider(
    used: Sequence[Standing], seated: Sequence[TiltReading], circumstances: Circumstances
) -> Rider | None:
    """Shift of pitch when the rider sits, on the first heading, nose up positive."""
    without = [s.reading.pitch_deg for s in used if s.heading is Heading.FIRST]
    if not seated or not without:
        return None
    shift = sum(r.pitch_deg for r in seated) / len(seated) - sum(without) / len(without)
    noise = max(r.u_pitch_deg for r in seated)
    return Rider(circumstances.pitch_sign * shift, math.hypot(SEATED_U_DEG, noise))


def _figures(zero: AxisZero, rider: Rider | None) -> AxisZeroFigures:
    """One axis for the document."""
    return AxisZeroFigures(
        reading=zero.reading_deg,
        zero=zero.zero_deg,
        u=zero.u_deg,
        u95=zero.u95_deg,
        floor_slope=zero.floor_slope_deg,
        floor_slope_u=zero.floor_slope_u_deg,
        rider_tilt=None if rider is None else rider.tilt_deg,
        rider_tilt_u=None if rider is None else rider.u_deg,
        budget=tuple(
            BudgetLine(
                source=share.source,
                u=share.u_deg,
                type="A" if share.kind == "A" else "B",
                dof=None if math.isinf(share.dof) else share.dof,
            )
            for share in zero.budget
        ),
    )
