"""Whether the two tracks of a control agree over the whole travel."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calib.checks.limits import limit
from calib.controls.travel import TravelMeasurement, measure_travel
from calib.controls.two_track import TrackAgreement, track_agreement
from calib.store.capture import Capture
from calib.store.columns import has_column, in_base_unit, received
from calib.store.conversion import step_in
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel, Rig

Floats = NDArray[np.float64]


def second_track_findings(
    capture: Capture, rig: Rig, about: Channel, measured: TravelMeasurement
) -> list[Finding]:
    """Findings on a control's second track; none where the rig file names none.

    Args:
        capture: Presses and releases, both tracks recorded.
        rig: What the columns are.
        about: The control's first track.
        measured: Its travel.
    """
    name = about.second_track
    if name is None:
        return []
    if not has_column(capture.columns, rig, name):
        return [_unknown(name, "was not recorded", "Record both tracks at once.")]
    volts = in_base_unit(capture, rig, name)
    second = measure_travel(
        capture.time_s,
        volts,
        lsb_V=step_in(rig.channel(name), received(capture, rig, name)),
        gaps=capture.gap_indices,
    )
    own = _percent(in_base_unit(capture, rig, _name_of(rig, about)), measured)
    other = _percent(volts, second)
    if own is None or other is None:
        return [_unknown(name, "did not move with the first", "Look at its wire and its plug.")]
    agreement = track_agreement(
        capture.time_s,
        own,
        other,
        most_pct=limit("tracks_apart_pct", rig.channel(name)),
        longest_s=limit("tracks_apart_s", rig.channel(name)),
    )
    return [agreement_finding(name, agreement)]


def _name_of(rig: Rig, about: Channel) -> str:
    return next(name for name, channel in rig.channels.items() if channel is about)


def _percent(volts: Floats, measured: TravelMeasurement) -> Floats | None:
    """A track in per cent of its own travel; None where it has none."""
    if measured.rest is None or measured.full is None:
        return None
    share: Floats = (volts - measured.rest.mean) / (measured.full.mean - measured.rest.mean)
    return 100.0 * share


def agreement_finding(name: str, agreement: TrackAgreement) -> Finding:
    """Whether two tracks agree; ``name`` is the second of them."""
    figures = f"at most {agreement.largest_pct:.1f} % of travel apart"
    if agreement.failures:
        return said.fail(
            "tracks-disagree",
            agreement.largest_pct,
            agreement.most_pct,
            channel=name,
            figures=figures,
            ms=1000.0 * agreement.longest_s,
            ms2=1000.0 * agreement.allowed_s,
        )
    if not agreement.judged:
        return _unknown(
            name,
            f"is refreshed only every {agreement.skew_s:.2f} s; {figures}",
            "Record both tracks faster than ten times a second.",
        )
    return said.passes(
        "tracks-agree", agreement.largest_pct, agreement.most_pct, channel=name, figures=figures
    )


def _unknown(name: str, what: str, action: str) -> Finding:
    return Finding(
        code="second-track-unknown",
        severity=Severity.UNKNOWN,
        text=f"The second track {name} {what}.",
        action=action,
        channel=name,
    )
