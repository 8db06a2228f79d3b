"""From a long rest to how long to average and how far a channel wanders, and its document."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import msgspec
import numpy as np

from calib.checks.capture import capture_findings
from calib.checks.limits import limit_of_all
from calib.checks.order import Head, judged
from calib.checks.tilt.signal import stuck_findings
from calib.measure.coverage import KNOWN_FACTOR
from calib.measure.sliding import Run
from calib.measure.uncertainty import coverage_factor
from calib.store.capture import Capture
from calib.store.columns import in_base_unit
from calib.store.conversion import base_unit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.tilt import StillDocument
from calib.store.rig import Rig
from calib.tilt.attitude import Array
from calib.tilt.inputs import series_of
from calib.tilt.series import pitch_lag
from calib.tilt.stillness import allan_curve, find_rests

PARTS: Final = 16
"""Parts of a rest whose means make the line of its drift. Own choice, because each then holds
fifteen seconds and more, longer than what correlates."""

WANTED_DEG: Final = 0.02
"""Noise of an average that a zero asks for, degrees. Own choice: a tenth of what turning leaves."""


Shown = tuple[float, float, float]
"""A rest off the controller's display, degrees: at its beginning, at its end, and how far it went
up and down meanwhile, from lowest to highest."""


def judge_shown_still(
    shown: Shown, hold_s: float, step_deg: float, rig: Rig, cautions: tuple[str, ...]
) -> StillDocument:
    """The document of a rest that only the controller's display saw.

    Args:
        shown: What the person read.
        hold_s: How long it lasted, s.
        step_deg: Step of the display.
        rig: The rig file, for its own limits.
        cautions: The usual cautions of the flow.
    """
    bounds = _bounds(rig, None)
    noise, drift = None, None
    if hold_s < bounds["foretold_s"]:
        findings = [said.unknown("rest-too-short/to-wander", hold_s, bounds["foretold_s"])]
    else:
        start_deg, end_deg, flicker_deg = shown
        hours = hold_s / 3600.0
        noise = float(max(flicker_deg, step_deg) / np.sqrt(12))
        u = float(np.hypot(step_deg / np.sqrt(6), noise)) / hours
        drift = _Drift((end_deg - start_deg) / hours, u, KNOWN_FACTOR * u)
        findings = [_noise_finding(noise, "deg", "", bounds), _drift_finding(drift, bounds)]
    return _still(judged(findings, cautions), noise, drift, hold_s)


@dataclass(frozen=True)
class _Drift:
    """How far a reading wanders in an hour, in its unit.

    Attributes:
        per_h: The drift.
        u: Its standard uncertainty.
        expanded: Half-width that holds the true drift with 95 per cent probability.
    """

    per_h: float
    u: float
    expanded: float


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
    reading, unit, lag_s, stuck = _reading(capture, rig, channel)
    findings = [*capture_findings(capture, rig), *stuck]
    rate_hz, bounds = capture.rate_hz or 1.0, _bounds(rig, channel)
    rest = _longest_rest(reading, rate_hz)
    hold_s = rest.size / rate_hz
    tau_s = sigma = np.empty(0)
    noise = drift = None
    if not rest.size or hold_s < bounds["still_s"]:
        findings.append(said.unknown("rest-too-short/to-wander", hold_s, bounds["still_s"]))
    else:
        tau_s, sigma = allan_curve(rest, rate_hz)
        noise = float(np.std(np.diff(rest)) / np.sqrt(2))
        noise = max(noise, float(np.std(rest - _smooth(rest, rate_hz))))
        best_s, best = float(tau_s[np.argmin(sigma)]), float(sigma.min())
        more = f"; the quietest average is {best_s:.3g} s long and scatters by {best:.2g} {unit}"
        findings.append(_noise_finding(noise, unit, more, bounds))
        if hold_s < bounds["foretold_s"]:
            findings.append(said.unknown("drift-unknown", None, bounds["foretold_s"]))
        else:
            drift = _drift(rest, rate_hz)
            findings += [_drift_finding(drift, bounds)] if unit == "deg" else []
    return msgspec.structs.replace(
        _still(judged(findings, cautions, capture.ref()), noise, drift, hold_s),
        channel=channel,
        tau_s=tuple(tau_s.tolist()),
        sigma=tuple(sigma.tolist()),
        average_s=average_s(tau_s, sigma, unit) if tau_s.size else None,
        unit=unit,
        lag_s=lag_s,
    )


def _still(head: Head, noise: float | None, drift: _Drift | None, hold_s: float) -> StillDocument:
    """What any rest says, in degrees until another unit is told."""
    return StillDocument(
        **head,
        drift_per_h=None if drift is None else drift.per_h,
        drift_u_per_h=None if drift is None else drift.u,
        drift_expanded_per_h=None if drift is None else drift.expanded,
        noise=noise,
        hold_s=hold_s,
    )


def _reading(
    capture: Capture, rig: Rig, channel: str | None
) -> tuple[Array | None, str, float | None, list[Finding]]:
    """Readings, unit, the pitch's lag behind the accelerometer, and whether the sensor froze."""
    role = None if channel is None else rig.channel(channel).role
    if channel is not None and role not in ("pitch", "roll"):
        return in_base_unit(capture, rig, channel), base_unit(rig.channel(channel)), None, []
    inputs, series = series_of(capture, rig)
    lag = pitch_lag(series)
    reading = series.reported_roll_deg if role == "roll" else series.reported_pitch_deg
    stuck = list(stuck_findings(capture, inputs, series))
    return reading, "deg", None if lag is None else lag.lag_s, stuck


def _bounds(rig: Rig, channel: str | None) -> dict[str, float]:
    """The limits of the channel that rested; those of the whole tilt sensor when None."""
    own = [*rig.tilt_channels.values()] if channel is None else [rig.channel(channel)]
    return {
        "still_s": limit_of_all("still_s", own),
        "foretold_s": limit_of_all("foretold_s", own),
        "drift_deg_per_h": limit_of_all("drift_deg_per_h", own),
        "tilt_noise_deg": limit_of_all("tilt_noise_deg", own),
    }


def _longest_rest(reading: Array | None, rate_hz: float) -> Array:
    """The longest rest; what is too much unrest follows from the readings themselves."""
    if reading is None or not reading.size:
        return np.empty(0)
    rests = find_rests(reading[:, None], rate_hz, most_unrest=np.inf, least_s=2.0)
    return max(rests, key=len, default=Run(0, 0)).of(reading)


def _smooth(reading: Array, rate_hz: float) -> Array:
    """Running mean over two seconds, to take drift out of the noise."""
    window = max(1, min(reading.size, round(2 * rate_hz)))
    padded = np.pad(reading, (window // 2, window - 1 - window // 2), mode="edge")
    smooth: Array = np.convolve(padded, np.ones(window) / window, mode="valid")
    return smooth


def _drift(rest: Array, rate_hz: float) -> _Drift:
    """Straight-line drift in an hour.

    Source: least squares over the means of sixteen equal parts, so that correlation within a part
    does not flatter the uncertainty.
    """
    length = rest.size // PARTS
    means = rest[: PARTS * length].reshape(PARTS, length).mean(axis=1)
    hours = (np.arange(PARTS) + 0.5) * length / rate_hz / 3600.0
    centred = hours - hours.mean()
    slope = float(centred @ means / (centred @ centred))
    residual = means - means.mean() - slope * centred
    u = float(np.sqrt(residual @ residual / (PARTS - 2) / (centred @ centred)))
    return _Drift(slope, u, coverage_factor(PARTS - 2) * u)


def average_s(tau_s: Array, sigma: Array, unit: str) -> float:
    """How long to average, s: to the wanted noise of an angle, else to the curve's lowest point.

    Args:
        tau_s: Averaging times, s, shape (k,), rising.
        sigma: Allan deviation at each, shape (k,).
        unit: Its unit.
    """
    if unit == "deg" and sigma.min() <= WANTED_DEG:
        return float(tau_s[np.argmax(sigma <= WANTED_DEG)])
    return float(tau_s[np.argmin(sigma)])


def _noise_finding(noise: float, unit: str, more: str, bounds: dict[str, float]) -> Finding:
    """Scatter of single readings against what a starting angle allows."""
    if unit != "deg":
        return said.passes("noise", noise, unit=unit, more=more)
    most_deg = bounds["tilt_noise_deg"]
    return said.within("noise", "noise/large", noise, most_deg, unit=unit, more=more)


def _drift_finding(drift: _Drift, bounds: dict[str, float]) -> Finding:
    """Drift of an angle against what a ride allows."""
    per_h, half, most = drift.per_h, drift.expanded, bounds["drift_deg_per_h"]
    if abs(per_h) + half <= most:
        return said.passes("drift", per_h, most, half=half)
    severity = Severity.FAIL if abs(per_h) - half > most else Severity.UNKNOWN
    return said.finding(severity, "drift/not-proven", per_h, most, half=half)
