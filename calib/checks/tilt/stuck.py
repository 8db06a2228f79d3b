"""A tilt channel that says the same over and over while the machine, or its own noise, goes on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from calib.checks.limits import tilt_limit
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.tilt.attitude import nose_up_deg
from calib.tilt.inputs import TiltInputs
from calib.tilt.lag import step_lag
from calib.tilt.series import TiltSeries, rests_of
from calib.tilt.stillness import Still

Array = npt.NDArray[np.float64]

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


def stuck_findings(capture: Capture, inputs: TiltInputs, series: TiltSeries) -> list[Finding]:
    """Tilt channels that were frozen for a while, one finding each; empty when none was.

    Either the force that the accelerometer felt says that the channel must have moved meanwhile,
    as it did in the rest of the capture; or its own noise at rest could not have left it in peace.

    Args:
        capture: The numbers as received.
        inputs: Which columns they are.
        series: The same readings in degrees and g.
    """
    rests = rests_of(series).stretches
    least_s = tilt_limit("stuck_s", inputs.rig)
    found = []
    for name, place in inputs.places.values():
        raw = capture.values[capture.columns[place]]
        run = _longest_run(raw)
        if run.count < max(LEAST_STUCK, round(least_s * series.rate_hz)):
            continue
        angle = {inputs.pitch_name: series.pitch_deg}.get(name)
        ignored = angle is not None and _ignores_force(angle, series, run)
        if ignored or _ignores_noise(raw, run, rests):
            found.append(_finding(name, run.count / series.rate_hz, least_s, ignored))
    if series.pitch_deg is not None and series.force_g is not None and not found:
        found += _asleep(series.pitch_deg, series, tilt_limit("asleep_s", inputs.rig))
    return found


def _asleep(angle: Array, series: TiltSeries, most_s: float) -> list[Finding]:
    """An angle that repeats one reading while the machine is moved: calm, or dead for a while."""
    moves = np.ones(angle.size, dtype=np.int64)
    for rest in rests_of(series).stretches:
        moves[rest.start : rest.stop] = 0
    edges = np.flatnonzero(np.concatenate(([True], angle[1:] != angle[:-1], [True])))
    moved_s = float(np.add.reduceat(moves, edges[:-1]).max()) / series.rate_hz
    if moved_s < most_s:
        return []
    return [said.unknown("frozen/asleep", moved_s, most_s)]


def _longest_run(raw: Array) -> Still:
    """The longest run of equal readings."""
    edges = np.flatnonzero(np.concatenate(([True], raw[1:] != raw[:-1], [True])))
    lengths = np.diff(edges)
    longest = int(np.argmax(lengths))
    return Still(int(edges[longest]), int(edges[longest + 1]))


def _ignores_force(angle: Array, series: TiltSeries, run: Still) -> bool:
    """Whether the force says that an angle must have moved while it was repeated.

    How the angle follows the force is fitted to all other readings, so the mounting does not
    matter. Source: ordinary least squares.
    """
    if series.force_g is None or angle.size - run.count < 10 * LEAST_STUCK:
        return False
    window = max(1, round(SMOOTH_S * series.rate_hz))
    force = np.column_stack([_smooth(axis, window) for axis in series.force_g.T])
    seen = _smooth(angle, window)
    terms = np.column_stack([force, np.ones(angle.size)])
    others = np.ones(angle.size, dtype=bool)
    others[max(0, run.start - window) : run.stop + window] = False
    weights = np.linalg.lstsq(terms[others], seen[others], rcond=1e-6)[0]
    left = float(np.std(seen[others] - terms[others] @ weights))
    late = round(_late_s(angle, series.force_g, series.rate_hz) * series.rate_hz)
    inside = terms[run.start + window : run.stop - late] @ weights
    if inside.size < LEAST_STUCK or left >= float(np.std(seen[others])) / 2:
        return False
    steps = np.abs(np.diff(np.unique(angle)))
    step_deg = float(steps.min()) if steps.size else 0.0
    least_deg = max(LEAST_MOVE_DEG, MOST_STEPS * step_deg, MOST_RESIDUALS * left)
    return float(np.ptp(inside)) > least_deg


def _late_s(angle: Array, force_g: Array, rate_hz: float) -> float:
    """How late an angle comes behind the force, s, with some room."""
    lag = step_lag(angle, nose_up_deg(force_g), rate_hz)
    return LATE_S if lag is None else min(LATE_S, max(0.0, lag.lag_s) + LATE_ROOM_S)


def _ignores_noise(raw: Array, run: Still, rests: Sequence[Still]) -> bool:
    """Whether a channel's noise at rest could not have left it on one reading for so long."""
    others = [
        raw[part]
        for rest in rests
        for part in (slice(rest.start, min(rest.stop, run.start)),
                     slice(max(rest.start, run.stop), rest.stop))
        if part.stop - part.start >= LEAST_STUCK
    ]  # fmt: skip
    steps = np.diff(np.unique(raw))
    if not others or not steps.size:
        return False
    quietest = min(float(np.std(part)) for part in others)
    if quietest < LEAST_NOISE_STEPS * float(steps.min()):
        return False
    repeats = max(MOST_REPEATS, *(float(np.mean(part[1:] == part[:-1])) for part in others))
    longest = max(_longest_run(part).count for part in others)
    rare = np.log(repeats) * run.count < np.log(CHANCE)
    return bool(rare and run.count > RUNS_APART * longest)


def _smooth(values: Array, window: int) -> Array:
    """Running mean, same shape; the ends are means of what there is."""
    kernel = np.ones(window)
    counts = np.convolve(np.ones(values.size), kernel, mode="same")
    smoothed: Array = np.convolve(values, kernel, mode="same") / counts
    return smoothed


def _finding(name: str, held_s: float, least_s: float, by_force: bool) -> Finding:
    why = "the machine was moved" if by_force else "its own noise should have moved it"
    return said.fail("frozen/finding", held_s, least_s, channel=name, why=why)
