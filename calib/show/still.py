"""The page of ``calib still``: how long to average, how far it wanders, the curve in bars."""

from __future__ import annotations

import math

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
from calib.store.documents.still import StillDocument

BAR_CHARS = 44
MOST_ROWS = 10


def show_still(document: StillDocument, console: Screen) -> None:
    """Verdict, averaging time and drift at a glance; then the curve."""
    figures = []
    if document.average_s is not None:
        figures.append(Figure("average for", f"{document.average_s:.3g}", "s"))
    if document.drift_per_h is not None:
        figures.append(Figure("drift an hour", f"{document.drift_per_h:+.2g}", document.unit))
    about = document.channel or "pitch"
    glance = [
        headline(f"{about} at rest", f"{document.hold_s or 0.0:.0f} s of rest"),
        *verdict_lines(document.verdict),
        Text(),
        *(figure_lines(figures) if figures else large_lines("not known")),
        *worst_lines(document),
    ]
    print_page(console, glance, [*_curve_lines(document), Text(), *detail_lines(document)])


def _curve_lines(document: StillDocument) -> list[Text]:
    """Averages of each length and how far one differs from the next, as bars."""
    if not document.sigma:
        return []
    stride = max(1, math.ceil(len(document.sigma) / MOST_ROWS))
    tau, sigma = document.tau_s[::stride], document.sigma[::stride]
    most = max(sigma)
    lines = [Text("  averaged for    differs from the next by (Allan deviation)")]
    for seconds, spread in zip(tau, sigma, strict=True):
        bar = "▆" * max(1, round(BAR_CHARS * spread / most)) if most > 0 else ""
        lines.append(
            Text(f"  {seconds:10.3g} s  {spread:9.2g} {document.unit:<4} {bar}", no_wrap=True)
        )
    return lines
