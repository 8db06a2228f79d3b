"""From standings of the machine to the level zero, its findings and its document."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import msgspec
import numpy as np

from calib.checks.capture import capture_findings
from calib.checks.limits import tilt_limit
from calib.checks.order import judged
from calib.checks.temperature import degrees
from calib.checks.tilt import signal
from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.columns import has_column, in_base_unit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.tilt import AxisZeroFigures, LevelDocument, SignsDocument
from calib.store.rig import Rig
from calib.tilt.attitude import angle_between_deg, nose_up_deg
from calib.tilt.inputs import find_inputs, series_of
from calib.tilt.series import TiltReading, TiltSeries, longest_rest, reading_of, rests_of
from calib.tilt.zero import (
    HOLD_U_DEG,
    STICTION_MM,
    YAW_U_RAD,
    Circumstances,
    LevelZero,
    TypedSlope,
    find_zero,
    method_of,
)

SEATED_U_DEG: Final = 0.5
"""Standard uncertainty of a rider's tilt, degrees. Own choice, because a rider never sits twice
alike."""

DEFAULT_WHEELBASE_MM: Final = 1250.0
"""Wheelbase where the rig file gives none, mm; only the budget rests on it. Common practice for
light off-road machines, no source."""


SWAY_S: Final = 0.5
"""Own choice: a held machine sways at about one stroke in one to three seconds, s."""

SWAYS: Final = 6
"""Own choice: means of fewer half seconds than this say nothing of a sway."""

FEW: Final = 100
"""Own choice: fewer readings than this may be why no rest was found."""


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


@dataclass(frozen=True)
class Rider:
    """Shift of pitch when the rider sits, degrees, nose up positive."""

    tilt_deg: float
    u_deg: float


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
    typed, typed_turned = _typed(settings.shown)
    if not standings.first and not typed:
        raise UsageError.of("zero-of-nothing")
    circumstances = _circumstances(rig, settings, signs)
    findings: list[Finding] = []
    logged = shown = rider = None
    if standings.first:
        logged, rider, findings = _judge_captures(standings, rig, settings, circumstances)
    if typed:
        step = replace(circumstances, step_deg=settings.shown.step_deg)
        shown = find_zero(typed, typed_turned, step, typed_slope=settings.typed_slope)
        findings += zero_findings(shown, "The controller shows", rig)
    rider = rider or _shown_rider(settings.shown, circumstances)
    if rider is not None:
        findings.append(rider_finding(rider, rig))
        if abs(rider.tilt_deg) <= tilt_limit("unlike_deg", rig):
            rider = None
    if signs is None or signs.pitch_sign is None:
        findings.append(said.passes("sign-assumed", expects=rig.tilt.expects or "nose-up-positive"))
    main = logged if standings.first else shown
    turned = bool(standings.turned)
    method = main.method if main is not None else method_of(settings.typed_slope, turned=turned)
    return LevelDocument(
        **judged(findings, cautions, standings.first[0].ref() if standings.first else None),
        pitch=None if main is None else _with_rider(main.pitch, rider),
        roll=None if main is None else main.roll,
        method=method,
        basis="logger" if standings.first else "controller",
        shown=None if shown is None else shown.pitch,
        shown_method=None if shown is None else shown.method,
        standings=0 if main is None else main.standings,
        stand=settings.stand,
    )


def _typed(shown: Shown) -> tuple[list[TiltReading], list[TiltReading]]:
    """Readings of both headings as typed from the controller's display."""
    other = shown.turned_deg if shown.turned_deg is not None else shown.seated_deg
    if other is not None and shown.level_deg is None:
        raise UsageError.of("shown-without-level")
    first, turned = (
        [] if value is None else [TiltReading(pitch_deg=value, u_pitch_deg=0.0)]
        for value in (shown.level_deg, shown.turned_deg)
    )
    return first, turned


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
    of_signal: list[Finding] = []
    read: list[TiltSeries] = []
    readings: dict[str, list[TiltReading]] = {}
    of_each = (standings.first, standings.turned, standings.seated)
    for name, captures in zip(("first", "turned", "seated"), of_each, strict=True):
        readings[name] = []
        for number, capture in enumerate(captures, 1):
            label = f"the {name} standing" + (f" ({number})" if len(captures) > 1 else "")
            inputs, series = series_of(capture, rig)
            read.append(series)
            findings += capture_findings(capture, rig)
            rest = longest_rest(series)
            if rest is None or len(rest) < 2:
                findings.append(never_still(series.count, label))
                continue
            reading, part = reading_of(series, rest), series.between(rest.first, rest.stop)
            readings[name].append(reading)
            of_signal += signal.signal_findings(part, inputs, signal.gravity_ratio(reading, inputs))
            of_signal += signal.stuck_findings(capture, inputs, series)
            findings += rest_findings(series, part, reading, label, rig)
    findings += signal.one_of_each(of_signal)
    only_deg = signal.only_pitch_deg(read, rig)
    if only_deg is not None:
        findings.append(said.fail("frozen/one-value", only_deg))
    firsts, turned, seated = readings.values()
    wanted = len(standings.first) + len(standings.turned)
    if len(firsts) + len(turned) < wanted or any(f.severity is Severity.FAIL for f in findings):
        return None, None, [*findings, said.fail("no-zero")]
    inputs = find_inputs(rig, standings.first[0].columns)
    change_k = _change_k((*standings.first, *standings.turned), rig)
    known = replace(circumstances, step_deg=inputs.step_deg(), change_k=change_k)
    zero = find_zero(firsts, turned, known, typed_slope=settings.typed_slope)
    findings += zero_findings(zero, "Level reads", rig)
    findings += standing_findings(zero, firsts, turned, change_k, rig)
    return zero, _rider(firsts, seated, known), findings


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
    without: Sequence[TiltReading], seated: Sequence[TiltReading], circumstances: Circumstances
) -> Rider | None:
    """Shift of pitch when the rider sits, on the first heading, nose up positive."""
    if not seated:
        return None
    shift = sum(r.pitch_deg for r in seated) / len(seated)
    shift -= sum(r.pitch_deg for r in without) / len(without)
    noise = max(r.u_pitch_deg for r in seated)
    return Rider(circumstances.pitch_sign * shift, math.hypot(SEATED_U_DEG, noise))


def _with_rider(pitch: AxisZeroFigures, rider: Rider | None) -> AxisZeroFigures:
    """The zero of pitch with the rider's tilt, where it is known."""
    if rider is None:
        return pitch
    return msgspec.structs.replace(pitch, rider_tilt=rider.tilt_deg, rider_tilt_u=rider.u_deg)


def never_still(count: int, label: str) -> Finding:
    """A capture that moves from end to end; where its readings are few, that is said."""
    return said.fail(
        "never-still/few" if count < FEW else "never-still/standing", float(count), label=label
    )


def rest_findings(
    series: TiltSeries, rest: TiltSeries, reading: TiltReading, label: str, rig: Rig
) -> said.Findings:
    """What is odd about how the machine stood: too short, creeping, swaying, moved.

    Args:
        series: The whole capture of one standing.
        rest: Its longest rest.
        reading: The mean of that.
        label: The standing in words.
        rig: For its own limits.
    """
    least_s, drift_deg = tilt_limit("standing_s", rig), tilt_limit("rest_drift_deg", rig)
    held_s, drift = reading.hold_s, reading.drift_deg
    yield from said.below("rest-too-short/standing", held_s, least_s, Severity.UNKNOWN, label=label)
    if abs(drift) > max(drift_deg, 4 * reading.u_pitch_deg):
        yield said.caution("rest-drifts", abs(drift), drift_deg, label=label, drift_deg=drift)
    yield from said.above("rocks", _sway_deg(rest), tilt_limit("sway_deg", rig), label=label)
    others = [reading_of(series, still) for still in rests_of(series, least_s=least_s)]
    away = max((abs(other.pitch_deg - reading.pitch_deg) for other in others), default=0.0)
    yield from said.above("moved", away, 3 * drift_deg, label=label)


def _sway_deg(rest: TiltSeries) -> float:
    """Scatter of a slow sway, as of a machine that a hand holds; 0 where noise explains it."""
    pitch, window = rest.reported_pitch_deg, max(1, round(SWAY_S * rest.rate_hz))
    if pitch is None or pitch.size < SWAYS * window:
        return 0.0
    means = pitch[: pitch.size // window * window].reshape(-1, window).mean(axis=1)
    line = np.polynomial.Polynomial.fit(np.arange(means.size), means, 1)
    sway = float(np.std(means - line(np.arange(means.size)), ddof=2))
    noise = float(np.std(np.diff(pitch)) / np.sqrt(2 * window))
    return sway if sway > 4 * noise else 0.0


def zero_findings(zero: LevelZero, lead: str, rig: Rig) -> said.Findings:
    """What the zero is, and how far it can be relied on.

    Args:
        zero: The zero.
        lead: Whose reading it is, as a sentence begins.
        rig: For its own limits.
    """
    pitch = zero.pitch
    most_u95_deg, steep_deg = tilt_limit("zero_u95_deg", rig), tilt_limit("floor_deg", rig)
    if zero.method == "single":
        yield said.caution("floor-not-separated", pitch.u95, most_u95_deg, lead=lead, pitch=pitch)
        return
    yield said.within(
        "zero",
        "zero-uncertain",
        pitch.u95,
        most_u95_deg,
        lead=lead,
        pitch=pitch,
        how="turned end for end" if zero.method == "turned" else "by the typed slope",
        largest=pitch.budget[0].source if pitch.budget else "nothing",
    )
    slope_deg = pitch.floor_slope or 0.0
    yield from said.above("steep-floor", abs(slope_deg), steep_deg, slope_deg=slope_deg)


def standing_findings(
    zero: LevelZero,
    firsts: Sequence[TiltReading],
    turned: Sequence[TiltReading],
    change_k: float | None,
    rig: Rig,
) -> said.Findings:
    """A machine that leans, standings that differ, a garage that warms.

    Args:
        zero: What was made of the standings.
        firsts: Readings on the first heading.
        turned: Readings turned end for end.
        change_k: Change of temperature between the standings, K; None where nothing shows it.
        rig: For its own limits.
    """
    leans = [
        [each.roll_deg for each in heading if each.roll_deg is not None]
        for heading in (firsts, turned)
    ]
    most = max((lean for heading in leans for lean in heading), key=abs, default=0.0)
    yield from said.above("leans", abs(most), tilt_limit("lean_deg", rig), most=most)
    apart = max((max(heading) - min(heading) for heading in leans if heading), default=0.0)
    yield from said.above("lean-differs", apart, tilt_limit("lean_spread_deg", rig))
    yield from said.above("standings-differ", zero.repeat_deg, zero.repeat_limit_deg)
    yield from said.above("temperature", change_k, tilt_limit("warming_K", rig))
    if turned:
        yield from _turned_findings(firsts[0], turned[0], rig)


def _turned_findings(first: TiltReading, turned: TiltReading, rig: Rig) -> said.Findings:
    """A turned standing that reads like the first; a pitch channel that sees another floor."""
    if first.force_g is None or turned.force_g is None:
        return
    # hands and floors are not so exact
    apart, same_deg = angle_between_deg(first.force_g, turned.force_g), tilt_limit("same_deg", rig)
    if apart <= same_deg:
        yield said.caution("not-turned", apart, same_deg)
    if first.pitch_from_force:
        return
    by_channel = abs(first.pitch_deg - turned.pitch_deg)
    by_force = float(abs(nose_up_deg(first.force_g) - nose_up_deg(turned.force_g)))
    apart, most_deg = abs(by_channel - by_force) / 2, tilt_limit("floors_apart_deg", rig)
    yield from said.above(
        "sensors-disagree", apart, most_deg, by_channel=by_channel, by_force=by_force
    )


def rider_finding(rider: Rider, rig: Rig) -> Finding:
    """The rider's tilt, beside what is usual."""
    unlike_deg, most_deg = tilt_limit("unlike_deg", rig), tilt_limit("rider_deg", rig)
    if abs(rider.tilt_deg) <= unlike_deg:
        return said.caution("rider-not-seen", rider.tilt_deg, unlike_deg)
    return said.within(
        "rider-tilt",
        "rider-tilt/unusual",
        rider.tilt_deg,
        most_deg,
        way="up" if rider.tilt_deg >= 0 else "down",
        tilt_deg=abs(rider.tilt_deg),
    )
