"""Whether the two tracks of a control agree over the whole travel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calib.checks.limits import limit
from calib.checks.travel.numbers import TravelSettings, measured_in
from calib.controls.travel import TravelMeasurement
from calib.measure.sliding import edges_of, least_around
from calib.store.capture import Capture
from calib.store.columns import Floats, has_column, in_base_unit
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.rig import Channel, Rig


def second_track_findings(
    capture: Capture, rig: Rig, channel: str, measured: TravelMeasurement
) -> said.Findings:
    """Findings on a control's second track; none where the rig file names none.

    Args:
        capture: Presses and releases, both tracks recorded.
        rig: What the columns are.
        channel: The control's first track.
        measured: Its travel.
    """
    name = rig.channels[channel].second_track
    if name is None:
        return
    if not has_column(capture.columns, rig, name):
        yield said.unknown("second-track-unknown", channel=name)
        return
    own = _percent(in_base_unit(capture, rig, channel), measured)
    second = measured_in(capture, rig, name, TravelSettings())
    other = _percent(in_base_unit(capture, rig, name), second)
    if own is None or other is None:
        yield said.unknown("second-track-unknown/unmoved", channel=name)
        return
    yield tracks_finding(name, rig.channel(name), capture.time_s, own, other)


def _percent(volts: Floats, measured: TravelMeasurement) -> Floats | None:
    """A track in per cent of its own travel; None where it has none."""
    if measured.rest is None or measured.full is None:
        return None
    share: Floats = (volts - measured.rest.mean) / (measured.full.mean - measured.rest.mean)
    return 100.0 * share


def tracks_finding(
    name: str, about: Channel, time_s: Floats, first_pct: Floats, second_pct: Floats
) -> Finding:
    """Whether two tracks agree.

    Args:
        name: The second of them.
        about: Its channel, for its own limits.
        time_s: Times, s, shape (n,), rising.
        first_pct: First track, 0 at rest and 100 at full travel, shape (n,).
        second_pct: Second track, likewise.
    """
    most_pct, longest_s = limit("tracks_apart_pct", about), limit("tracks_apart_s", about)
    agreement = track_agreement(
        time_s, first_pct, second_pct, most_pct=most_pct, longest_s=longest_s
    )
    apart_pct = agreement.largest_pct
    if agreement.failures:
        return said.fail(
            "tracks-disagree", apart_pct, most_pct, channel=name, tracks=agreement, most_s=longest_s
        )
    if not agreement.judged:
        return said.unknown("second-track-unknown/slow", channel=name, tracks=agreement)
    return said.passes("tracks-agree", apart_pct, most_pct, channel=name)


@dataclass(frozen=True)
class TrackAgreement:
    """How two tracks agree, in per cent of travel.

    Attributes:
        largest_pct: Largest difference that the moments of reading cannot explain.
        longest_s: Longest stretch above what they may differ by, s.
        failures: Count of such stretches longer than they may be and one refresh.
        skew_s: Time by which the tracks may have been read apart, s.
        judged: Whether the tracks are refreshed often enough for the rule.
    """

    largest_pct: float
    longest_s: float
    failures: int
    skew_s: float
    judged: bool


def track_agreement(
    time_s: Floats, first_pct: Floats, second_pct: Floats, *, most_pct: float, longest_s: float
) -> TrackAgreement:
    """Agreement of two tracks, each in per cent of its own travel.

    A track may be read later than the other, or repeat its last value until it is read again.
    What differs from the other track's whole range within the refresh interval of both is a
    difference; what lies inside that range is not.

    Args:
        time_s: Times, s, shape (n,), rising.
        first_pct: First track, 0 at rest and 100 at full travel, shape (n,).
        second_pct: Second track, likewise.
        most_pct: Limit ``tracks_apart_pct``.
        longest_s: Limit ``tracks_apart_s``.

    Returns:
        The agreement.

    Source: as the two limits; the treatment of stale values is ours.
    """
    if len(time_s) < 2:
        return TrackAgreement(0.0, 0.0, 0, 0.0, judged=False)
    step_s = float(np.median(np.diff(time_s)))
    rows = max(refresh_rows(first_pct), refresh_rows(second_pct))
    width = 2 * rows + 1
    low = least_around(second_pct, width)
    high = -least_around(-second_pct, width)
    difference = np.maximum(np.maximum(first_pct - high, low - first_pct), 0.0)
    above = difference > most_pct
    starts, stops = edges_of(above)
    lengths = time_s[np.minimum(stops, len(time_s) - 1)] - time_s[starts]
    return TrackAgreement(
        largest_pct=float(difference.max()),
        longest_s=float(lengths.max()) if lengths.size else 0.0,
        # One stale reading alone lasts for a refresh: a difference must outlast it.
        failures=int((lengths > longest_s + rows * step_s).sum()),
        skew_s=rows * step_s,
        judged=rows * step_s <= longest_s,
    )


def refresh_rows(track: Floats) -> int:
    """Rows for which a track repeats its value while it is being refreshed, at least 1.

    The spacing of changes while the signal moves: the lower quartile of the distances between
    rows at which the value changes.

    Source: own choice, because a stale row is a copy of the one before it.
    """
    changes = np.flatnonzero(np.diff(track) != 0.0)
    if len(changes) < 3:
        return 1
    return max(1, int(np.quantile(np.diff(changes), 0.25)))
