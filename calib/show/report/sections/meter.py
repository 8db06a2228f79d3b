"""The logger's scale, held against a multimeter."""

from __future__ import annotations

from itertools import zip_longest

from calib.measure.coverage import KNOWN_FACTOR
from calib.show.report.context import Context
from calib.show.report.markup import Markup, table
from calib.show.report.parts import NO_FIGURE, figures, number, section_of
from calib.show.sheet import spread_text
from calib.store.documents.meter import MeterDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: MeterDocument) -> Markup:  # noqa: ARG001
    """Gain and offset, and pair by pair how far the meter lay from the line."""
    rows = [
        (
            f"{point.logger:.3f} V{spread_text(KNOWN_FACTOR * point.u_logger, 3)}",
            f"{point.meter:.3f} V{spread_text(KNOWN_FACTOR * point.u_meter, 3)}",
            NO_FIGURE if residual_V is None else f"{1e3 * residual_V:+.1f} mV",
        )
        for point, residual_V in zip_longest(
            document.points, document.residuals_V[: len(document.points)]
        )
    ]
    return section_of(
        record,
        f"Scale of {document.channel}",
        figures(
            [
                (
                    "true volts a logger's volt",
                    number(document.gain, 4, "", _expanded(document.u_gain)),
                ),
                ("offset", number(document.offset_V, 4, "V", _expanded(document.u_offset_V))),
            ]
        ),
        table(("logger", "meter", "meter less line"), rows),
    )


def _expanded(u: float | None) -> float | None:
    return None if u is None else KNOWN_FACTOR * u
