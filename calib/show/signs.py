"""The page of ``calib signs``: which way it counts, the raised nose drawn, poses, mounting."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import (
    Figure,
    detail_lines,
    figure_lines,
    headline,
    large_lines,
    note_lines,
    print_page,
    verdict_lines,
    worst_lines,
)
from calib.show.two_wheels import SideView, two_wheels
from calib.store.documents.signs import SignsDocument


def show_signs(document: SignsDocument, console: Screen) -> None:
    """Verdict, sign, picture and the worst finding at a glance; then poses and mounting."""
    glance = [
        headline("sign of the tilt sensor", f"{document.basis}'s degrees"),
        *verdict_lines(document.verdict),
        Text(),
        *_sign_lines(document),
        *_picture(document),
        *worst_lines(document),
    ]
    details = [*_pose_lines(document), *_mounting_lines(document), Text(), *detail_lines(document)]
    print_page(console, glance, details)


def _sign_lines(document: SignsDocument) -> list[Text]:
    if document.convention is None:
        return large_lines("no sign")
    way = "up" if document.pitch_sign == 1 else "down"
    ratio = document.scale_ratio
    figures = [Figure("nose up, reading goes", way, "")]
    if ratio is not None:
        figures.append(Figure(f"of what the {document.scale_against} says", f"{ratio:.2f}", ""))
    return figure_lines(figures)


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


def _pose_lines(document: SignsDocument) -> list[Text]:
    """One row a pose."""
    lines = []
    for pose in document.poses:
        roll = "" if pose.roll_change is None else f"   roll {pose.roll_change:+6.1f}"
        words = f"  {pose.pose:<12} reads {pose.pitch:+7.2f}, change {pose.pitch_change:+6.2f}"
        lines.append(Text(f"{words}{roll}", no_wrap=True))
    return lines


def _mounting_lines(document: SignsDocument) -> list[Text]:
    lines = [] if document.mounting is None else note_lines(f"accelerometer: {document.mounting}")
    if document.gravity_ratio is not None:
        lines += note_lines(f"|g| is {document.gravity_ratio:.3f} of what it must be")
    if document.lag_s is not None:
        lines += note_lines(f"the angle is {document.lag_s:.2f} s late")
    return lines
