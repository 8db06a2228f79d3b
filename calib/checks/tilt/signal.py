"""What is wrong with a tilt signal as such, whatever is made of it: frozen, clipped, not one g."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from calib.checks.limits import tilt_limit
from calib.measure.sliding import Run
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Rig
from calib.store.text import neutral
from calib.tilt.attitude import Array
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import TiltReading, TiltSeries, pitch_lag, rests_of

RIGHT_ANGLE_DEG: Final = 90.0
"""No machine on its wheels stands steeper."""

LEAST_STUCK: Final = 20
"""Own choice: as many equal readings in a row before any of this is looked at."""

MOST_STEPS: Final = 4.0
"""Steps by which a channel must have moved with the force before standing still is odd. Own choice:
twice what the noise of an accelerometer and a code that is just not left can make of it."""

LEAST_MOVE_DEG: Final = 1.0
"""Own choice: half a wheel on a plank; what a suspension and a hand move without being asked."""

LATE_S: Final = 2.0
"""How late an angle may come, s, where that was not measured: it stands still until then. Own
choice: a filter that is slower fails by its lag."""

LATE_ROOM_S: Final = 0.3
"""Own choice: what a lag is off that was measured while a part of the signal was frozen."""

MOST_RESIDUALS: Final = 6.0
"""Own choice: standard deviations of what the force leaves unexplained of a channel."""

LEAST_NOISE_STEPS: Final = 0.6
"""Standard deviation of the codes, in steps, from which noise leaves no code for long, wherever in
the code a channel stands. Without noise a channel at the edge of two codes shows 0.5 at most, so
0.6 means a noise of 0.33 steps or more; a quieter channel may rest on one code for minutes."""

MOST_REPEATS: Final = 0.87
"""Share of readings that such noise leaves on the middle code. Source: normal distribution,
erf(0.5/(0.33·√2))."""

CHANCE: Final = 1e-9
"""Chance below which a run is no chance; own choice, as for the controls."""

RUNS_APART: Final = 5.0
"""Times the longest run elsewhere at rest. Own choice: noise that is filtered repeats itself, and
its longest runs show how far."""

SMOOTH_S: Final = 0.1
"""Own choice: noise is evened out, a hand's movement is not."""


def one_of_each(findings: Iterable[Finding]) -> list[Finding]:
    """What the captures of one run say of the signal: of each code once, the worst."""
    kept: dict[str, Finding] = {}
    for finding in findings:
        same = kept.get(finding.code)
        if same is None or finding.severity.rank > same.severity.rank:
            kept[finding.code] = finding
    return list(kept.values())


def gravity_ratio(reading: TiltReading, inputs: TiltInputs) -> float | None:
    """|g| of a rest over what it must be; None without an accelerometer."""
    if reading.force_g is None:
        return None
    return float(np.linalg.norm(reading.force_g)) / inputs.gravity_g


def signal_findings(series: TiltSeries, inputs: TiltInputs, ratio: float | None) -> said.Findings:
    """What is wrong with the signal; nothing when nothing is.

    Args:
        series: The readings.
        inputs: The channels that they came from.
        ratio: |g| at rest over what it must be; None without an accelerometer.
    """
    yield from spoilt_findings(series, inputs, ratio)
    yield from bound_findings(series, inputs)


def spoilt_findings(series: TiltSeries, inputs: TiltInputs, ratio: float | None) -> said.Findings:
    """What takes every meaning from a signal: repeated readings, not one g, an impossible angle.

    Args:
        series: The readings.
        inputs: The channels that they came from.
        ratio: |g| at rest over what it must be; None without an accelerometer.
    """
    rig, force, pitch = inputs.rig, series.force_g, series.pitch_deg
    most = tilt_limit("repeated_readings", rig)
    if force is not None:
        repeated = len(longest_run(force))
        if repeated >= most:
            pct = 100 * repeated / series.count
            yield said.fail("frozen/accelerometer", float(repeated), most, pct=pct)
    some, much = tilt_limit("gravity_pct", rig) / 100, tilt_limit("gravity_fail_pct", rig) / 100
    off = 0.0 if ratio is None else abs(ratio - 1)
    if off > max(some, much):
        yield said.fail("gravity", ratio, 1 + much)
    elif off > some:
        yield said.caution("gravity/some", ratio, 1 + some)
    steepest = 0.0 if pitch is None or not pitch.size else float(np.quantile(np.abs(pitch), 0.9))
    yield from said.above("unit/angle", steepest, RIGHT_ANGLE_DEG, Severity.FAIL)


def bound_findings(series: TiltSeries, inputs: TiltInputs) -> said.Findings:
    """What bounds a signal: the ends of its range, its steps, a truing that is not its own."""
    rig, pitch = inputs.rig, series.pitch_deg
    end_share = tilt_limit("sensor_end_pct", rig) / 100.0
    range_g, limits_deg = inputs.range_g, inputs.pitch_limits_deg()
    if series.force_g is not None and range_g is not None:
        largest = float(np.abs(np.median(series.force_g, axis=0)).max())
        if largest >= end_share * range_g:
            yield said.fail("clips/sensor", largest, range_g, unit="g")
    if pitch is not None and limits_deg is not None:
        low, high = limits_deg
        edge = (1 - end_share) * (high - low) / 20
        for end, beyond in ((low, pitch <= low + edge), (high, pitch >= high - edge)):
            if np.mean(beyond) > 0.01:
                yield said.fail("clips/sensor", end, end, unit="deg")
    yield from said.above("coarse", inputs.step_deg(), tilt_limit("tilt_step_deg", rig))
    trued = None if rig.tilt.truing is None else rig.tilt.truing.columns
    if trued is not None and inputs.has_force and inputs.truing() is None:
        then, now = (neutral(", ".join(axes), 60) for axes in (trued, inputs.axes))
        yield said.caution("truing-of-others", then=then, now=now)


def only_pitch_deg(captures: Sequence[TiltSeries], rig: Rig) -> float | None:
    """The one pitch that a channel says, to the last digit, in every capture of a run.

    None where it changes, or where the readings are too few to say so. A coarse sensor may well do
    that on a still machine, and so may a dead one: a second standing, or a movement, tells them
    apart.
    """
    least = tilt_limit("repeated_readings", rig)
    pitches = [
        series.pitch_deg
        for series in captures
        if series.pitch_deg is not None and series.count >= least
    ]
    if len(pitches) < len(captures) or np.ptp(np.concatenate(pitches)) > 0:
        return None
    return float(pitches[0][0])


def stuck_findings(capture: Capture, inputs: TiltInputs, series: TiltSeries) -> said.Findings:
    """Tilt channels that were frozen for a while, one finding each.

    Either the force that the accelerometer felt says that the channel must have moved meanwhile,
    as it did in the rest of the capture; or its own noise at rest could not have left it in peace.

    Args:
        capture: The numbers as received.
        inputs: Which columns they are.
        series: The same readings in degrees and g.
    """
    rests = rests_of(series)
    least_s = tilt_limit("stuck_s", inputs.rig)
    is_stuck = False
    for name, place in inputs.places.values():
        raw = capture.values[capture.columns[place]]
        run = longest_run(raw)
        if len(run) < max(LEAST_STUCK, round(least_s * series.rate_hz)):
            continue
        by_force = name == inputs.pitch_name and _ignores_force(series, run)
        if by_force or _ignores_noise(raw, run, rests):
            is_stuck = True
            held_s = len(run) / series.rate_hz
            yield said.fail(
                "frozen/by-force" if by_force else "frozen/by-noise", held_s, least_s, channel=name
            )
    if series.pitch_deg is not None and series.force_g is not None and not is_stuck:
        moved_s, most_s = _asleep_s(series.pitch_deg, series), tilt_limit("asleep_s", inputs.rig)
        if moved_s >= most_s:
            yield said.unknown("frozen/asleep", moved_s, most_s)


def _asleep_s(angle: Array, series: TiltSeries) -> float:
    """How long an angle repeated one reading while the machine was moved, s: calm, or dead."""
    moves = np.ones(angle.size, dtype=np.int64)
    for rest in rests_of(series):
        moves[rest.first : rest.stop] = 0
    return float(np.add.reduceat(moves, _changes(angle)[:-1]).max()) / series.rate_hz


def longest_run(readings: Array) -> Run:
    """The longest run of readings, shape (n,) or (n, axes), that are equal in every axis."""
    edges = _changes(readings)
    longest = int(np.argmax(np.diff(edges)))
    return Run(int(edges[longest]), int(edges[longest + 1]))


def _changes(readings: Array) -> npt.NDArray[np.intp]:
    """Indices of the readings that differ from the one before, with both ends."""
    rows = readings.reshape(readings.shape[0], -1)
    changed = np.any(rows[1:] != rows[:-1], axis=1)
    return np.flatnonzero(np.concatenate(([True], changed, [True])))


def _ignores_force(series: TiltSeries, run: Run) -> bool:
    """Whether the force says that the pitch must have moved while it was repeated.

    How the pitch follows the force is fitted to all other readings, so the mounting does not
    matter. Source: ordinary least squares.
    """
    angle, force_g = series.pitch_deg, series.force_g
    if angle is None or force_g is None or angle.size - len(run) < 10 * LEAST_STUCK:
        return False
    window = max(1, round(SMOOTH_S * series.rate_hz))
    force = np.column_stack([_smooth(axis, window) for axis in force_g.T])
    seen = _smooth(angle, window)
    terms = np.column_stack([force, np.ones(angle.size)])
    others = np.ones(angle.size, dtype=bool)
    others[max(0, run.first - window) : run.stop + window] = False
    weights = np.linalg.lstsq(terms[others], seen[others], rcond=1e-6)[0]
    left = float(np.std(seen[others] - terms[others] @ weights))
    late = round(_late_s(series) * series.rate_hz)
    inside = terms[run.first + window : run.stop - late] @ weights
    if inside.size < LEAST_STUCK or left >= float(np.std(seen[others])) / 2:
        return False
    steps = np.abs(np.diff(np.unique(angle)))
    step_deg = float(steps.min()) if steps.size else 0.0
    least_deg = max(LEAST_MOVE_DEG, MOST_STEPS * step_deg, MOST_RESIDUALS * left)
    return float(np.ptp(inside)) > least_deg


def _late_s(series: TiltSeries) -> float:
    """How late the angle comes behind the force, s, with some room."""
    lag = pitch_lag(series)
    return LATE_S if lag is None else min(LATE_S, max(0.0, lag.lag_s) + LATE_ROOM_S)


def _ignores_noise(raw: Array, run: Run, rests: Sequence[Run]) -> bool:
    """Whether a channel's noise at rest could not have left it on one reading for so long."""
    others = [
        raw[part]
        for rest in rests
        for part in (slice(rest.first, min(rest.stop, run.first)),
                     slice(max(rest.first, run.stop), rest.stop))
        if part.stop - part.start >= LEAST_STUCK
    ]  # fmt: skip
    steps = np.diff(np.unique(raw))
    if not others or not steps.size:
        return False
    quietest = min(float(np.std(part)) for part in others)
    if quietest < LEAST_NOISE_STEPS * float(steps.min()):
        return False
    repeats = max(MOST_REPEATS, *(float(np.mean(part[1:] == part[:-1])) for part in others))
    longest = max(len(longest_run(part)) for part in others)
    rare = np.log(repeats) * len(run) < np.log(CHANCE)
    return bool(rare and len(run) > RUNS_APART * longest)


def _smooth(values: Array, window: int) -> Array:
    """Running mean, same shape; the ends are means of what there is."""
    kernel = np.ones(window)
    counts = np.convolve(np.ones(values.size), kernel, mode="same")
    smoothed: Array = np.convolve(values, kernel, mode="same") / counts
    return smoothed
