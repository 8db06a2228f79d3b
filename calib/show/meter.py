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
    """Verdict and how well its volts are known now at a glance; then every pair of readings."""
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
            ("rows of its curve", None if document.curve is None else f"{len(document.curve)}"),
        ),
        tables=_pairs(document),
    )


def _figures(document: MeterDocument) -> tuple[Figure, ...]:
    """How well its volts are known now, and where; nothing where it was not trued."""
    u_V = next((each.value for each in document.findings if each.code == "trued"), None)
    if u_V is None or document.from_V is None or document.to_V is None:
        return ()
    middle_V = 0.5 * (document.from_V + document.to_V)
    label = f"trued, at {middle_V:.1f} V to within (95 %)"
    return (Figure(label, f"±{1e3 * KNOWN_FACTOR * u_V:.0f}", "mV"),)


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
