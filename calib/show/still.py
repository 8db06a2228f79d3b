"""A rest: how long to average, how far it wanders, the curve in bars."""

from __future__ import annotations

import math

from calib.show.console import Screen, Text
from calib.show.page import print_view
from calib.show.view import Figure, View, known, number
from calib.store.documents.still import StillDocument

BAR_CHARS = 44
MOST_ROWS = 10


def show_still(document: StillDocument, console: Screen) -> None:
    """Verdict, averaging time and drift at a glance, with the curve."""
    curve = _curve_lines(document) if document.verdict.is_good else []
    print_view(console, still_view(document), document, more=curve)


def still_view(document: StillDocument) -> View:
    """What is shown of a rest."""
    unit = document.unit
    return View(
        about=f"{document.channel or 'pitch'} at rest",
        right=f"{document.hold_s or 0.0:.0f} s of rest",
        verdict=document.verdict,
        findings=document.findings,
        figures=_figures(document),
        facts=known(
            ("noise of one reading", number(document.noise, 4, unit)),
            ("average over", number(document.average_s, 1, "s")),
            ("drift", number(document.drift_per_h, 4, f"{unit}/h", document.drift_expanded_per_h)),
            ("late by", number(document.lag_s, 2, "s")),
        ),
    )


def _figures(document: StillDocument) -> tuple[Figure, ...]:
    figures = []
    if document.average_s is not None:
        figures.append(Figure("average for", f"{document.average_s:.3g}", "s"))
    if document.drift_per_h is not None:
        figures.append(Figure("drift an hour", f"{document.drift_per_h:+.2g}", document.unit))
    return tuple(figures)


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
