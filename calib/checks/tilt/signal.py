"""What is wrong with a tilt signal as such, whatever is made of it: frozen, clipped, not one g."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from calib.checks.limits import tilt_limit
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.rig import Rig
from calib.store.text import neutral
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import TiltReading, TiltSeries

RIGHT_ANGLE_DEG: Final = 90.0
"""No machine on its wheels stands steeper."""


def signal_findings(series: TiltSeries, inputs: TiltInputs, ratio: float | None) -> list[Finding]:
    """What is wrong with the signal; empty when nothing is.

    Args:
        series: The readings.
        inputs: The channels that they came from.
        ratio: |g| at rest over what it must be; None without an accelerometer.
    """
    return [
        *_frozen(series, inputs.rig),
        *_clipped(series, inputs),
        *_gravity(ratio, inputs.rig),
        *_coarse(inputs),
        *_beyond_a_right_angle(series),
        *_truing_of_others(inputs),
    ]


def gravity_ratio(reading: TiltReading, inputs: TiltInputs) -> float | None:
    """|g| of a rest over what it must be; None without an accelerometer."""
    if reading.force_g is None:
        return None
    return float(np.linalg.norm(reading.force_g)) / inputs.gravity_g


def one_of_each(findings: Iterable[Finding]) -> list[Finding]:
    """The findings with one about the signal of each code, the worst, where captures repeat it."""
    kept: list[Finding] = []
    for finding in findings:
        same = next((f for f in kept if f.code == finding.code and f.code in _SIGNAL_CODES), None)
        if same is None:
            kept.append(finding)
        elif finding.severity.rank > same.severity.rank:
            kept[kept.index(same)] = finding
    return kept


_SIGNAL_CODES: Final = frozenset(
    {"frozen", "clips", "gravity", "coarse", "unit", "truing-of-others"}
)


def _frozen(series: TiltSeries, rig: Rig) -> list[Finding]:
    """A sensor that says the same thing over and over, to the last digit."""
    most = tilt_limit("repeated_readings", rig)
    if series.count < most:
        return []
    force = series.force_g
    if force is not None and _longest_repeat(force) >= most:
        share = _longest_repeat(force) / series.count
        return [said.fail("frozen/frozen", float(_longest_repeat(force)), most, pct=100 * share)]
    return []


def never_changes(series: TiltSeries, rig: Rig) -> list[Finding]:
    """A pitch that keeps one value through a capture in which the machine was moved."""
    pitch = series.pitch_deg
    if pitch is None or pitch.size < tilt_limit("repeated_readings", rig) or np.ptp(pitch) > 0:
        return []
    return [said.fail("frozen/never-changes", 0.0)]


def _longest_repeat(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> int:
    """Longest run of readings that are equal in every axis."""
    same = np.all(values[1:] == values[:-1], axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], same, [False])).astype(np.int8)))
    runs = edges[1::2] - edges[::2]
    return int(runs.max()) + 1 if runs.size else 1


def _clipped(series: TiltSeries, inputs: TiltInputs) -> list[Finding]:
    """A sensor, or the logger's converter, at the end of its range."""
    found = []
    end_share = tilt_limit("sensor_end_pct", inputs.rig) / 100.0
    range_g = inputs.range_g
    if series.force_g is not None and range_g is not None:
        largest = float(np.abs(np.median(series.force_g, axis=0)).max())
        if largest >= end_share * range_g:
            found.append(_clip_finding(largest, range_g, "g"))
    limits = inputs.pitch_limits_deg()
    if series.pitch_deg is not None and limits is not None:
        low, high = limits
        edge = (1 - end_share) * (high - low)
        for end, beyond in ((low, series.pitch_deg <= low + edge / 20),
                            (high, series.pitch_deg >= high - edge / 20)):  # fmt: skip
            if np.mean(beyond) > 0.01:
                found.append(_clip_finding(end, end, "deg"))
    return found


def _clip_finding(value: float, limit: float, unit: str) -> Finding:
    return said.fail("clips/tilt", value, limit, unit=unit)


def _gravity(ratio: float | None, rig: Rig) -> list[Finding]:
    """|g| that is not one."""
    some, much = tilt_limit("gravity_pct", rig) / 100, tilt_limit("gravity_fail_pct", rig) / 100
    if ratio is None or abs(ratio - 1) <= some:
        return []
    if abs(ratio - 1) <= much:
        return [said.caution("gravity/tilt", ratio, 1 + some)]
    return [said.fail("gravity", ratio, 1 + much)]


def _beyond_a_right_angle(series: TiltSeries) -> list[Finding]:
    """A pitch at which no machine stands."""
    pitch = series.pitch_deg
    if pitch is None or not pitch.size:
        return []
    most = float(np.quantile(np.abs(pitch), 0.9))
    if most <= RIGHT_ANGLE_DEG:
        return []
    return [said.fail("unit/tilt", most, RIGHT_ANGLE_DEG)]


def _truing_of_others(inputs: TiltInputs) -> list[Finding]:
    """A truing that was made of other columns than those that the rig file names now."""
    truing = inputs.rig.tilt.truing
    if truing is None or truing.columns is None or not inputs.truing_is_of_others:
        return []
    then, now = (neutral(", ".join(axes), 60) for axes in (truing.columns, inputs.axes))
    return [said.caution("truing-of-others", then=then, now=now)]


def _coarse(inputs: TiltInputs) -> list[Finding]:
    """A reading in steps too coarse for a zero."""
    step_deg, most_deg = inputs.step_deg(), tilt_limit("tilt_step_deg", inputs.rig)
    if step_deg <= most_deg:
        return []
    return [said.caution("coarse", step_deg, most_deg)]
