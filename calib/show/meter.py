"""The page of ``calib meter``: how far the logger was off, and how well it is known now."""

from __future__ import annotations

from calib.measure.coverage import KNOWN_FACTOR
from calib.show.console import Screen, Text
from calib.show.page import (
    Figure,
    detail_lines,
    figure_lines,
    headline,
    large_lines,
    print_page,
    verdict_lines,
    worst_lines,
)
from calib.store.documents.meter import MeterDocument


def show_meter(document: MeterDocument, console: Screen) -> None:
    """Verdict, gain and offset at a glance; then every pair of readings."""
    figures = []
    if document.gain is not None and document.offset_V is not None:
        figures = [
            Figure("gain", f"{document.gain:.4f}", ""),
            Figure("offset", f"{1e3 * document.offset_V:+.0f}", "mV"),
        ]
    glance = [
        headline(f"{document.channel} against a meter", f"{len(document.points)} readings"),
        *verdict_lines(document.verdict),
        Text(),
        *(figure_lines(figures) if figures else large_lines("not trued")),
        *worst_lines(document),
    ]
    print_page(console, glance, [*_point_lines(document), Text(), *detail_lines(document)])


def _point_lines(document: MeterDocument) -> list[Text]:
    """One line a pair of readings."""
    if not document.points:
        return []
    lines = [Text("  logger (± 95 %)    meter (± 95 %)     off the line")]
    for index, point in enumerate(document.points):
        rest = ""
        if index < len(document.residuals_V):
            rest = f"{1e3 * document.residuals_V[index]:+6.1f} mV"
        lines.append(
            Text(
                f"  {point.logger:.4f} ± {KNOWN_FACTOR * point.u_logger:.4f} V  "
                f"{point.meter:.4f} ± {KNOWN_FACTOR * point.u_meter:.4f} V  {rest}"
            )
        )
    return lines
