"""What a push does to the pitch reading."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.parts import figures, number, section_of
from calib.store.documents.surge import SurgeDocument
from calib.store.records import Record

_FUSED = {True: "yes", False: "NO", None: None}


def section(context: Context, record: Record, document: SurgeDocument) -> Markup:  # noqa: ARG001
    """False pitch in the shake, and what a launch would make of it."""
    return section_of(
        record,
        "Push read as tilt",
        figures(
            [
                ("tells tilt from push", _FUSED[document.fused]),
                ("false pitch in the shake", number(document.false_pitch_deg, 1, "°")),
                ("false pitch in a launch", number(document.launch_false_pitch_deg, 1, "°")),
                ("launch assumed", number(document.launch_m_s2, 1, "m/s²")),
                ("strength of the shake", number(document.shake_g, 2, "g")),
                ("rate of the shake", number(document.shake_hz, 1, "Hz")),
                ("share of a bare accelerometer's", number(document.gain, 2, "")),
            ]
        ),
    )
