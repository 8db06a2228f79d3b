"""A proof of sign: which way it counts, the raised nose drawn, poses, mounting."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import print_view
from calib.show.two_wheels import SideView, two_wheels
from calib.show.view import Figure, Table, View, known, number
from calib.store.documents.signs import SignsDocument

_ANSWERS = {True: "yes", False: "NO", None: None}


def show_signs(document: SignsDocument, console: Screen) -> None:
    """Verdict, sign, picture and the worst finding at a glance; then poses and mounting."""
    picture = _picture(document) if document.verdict.is_good else []
    print_view(console, signs_view(document), document, picture)


def signs_view(document: SignsDocument) -> View:
    """What is shown of a proof of sign."""
    convention = document.convention if document.verdict.is_good else None
    share = document.cross_share
    return View(
        about="sign of the tilt sensor",
        right=f"{document.basis}'s degrees",
        verdict=document.verdict,
        findings=document.findings,
        figures=_figures(document),
        facts=known(
            ("it counts", convention),
            ("the controller expects", document.expects),
            ("pitch answers to the nose alone", _ANSWERS[document.axis_ok]),
            ("measured over true angle", number(document.scale_ratio, 2, "")),
            ("gravity over what it must be", number(document.gravity_ratio, 3, "")),
            ("share of a lean in pitch", number(None if share is None else 100 * share, 0, "%")),
            ("turned about the upright axis", number(document.yaw_deg, 1, "°")),
            ("accelerometer", document.mounting),
            ("late by", number(document.lag_s, 2, "s")),
        ),
        tables=_poses(document),
    )


def _figures(document: SignsDocument) -> tuple[Figure, ...]:
    if document.convention is None:
        return ()
    way = Figure("nose up, reading goes", "up" if document.pitch_sign == 1 else "down", "")
    ratio = document.scale_ratio
    if ratio is None:
        return (way,)
    return (way, Figure(f"of what the {document.scale_against} says", f"{ratio:.2f}", ""))


def _poses(document: SignsDocument) -> tuple[Table, ...]:
    """What each pose read; the change of roll only where something shows it."""
    rolls = any(each.roll_change is not None for each in document.poses)
    rows = tuple(
        (
            each.pose,
            f"{each.pitch:+.2f}°",
            f"{each.pitch_change:+.2f}°",
            *([number(each.roll_change, 2, "°") or "not read"] if rolls else []),
        )
        for each in document.poses
    )
    head = ("pose", "pitch", "change of pitch", *(["change of roll"] if rolls else []))
    return (Table(head, rows),) if rows else ()


def _picture(document: SignsDocument) -> list[Text]:
    front = next((pose for pose in document.poses if pose.pose == "front raised"), None)
    if front is None or document.expected_deg is None:
        return []
    expects = document.expects or "not known"
    rows = two_wheels(
        SideView(
            0.0,
            f"the controller expects: {expects}",
            f"nose up by {document.expected_deg:.1f}; the reading moved by "
            f"{front.pitch_change:+.1f} degrees",
            block_rows=1,
        )
    )
    return [Text(f" {row}", no_wrap=True) for row in rows]
