"""The page of ``calib surge``: false pitch of the shake and of a launch."""

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
from calib.store.documents.surge import SurgeDocument


def show_surge(document: SurgeDocument, console: Screen) -> None:
    """Verdict and the two false pitches at a glance; then the shake."""
    figures = []
    if document.false_pitch_deg is not None:
        figures.append(Figure("shaken, it showed", f"{document.false_pitch_deg:.1f}", "deg"))
    if document.launch_false_pitch_deg is not None:
        label = f"a launch at {document.launch_m_s2:.1f} m/s²"
        figures.append(Figure(label, f"{document.launch_false_pitch_deg:.1f}", "deg"))
    glance = [
        headline("false pitch of a push"),
        *verdict_lines(document.verdict),
        Text(),
        *(figure_lines(figures) if figures else large_lines("not known")),
        *worst_lines(document),
    ]
    print_page(console, glance, [*_shake_lines(document), *detail_lines(document)])


def _shake_lines(document: SurgeDocument) -> list[Text]:
    if document.shake_g is None:
        return []
    rate = "" if document.shake_hz is None else f" at {document.shake_hz:.1f} a second"
    lines = note_lines(f"the shake was {document.shake_g:.2f} g{rate}")
    if document.gain is not None:
        share = 100 * document.gain
        lines += note_lines(f"{share:.0f} % of what a bare accelerometer shows came through")
    return [*lines, Text()]
