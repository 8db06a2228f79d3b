"""A logger against a meter: how far it was off, and how well it is known now."""

from __future__ import annotations

from itertools import zip_longest

from calib.measure.coverage import KNOWN_FACTOR
from calib.show.console import Screen
from calib.show.page import print_view
from calib.show.view import Figure, Table, View, known, number, spread_text
from calib.store.documents.meter import MeterDocument
from calib.store.text import counted


def show_meter(document: MeterDocument, console: Screen) -> None:
    """Verdict, gain and offset at a glance; then every pair of readings."""
    print_view(console, meter_view(document), document)


def meter_view(document: MeterDocument) -> View:
    """What is shown of a truing."""
    gain_spread, offset_spread = _expanded(document.u_gain), _expanded(document.u_offset_V)
    return View(
        about=f"{document.channel} against a meter",
        right=counted(len(document.points), "reading"),
        verdict=document.verdict,
        findings=document.findings,
        figures=_figures(document),
        facts=known(
            ("trued from", number(document.from_V, 2, "V")),
            ("trued to", number(document.to_V, 2, "V")),
            (
                "true volts a logger's volt",
                number(document.gain, 4, "", gain_spread),
            ),
            ("offset", number(document.offset_V, 4, "V", offset_spread)),
        ),
        tables=_pairs(document),
    )


def _figures(document: MeterDocument) -> tuple[Figure, ...]:
    """Gain and offset, or how many rows the curve has; nothing where it was not trued."""
    if document.gain is None or document.offset_V is None or not document.verdict.is_good:
        return ()
    if document.curve is not None:
        return (Figure("rows of the curve", f"{len(document.curve)}", ""),)
    return (
        Figure("gain", f"{document.gain:.4f}", ""),
        Figure("offset", f"{1e3 * document.offset_V:+.0f}", "mV"),
    )


def _pairs(document: MeterDocument) -> tuple[Table, ...]:
    rows = tuple(
        (
            f"{point.logger:.3f} V{spread_text(KNOWN_FACTOR * point.u_logger, 3)}",
            f"{point.meter:.3f} V{spread_text(KNOWN_FACTOR * point.u_meter, 3)}",
            "not known" if residual_V is None else f"{1e3 * residual_V:+.1f} mV",
        )
        for point, residual_V in zip_longest(
            document.points, document.residuals_V[: len(document.points)]
        )
    )
    return (Table(("logger", "meter", "meter less line"), rows),) if rows else ()


def _expanded(u: float | None) -> float | None:
    return None if u is None else KNOWN_FACTOR * u
