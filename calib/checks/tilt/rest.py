"""One standing of the machine, read from its capture, with what is wrong about it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from calib.checks.capture import capture_findings
from calib.checks.limits import tilt_limit
from calib.checks.tilt.signal import gravity_ratio, signal_findings
from calib.checks.tilt.stuck import stuck_findings
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Rig
from calib.tilt.inputs import series_of
from calib.tilt.series import TiltReading, TiltSeries, reading_of, rests_of

SWAY_S: Final = 0.5
"""Own choice: a held machine sways at about one stroke in one to three seconds, s."""

SWAYS: Final = 6
"""Own choice: means of fewer half seconds than this say nothing of a sway."""


def read_standing(
    capture: Capture, rig: Rig, label: str
) -> tuple[TiltReading | None, list[Finding]]:
    """The mean reading of one standing, from the longest rest of its capture.

    Args:
        capture: The standing.
        rig: What the columns are.
        label: The standing in words.

    Returns:
        The reading, or None where the machine never stood; and what is wrong.
    """
    inputs, series = series_of(capture, rig)
    findings = list(capture_findings(capture, rig))
    rest = rests_of(series).longest()
    if rest is None or rest.count < 2:
        return None, [*findings, _never_still(series, label)]
    reading = reading_of(series, rest)
    part = series.between(rest.start, rest.stop)
    findings += signal_findings(part, inputs, gravity_ratio(reading, inputs))
    findings += stuck_findings(capture, inputs, series)
    least_s, drift_deg = tilt_limit("standing_s", rig), tilt_limit("rest_drift_deg", rig)
    if reading.hold_s < least_s:
        findings.append(said.unknown("rest-too-short/tilt", reading.hold_s, least_s, label=label))
    if abs(reading.drift_deg) > max(drift_deg, 4 * reading.u_pitch_deg):
        findings.append(
            said.caution(
                "rest-drifts",
                abs(reading.drift_deg),
                drift_deg,
                label=label,
                drift_deg=reading.drift_deg,
            )
        )
    findings += _rocks(part, label, tilt_limit("sway_deg", rig))
    findings += _moved(series, reading, label, rig)
    return reading, findings


def _rocks(rest: TiltSeries, label: str, most_deg: float) -> list[Finding]:
    """A rest in which the machine sways slowly, as one does that a hand holds."""
    pitch, window = rest.reported_pitch_deg, max(1, round(SWAY_S * rest.rate_hz))
    if pitch is None or pitch.size < SWAYS * window:
        return []
    means = pitch[: pitch.size // window * window].reshape(-1, window).mean(axis=1)
    line = np.polynomial.Polynomial.fit(np.arange(means.size), means, 1)
    sway = float(np.std(means - line(np.arange(means.size)), ddof=2))
    noise = float(np.std(np.diff(pitch)) / np.sqrt(2 * window))
    if sway <= max(most_deg, 4 * noise):
        return []
    return [said.caution("rocks", sway, most_deg, label=label)]


def never_alive(captures: Sequence[Capture], rig: Rig) -> list[Finding]:
    """A pitch channel that says one value, to the last digit, in every capture of a run.

    A coarse sensor may well do that on a still machine; so may a dead one. A second standing, or
    a movement at the start, tells them apart.
    """
    values, least = [], tilt_limit("repeated_readings", rig)
    for capture in captures:
        _, series = series_of(capture, rig)
        if series.pitch_deg is None or series.count < least:
            return []
        values.append((float(series.pitch_deg.min()), float(series.pitch_deg.max())))
    if not values or min(low for low, _ in values) < max(high for _, high in values):
        return []
    return [said.fail("frozen/tilt", values[0][0])]


def _never_still(series: TiltSeries, label: str) -> Finding:
    """A capture that moves from end to end."""
    return Finding(
        code="never-still",
        severity=Severity.FAIL,
        text=f"In {label} the machine never stood still"
        + (f" ({series.count} readings)." if series.count < 100 else "."),
        value=float(series.count),
        unit="readings",
        action="Chock or strap it, hands off, no engine or fan running, and capture again.",
    )


def _moved(series: TiltSeries, reading: TiltReading, label: str, rig: Rig) -> list[Finding]:
    """Another long rest in the same capture that stands elsewhere."""
    least_s, most_deg = tilt_limit("standing_s", rig), 3 * tilt_limit("rest_drift_deg", rig)
    others = [reading_of(series, still) for still in rests_of(series, least_s=least_s).stretches]
    away = max((abs(other.pitch_deg - reading.pitch_deg) for other in others), default=0.0)
    if away <= most_deg:
        return []
    return [said.caution("moved", away, most_deg, label=label)]
