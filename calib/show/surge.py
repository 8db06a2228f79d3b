"""False pitch of a push: in the shake, and of a launch."""

from __future__ import annotations

from calib.show.console import Screen
from calib.show.page import print_view
from calib.show.view import Figure, View, known, number
from calib.store.documents.surge import SurgeDocument

_FUSED = {True: "yes", False: "NO", None: None}


def show_surge(document: SurgeDocument, console: Screen) -> None:
    """Verdict and the two false pitches at a glance; then the shake."""
    print_view(console, surge_view(document), document)


def surge_view(document: SurgeDocument) -> View:
    """What is shown of a shake fore and aft."""
    share = document.gain
    return View(
        about="false pitch of a push",
        right="",
        verdict=document.verdict,
        findings=document.findings,
        figures=_figures(document),
        facts=known(
            ("tells tilt from push", _FUSED[document.fused]),
            ("false pitch in the shake", number(document.false_pitch_deg, 1, "°")),
            ("false pitch in a launch", number(document.launch_false_pitch_deg, 1, "°")),
            ("launch assumed", number(document.launch_m_s2, 1, "m/s²")),
            ("strength of the shake", number(document.shake_g, 2, "g")),
            ("rate of the shake", number(document.shake_hz, 1, "Hz")),
            (
                "share of a bare accelerometer's",
                number(None if share is None else 100 * share, 0, "%"),
            ),
        ),
    )


def _figures(document: SurgeDocument) -> tuple[Figure, ...]:
    figures = []
    if document.false_pitch_deg is not None:
        figures.append(Figure("shaken, it showed", f"{document.false_pitch_deg:.1f}", "deg"))
    if document.launch_false_pitch_deg is not None:
        label = f"a launch at {document.launch_m_s2:.1f} m/s²"
        figures.append(Figure(label, f"{document.launch_false_pitch_deg:.1f}", "deg"))
    return tuple(figures)
