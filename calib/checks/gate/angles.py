"""The two angles of a tilt-based aid: where it starts to act, and where it must have ended."""

from __future__ import annotations

from calib.checks.limits import tilt_limit
from calib.store.documents.finding import Severity
from calib.store.documents.level import LevelDocument
from calib.store.documents.still import StillDocument
from calib.store.documents.surge import SurgeDocument
from calib.store.documents.trust import Evidence
from calib.store.rig import Rig
from calib.tilt.geometry import balance_angle_deg


def start_evidence(
    zero: LevelDocument | None,
    rider: LevelDocument | None,
    surge: SurgeDocument | None,
    still: StillDocument | None,
    rig: Rig,
) -> Evidence:
    """The angle at which the aid starts to act, above all that is not a rising nose."""
    name = "angle where the aid starts"
    starts = rig.tilt.aid_starts_deg
    noise_sds, margin_deg = tilt_limit("noise_sds", rig), tilt_limit("start_margin_deg", rig)
    parts = {
        "the zero's uncertainty": None if zero is None or zero.pitch is None else zero.pitch.u95,
        "the rider's tilt": _rider(rider),
        "dive (dive_deg)": rig.tilt.dive_deg,
        "noise": None if still is None or still.noise is None else noise_sds * still.noise,
        "a launch's false pitch": None if surge is None else surge.launch_false_pitch_deg,
    }
    unknown = [what for what, value in parts.items() if value is None]
    if starts is None:
        return _unknown(
            name,
            "The angle at which the aid starts to act is not known.",
            "Give aid_starts_deg under [tilt] in the rig file.",
        )
    if unknown:
        return _unknown(
            name,
            f"Not known: {', '.join(unknown)}.",
            "Measure what is named above; dive_deg goes under [tilt] in the rig file.",
        )
    total = sum(value for value in parts.values() if value is not None)
    largest = max(parts, key=lambda what: parts[what] or 0.0)
    text = (
        f"It starts at {starts:.1f} degrees; {total:.1f} can be reached without the nose rising "
        f"(most of it {largest})."
    )
    if starts >= total + margin_deg:
        return Evidence(name=name, verdict=Severity.PASS, age_h=None, text=text)
    return Evidence(
        name=name,
        verdict=Severity.FAIL,
        age_h=None,
        text=text,
        action=f"Let it start at {total + margin_deg:.0f} degrees or more, or shrink what is "
        "named.",
    )


def _rider(document: LevelDocument | None) -> float | None:
    """The rider's tilt, degrees, at its worst."""
    if document is None or document.pitch is None or document.pitch.rider_tilt is None:
        return None
    return abs(document.pitch.rider_tilt) + 2 * (document.pitch.rider_tilt_u or 0.0)


def end_evidence(zero: LevelDocument | None, rig: Rig) -> Evidence | None:
    """The angle by which the aid must have taken all power, below the balance angle.

    None where no centre of gravity is given: then there is nothing to hold it against.
    """
    name = "angle where it has ended"
    tilt = rig.tilt
    ended, ahead, height = tilt.aid_ended_deg, tilt.cg_ahead_of_rear_axle_mm, tilt.cg_height_mm
    if ahead is None and height is None:
        return None
    if ended is None:
        return _unknown(
            name,
            "The angle by which the aid has taken all power is not known.",
            "Give aid_ended_deg under [tilt] in the rig file.",
        )
    if tilt.aid_starts_deg is not None and ended <= tilt.aid_starts_deg:
        return Evidence(
            name=name,
            verdict=Severity.FAIL,
            age_h=None,
            text=f"It would end at {ended:.1f} degrees, before it starts at "
            f"{tilt.aid_starts_deg:.1f}.",
            action="Exchange aid_starts_deg and aid_ended_deg.",
        )
    if ahead is None or height is None:
        return _unknown(
            name,
            "Only half of where the centre of gravity lies is known, so no balance angle is.",
            "Give cg_ahead_of_rear_axle_mm and cg_height_mm, rider rearmost, under [tilt].",
        )
    if zero is None or zero.pitch is None:
        return _unknown(name, "Without a zero the angle means nothing.", "Run 'calib level'.")
    balance, margin_deg = balance_angle_deg(ahead, height), tilt_limit("end_margin_deg", rig)
    text = f"All power is gone at {ended:.1f} degrees; the machine balances at {balance:.1f}."
    if ended + zero.pitch.u95 + margin_deg <= balance:
        return Evidence(name=name, verdict=Severity.PASS, age_h=None, text=text)
    return Evidence(
        name=name,
        verdict=Severity.FAIL,
        age_h=None,
        text=text,
        action=f"Let it have ended by {balance - zero.pitch.u95 - margin_deg:.0f} degrees.",
    )


def _unknown(name: str, text: str, action: str) -> Evidence:
    return Evidence(name=name, verdict=Severity.UNKNOWN, age_h=None, text=text, action=action)
