"""Which way the tilt sensor counts: pose by pose what it read."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup, table
from calib.show.report.parts import NO_FIGURE, figures, number, section_of
from calib.store.documents.signs import SignsDocument
from calib.store.records import Record

_ANSWERS = {True: "yes", False: "NO", None: NO_FIGURE}


def section(context: Context, record: Record, document: SignsDocument) -> Markup:  # noqa: ARG001
    """Sign, axis, scale, and the readings that prove them."""
    rows = [
        (
            each.pose,
            f"{each.pitch:+.2f}°",
            f"{each.pitch_change:+.2f}°",
            NO_FIGURE if each.roll_change is None else f"{each.roll_change:+.2f}°",
        )
        for each in document.poses
    ]
    return section_of(
        record,
        "Sign, axis and scale of the tilt sensor",
        figures(
            [
                ("it counts", document.convention),
                ("the controller expects", document.expects),
                ("pitch answers to the nose alone", _ANSWERS[document.axis_ok]),
                ("measured over true angle", number(document.scale_ratio, 2, "")),
                ("gravity over what it must be", number(document.gravity_ratio, 3, "")),
                ("share of a lean in pitch", _share(document.cross_share)),
                ("turned about the upright axis", number(document.yaw_deg, 1, "°")),
                ("mounting", document.mounting),
                ("late by", number(document.lag_s, 2, "s")),
            ]
        ),
        table(("pose", "pitch", "change of pitch", "change of roll"), rows),
    )


def _share(share: float | None) -> str | None:
    return number(None if share is None else 100 * share, 0, "%")
