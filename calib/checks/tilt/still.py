"""From a long rest to how long to average and how far a channel wanders, and its document."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from calib.checks.capture import capture_findings
from calib.checks.limits import limit_of_all, tilt_channels
from calib.checks.order import in_order
from calib.checks.tilt.stuck import stuck_findings
from calib.measure.coverage import KNOWN_FACTOR
from calib.measure.uncertainty import coverage_factor
from calib.store.capture import Capture
from calib.store.columns import in_base_unit
from calib.store.conversion import base_unit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.still import StillDocument
from calib.store.rig import Rig
from calib.tilt.allan import AllanCurve, allan_curve
from calib.tilt.attitude import nose_up_deg
from calib.tilt.inputs import series_of
from calib.tilt.lag import step_lag
from calib.tilt.stillness import find_rests

Array = npt.NDArray[np.float64]

PARTS: Final = 16
"""Parts of a rest whose means make the line of its drift. Own choice, because each then holds
fifteen seconds and more, longer than what correlates."""

WANTED_DEG: Final = 0.02
"""Noise of an average that a zero asks for, degrees. Own choice: a tenth of what turning leaves."""


@dataclass(frozen=True)
class _Bounds:
    """What a rest is held against.

    Attributes:
        least_s: Shortest rest that says anything, s.
        foretold_s: Shortest rest from which an hour is foretold, s.
        drift_deg_h: Largest drift of an angle in an hour, degrees.
        noise_deg: Largest standard deviation of single readings of an angle, degrees.
    """

    least_s: float
    foretold_s: float
    drift_deg_h: float
    noise_deg: float


def _bounds(rig: Rig, channel: str | None) -> _Bounds:
    """The limits of the channel that rested; those of the whole tilt sensor when None."""
    own = tilt_channels(rig) if channel is None else [rig.channel(channel)]
    return _Bounds(
        least_s=limit_of_all("still_s", own),
        foretold_s=limit_of_all("foretold_s", own),
        drift_deg_h=limit_of_all("drift_deg_per_h", own),
        noise_deg=limit_of_all("tilt_noise_deg", own),
    )


@dataclass(frozen=True)
class ShownRest:
    """A rest as the person read it off the controller's display, degrees.

    Attributes:
        start_deg: At its beginning.
        end_deg: At its end.
        flicker_deg: How far the display went up and down meanwhile, from lowest to highest.
        hold_s: How long it lasted, s.
        step_deg: Step of the display.
    """

    start_deg: float
    end_deg: float
    flicker_deg: float
    hold_s: float
    step_deg: float


def judge_shown_still(shown: ShownRest, rig: Rig, cautions: tuple[str, ...]) -> StillDocument:
    """The document of a rest that only the controller's display saw.

    Args:
        shown: What the person read.
        rig: The rig file, for its own limits.
        cautions: The usual cautions of the flow.
    """
    bounds = _bounds(rig, None)
    if shown.hold_s < bounds.foretold_s:
        findings = [_too_short(shown.hold_s, bounds.foretold_s)]
        slope = slope_u = noise = None
    else:
        hours = shown.hold_s / 3600.0
        noise = max(shown.flicker_deg, shown.step_deg) / np.sqrt(12)
        slope = (shown.end_deg - shown.start_deg) / hours
        slope_u = float(np.hypot(shown.step_deg / np.sqrt(6), noise) / hours)
        findings = [
            _noise_finding(noise, "deg", "", bounds),
            _drift_finding(slope, slope_u, KNOWN_FACTOR, bounds),
        ]
    return StillDocument(
        verdict=worst(f.severity for f in findings),
        findings=in_order(findings),
        cautions=cautions,
        drift_per_h=slope,
        drift_u_per_h=slope_u,
        drift_expanded_per_h=None if slope_u is None else KNOWN_FACTOR * slope_u,
        unit="deg",
        noise=None if noise is None else float(noise),
        hold_s=shown.hold_s,
    )


@dataclass(frozen=True)
class _Rest:
    """The longest rest of a channel."""

    reading: Array
    hold_s: float


def judge_still(
    capture: Capture, rig: Rig, channel: str | None, cautions: tuple[str, ...]
) -> StillDocument:
    """The document of a long rest.

    Args:
        capture: The rest.
        rig: What the columns are.
        channel: The channel; None for the pitch of the tilt sensor.
        cautions: The usual cautions of the flow.

    Raises:
        UsageError: There is no such channel, or no tilt sensor.
    """
    capture.require_clock("noise and drift")
    if channel is not None:
        capture = capture.where_present([rig.channel(channel).column])
    reading, unit, lag_s = _reading(capture, rig, channel)
    rate_hz = capture.rate_hz or 1.0
    findings = [*capture_findings(capture, rig), *_stuck(capture, rig, channel)]
    rest, bounds = _longest_rest(reading, rate_hz), _bounds(rig, channel)
    if rest is None or rest.hold_s < bounds.least_s:
        held = 0.0 if rest is None else rest.hold_s
        findings.append(_too_short(held, bounds.least_s))
        return StillDocument(
            verdict=worst(f.severity for f in findings),
            findings=in_order(findings),
            cautions=cautions,
            capture=capture.ref(),
            channel=channel,
            unit=unit,
            hold_s=held,
            lag_s=lag_s,
        )
    curve = allan_curve(rest.reading, rate_hz)
    slope, slope_u = _drift_per_h(rest, rate_hz, bounds)
    noise = float(np.std(np.diff(rest.reading)) / np.sqrt(2))
    noise = max(noise, float(np.std(rest.reading - _smooth(rest.reading, rate_hz))))
    findings += _findings(curve, unit, noise, (slope, slope_u), bounds)
    return StillDocument(
        verdict=worst(f.severity for f in findings),
        findings=in_order(findings),
        cautions=cautions,
        capture=capture.ref(),
        channel=channel,
        tau_s=tuple(curve.tau_s.tolist()),
        sigma=tuple(curve.sigma.tolist()),
        average_s=_average_s(curve, unit),
        drift_per_h=slope,
        drift_u_per_h=slope_u,
        drift_expanded_per_h=None if slope_u is None else coverage_factor(PARTS - 2) * slope_u,
        unit=unit,
        noise=noise,
        hold_s=rest.hold_s,
        lag_s=lag_s,
    )


def _stuck(capture: Capture, rig: Rig, channel: str | None) -> list[Finding]:
    """Whether the tilt sensor was frozen for a part of its rest."""
    if channel is not None and rig.channel(channel).role not in ("pitch", "roll"):
        return []
    return stuck_findings(capture, *series_of(capture, rig))


def _reading(capture: Capture, rig: Rig, channel: str | None) -> tuple[Array, str, float | None]:
    """The channel's readings, their unit, and the pitch's lag behind the accelerometer."""
    if channel is not None and rig.channel(channel).role not in ("pitch", "roll"):
        return in_base_unit(capture, rig, channel), base_unit(rig.channel(channel)), None
    _, series = series_of(capture, rig)
    lag = None
    if series.pitch_deg is not None and series.force_g is not None:
        lag = step_lag(series.pitch_deg, nose_up_deg(series.force_g), series.rate_hz)
    roll = channel is not None and rig.channel(channel).role == "roll"
    reading = series.reported_roll_deg if roll else series.reported_pitch_deg
    values = np.empty(0) if reading is None else reading
    return values, "deg", None if lag is None else lag.lag_s


def _longest_rest(reading: Array, rate_hz: float) -> _Rest | None:
    """The longest rest; what is too much unrest follows from the readings themselves."""
    if not reading.size:
        return None
    still = find_rests(reading[:, None], rate_hz, most_unrest=np.inf, least_s=2.0).longest()
    if still is None:
        return None
    return _Rest(reading[still.start : still.stop], still.count / rate_hz)


def _smooth(reading: Array, rate_hz: float) -> Array:
    """Running mean over two seconds, to take drift out of the noise."""
    window = max(1, min(reading.size, round(2 * rate_hz)))
    padded = np.pad(reading, (window // 2, window - 1 - window // 2), mode="edge")
    smooth: Array = np.convolve(padded, np.ones(window) / window, mode="valid")
    return smooth


def _drift_per_h(rest: _Rest, rate_hz: float, bounds: _Bounds) -> tuple[float | None, float | None]:
    """Straight-line drift in an hour and its standard uncertainty; None when too short.

    Source: least squares over the means of sixteen equal parts, so that correlation within a part
    does not flatter the uncertainty.
    """
    if rest.hold_s < bounds.foretold_s:
        return None, None
    length = rest.reading.size // PARTS
    means = rest.reading[: PARTS * length].reshape(PARTS, length).mean(axis=1)
    hours = (np.arange(PARTS) + 0.5) * length / rate_hz / 3600.0
    centred = hours - hours.mean()
    slope = float(centred @ means / (centred @ centred))
    residual = means - means.mean() - slope * centred
    u = float(np.sqrt(residual @ residual / (PARTS - 2) / (centred @ centred)))
    return slope, u


def _average_s(curve: AllanCurve, unit: str) -> float | None:
    """How long to average: to the wanted noise of an angle, else to the curve's lowest point."""
    reached = curve.time_to_reach_s(WANTED_DEG) if unit == "deg" else None
    return curve.best()[0] if reached is None else reached


def _too_short(held_s: float, least_s: float) -> Finding:
    return said.unknown("rest-too-short/too-short", held_s, least_s)


def _findings(
    curve: AllanCurve,
    unit: str,
    noise: float,
    drift: tuple[float | None, float | None],
    bounds: _Bounds,
) -> list[Finding]:
    """Noise, averaging and drift, the last with its standard uncertainty."""
    slope, slope_u = drift
    best_s, best = curve.best()
    more = f"; the quietest average is {best_s:.3g} s long and scatters by {best:.2g} {unit}"
    found = [_noise_finding(noise, unit, more, bounds)]
    if slope is None or slope_u is None:
        found.append(said.unknown("drift-unknown", None, bounds.foretold_s))
    elif unit == "deg":
        found.append(_drift_finding(slope, slope_u, coverage_factor(PARTS - 2), bounds))
    return found


def _noise_finding(noise: float, unit: str, more: str, bounds: _Bounds) -> Finding:
    """Scatter of single readings against what a starting angle allows."""
    good = unit != "deg" or noise <= bounds.noise_deg
    return Finding(
        code="noise",
        severity=Severity.PASS if good else Severity.CAUTION,
        text=f"Single readings scatter by {noise:.3g} {unit}{more}.",
        value=float(noise),
        limit=bounds.noise_deg if unit == "deg" else None,
        unit=unit,
        action="" if good else "Average for longer in the controller, or fit a quieter sensor.",
    )


def _drift_finding(slope: float, slope_u: float, factor: float, bounds: _Bounds) -> Finding:
    """Drift of an angle against what a ride allows; ``factor`` is its coverage factor."""
    most = bounds.drift_deg_h
    sure = abs(slope) - factor * slope_u > most
    maybe = abs(slope) + factor * slope_u > most
    severity = Severity.FAIL if sure else Severity.UNKNOWN if maybe else Severity.PASS
    return Finding(
        code="drift",
        severity=severity,
        text=f"It drifts by {slope:+.2f} ± {factor * slope_u:.2f} degrees in an hour (95 %).",
        value=slope,
        limit=most,
        unit="deg/h",
        action=""
        if severity is Severity.PASS
        else "Let it warm up for twenty minutes and capture ten minutes of rest again.",
    )
