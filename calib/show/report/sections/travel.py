"""One hand control: its ruler, its signal, how its rest scatters, what the uncertainty is of."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calib.controls.presses import Place, Presses, count_presses
from calib.errors import UsageError
from calib.show.report.context import Context, missing
from calib.show.report.drawings import budget_drawing, ruler_drawing
from calib.show.report.markup import Markup, element
from calib.show.report.parts import drawing, figures, number, section_of
from calib.show.report.plots import Labels, Level, Span, histogram_plot, signal_plot
from calib.show.ruler import travel_ruler
from calib.store.capture import Capture
from calib.store.columns import in_base_unit
from calib.store.conversion import step
from calib.store.documents.travel import TravelDocument
from calib.store.records import Record

_WORDS = {Place.REST: "rest", Place.FULL: "full travel"}


def section(context: Context, record: Record, document: TravelDocument) -> Markup:
    """Everything that is on file of one control's travel."""
    # The means are in the logger's volts: on a ruler in the controller's they would lie wrong.
    levels = [
        (level.mean, word)
        for word, level in (("rest", document.rest), ("full", document.full))
        if level is not None and document.basis == "logger"
    ]
    return section_of(
        record,
        f"Travel of {document.channel}",
        _figures(document),
        drawing(
            ruler_drawing(travel_ruler(document), context.drawing_name(), levels),
            f"The travel of {document.channel} as a ruler, in the {document.basis}'s volts.",
        ),
        _from_capture(context, document),
        _budget(context, document),
    )


def _figures(document: TravelDocument) -> Markup:
    band, window, back = document.dead_band, document.fault_window, document.return_s
    rest, full = document.rest, document.full
    return figures(
        [
            ("drive takes up at", number(band.start, 2, "V") if band else None),
            ("full drive from", number(band.end, 2, "V") if band else None),
            ("broken wire below", number(window.low, 2, "V") if window else None),
            ("broken wire above", number(window.high, 2, "V") if window else None),
            ("rest, logger's volts", number(rest.mean, 3, "V", rest.expanded) if rest else None),
            ("full, logger's volts", number(full.mean, 3, "V", full.expanded) if full else None),
            ("full presses", str(document.presses)),
            ("travel given up", number(band.dead_travel_pct, 1, "%") if band else None),
            ("slowest return", number(back.max, 2, "s") if back else None),
            ("direction", "reversed" if document.reversed else "rest below full"),
        ]
    )


def _from_capture(context: Context, document: TravelDocument) -> Markup:
    capture = context.capture(document)
    if isinstance(capture, str):
        return missing(capture)
    try:
        volts = in_base_unit(capture, context.evidence.rig, document.channel)
    except UsageError as error:
        return missing(f"{error.what} Its signal is not drawn.")
    code_V = step(context.evidence.rig.channels[document.channel])
    presses = count_presses(capture.time_s, volts, lsb_V=code_V or 0.0, gaps=capture.gap_indices)
    return element(
        "div",
        _signal(context, document, capture, volts, presses),
        _histogram(context, document, volts, presses, code_V),
    )


def _signal(
    context: Context,
    document: TravelDocument,
    capture: Capture,
    volts: NDArray[np.float64],
    presses: Presses,
) -> Markup:
    spans = [Span(stay.start_s, stay.end_s, _WORDS[stay.place]) for stay in presses.stays]
    band = document.dead_band
    settings = (
        []
        if band is None
        else [Level(band.start, "drive takes up at"), Level(band.end, "full drive from")]
    )
    labels = Labels(
        name=context.drawing_name(),
        title=f"Signal of {document.channel} against time",
        description=f"{document.presses} full presses; {len(spans)} stretches of rest and full "
        "travel are shaded.",
        value="volts at the wire",
    )
    return drawing(
        signal_plot(
            labels,
            capture.time_s,
            volts,
            breaks=capture.gap_indices,
            spans=spans,
            levels=settings if document.basis == "logger" else (),
        ),
        f"Signal of {document.channel}. Shaded: where it stood still at rest or at full travel; "
        f"{1e3 * presses.plateaus.window_s:.0f} ms in which it moves by no more than "
        f"{1e3 * presses.plateaus.still_range:.0f} mV count as standing still.",
    )


def _histogram(
    context: Context,
    document: TravelDocument,
    volts: NDArray[np.float64],
    presses: Presses,
    code_V: float | None,
) -> Markup:
    at_rest = [volts[stay.first : stay.stop] for stay in presses.stays if stay.place is Place.REST]
    if not at_rest or document.rest is None:
        return missing("It never stood still at rest, so no scatter of the rest is drawn.")
    readings = np.concatenate(at_rest)
    readings = readings[np.isfinite(readings)]
    limit_V = document.rest.limit_low if document.reversed else document.rest.limit_high
    levels = [] if limit_V is None else [Level(limit_V, "limit of one reading")]
    known = "unknown" if limit_V is None else f"{limit_V:.3f} V"
    if document.dead_band is not None and document.basis == "logger":
        levels.append(Level(document.dead_band.start, "drive takes up at"))
    labels = Labels(
        name=context.drawing_name(),
        title=f"Readings of {document.channel} at rest",
        description=f"{readings.size} readings between {readings.min():.3f} and "
        f"{readings.max():.3f} V; the limit of one future reading is {known}.",
        value="volts at rest",
    )
    return drawing(
        histogram_plot(labels, readings, levels, code_V),
        f"How {document.channel} scatters at rest, and where the drive takes up.",
    )


def _budget(context: Context, document: TravelDocument) -> Markup | None:
    if not document.budget:
        return None
    return drawing(
        budget_drawing(document.budget, "V", context.drawing_name()),
        "What the uncertainty is made of (standard uncertainties).",
    )
