"""What a level zero says of itself, of the floor, the standings and the rider."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from calib.checks.limits import tilt_limit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Rig
from calib.tilt.attitude import angle_between_deg, nose_up_deg
from calib.tilt.series import TiltReading, TiltSeries, reading_of, rests_of
from calib.tilt.zero import LevelZero

SWAY_S: Final = 0.5
"""Own choice: a held machine sways at about one stroke in one to three seconds, s."""

SWAYS: Final = 6
"""Own choice: means of fewer half seconds than this say nothing of a sway."""

Readings = Sequence[TiltReading]
"""The standings of one heading."""

FEW: Final = 100
"""Own choice: fewer readings than this may be why no rest was found."""


@dataclass(frozen=True)
class Rider:
    """Shift of pitch when the rider sits, degrees, nose up positive."""

    tilt_deg: float
    u_deg: float


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
    others = [reading_of(series, still) for still in rests_of(series, least_s=least_s).stretches]
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
        yield said.caution(
            "floor-not-separated", pitch.u95, most_u95_deg, lead=lead, zero_deg=pitch.zero
        )
        return
    yield said.within(
        "zero",
        "zero-uncertain",
        pitch.u95,
        most_u95_deg,
        lead=lead,
        zero_deg=pitch.zero,
        how="turned end for end" if zero.method == "turned" else "by the typed slope",
        largest=pitch.budget[0].source if pitch.budget else "nothing",
    )
    slope_deg = pitch.floor_slope or 0.0
    yield from said.above("steep-floor", abs(slope_deg), steep_deg, slope_deg=slope_deg)


def standing_findings(
    zero: LevelZero, firsts: Readings, turned: Readings, change_k: float | None, rig: Rig
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
