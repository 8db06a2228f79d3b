"""Whether the two tracks of a control agree over the whole travel."""

from __future__ import annotations

from calib.checks.limits import limit
from calib.checks.travel.numbers import TravelSettings, measured_in
from calib.controls.travel import TravelMeasurement
from calib.controls.two_track import track_agreement
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
            "tracks-disagree",
            apart_pct,
            most_pct,
            channel=name,
            longest_ms=1000.0 * agreement.longest_s,
            allowed_ms=1000.0 * longest_s,
        )
    if not agreement.judged:
        skew_s = agreement.skew_s
        return said.unknown(
            "second-track-unknown/slow", channel=name, skew_s=skew_s, apart_pct=apart_pct
        )
    return said.passes("tracks-agree", apart_pct, most_pct, channel=name)
