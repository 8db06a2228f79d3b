"""What is drawn of one hand control: its ruler, its signal, how its rest scatters."""

from __future__ import annotations

from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from calib.controls.presses import Place, Presses, count_presses
from calib.errors import UsageError
from calib.show.report.drawings import ruler_drawing
from calib.show.report.figure import Labels
from calib.show.report.markup import Markup, table
from calib.show.report.parts import Context, drawing, missing
from calib.show.report.plots import Level, histogram_plot, signal_plot
from calib.show.ruler import travel_ruler
from calib.store.capture import Capture
from calib.store.columns import in_base_unit
from calib.store.conversion import step
from calib.store.documents.travel import TravelDocument


def travel_as_ruler(context: Context, document: TravelDocument) -> Markup | None:
    """The ruler with its zones; none where there is nothing to type in."""
    if not document.verdict.is_good or document.dead_band is None:
        return None
    # The means are in the logger's volts: on a ruler in the controller's they would lie wrong.
    levels = [
        (level.mean, word)
        for word, level in (("rest", document.rest), ("full", document.full))
        if level is not None and document.basis == "logger"
    ]
    return drawing(
        ruler_drawing(travel_ruler(document), context.drawing_name(), levels),
        f"The travel of {document.channel} as a ruler, in the {document.basis}'s volts.",
    )


def travel_drawings(context: Context, document: TravelDocument) -> tuple[Markup, ...]:
    """Signal, scatter at rest and each stay, from the capture; or why they cannot be drawn."""
    capture = context.capture(document)
    if isinstance(capture, str):
        return (missing(capture),)
    rig = context.evidence.rig
    try:
        channel = rig.channel(document.channel)
        capture = capture.where_present([channel.column])
        volts = in_base_unit(capture, rig, document.channel)
    except UsageError as error:
        return (missing(f"{error.what} Its signal is not drawn."),)
    code_V = step(channel)
    presses = count_presses(capture.time_s, volts, lsb_V=code_V or 0.0, gaps=capture.gap_indices)
    at_rest = [volts[stay.first : stay.stop] for stay in presses.stays if stay.place is Place.REST]
    return (
        _signal(context, document, capture, volts, presses),
        _histogram(context, document, at_rest, code_V),
        _stays(document),
    )


def _settings(document: TravelDocument) -> list[Level]:
    """The two values to type in, where they lie on the scale of the signal."""
    band = document.dead_band
    if band is None or not document.verdict.is_good or document.basis != "logger":
        return []
    return [Level(band.start, document.wording.start), Level(band.end, document.wording.end)]


def _signal(
    context: Context,
    document: TravelDocument,
    capture: Capture,
    volts: NDArray[np.float64],
    presses: Presses,
) -> Markup:
    spans = [(stay.start_s, stay.end_s) for stay in presses.stays]
    labels = Labels(
        name=context.drawing_name(),
        title=f"Signal of {document.channel} against time",
        description=f"{document.presses} full presses; {len(spans)} stretches of rest and full "
        "travel are shaded.",
        value="volts at the wire",
    )
    plot = signal_plot(
        labels,
        capture.time_s,
        volts,
        breaks=capture.gap_indices,
        spans=spans,
        levels=_settings(document),
    )
    return drawing(
        plot,
        f"Signal of {document.channel}. Shaded: still at rest or at full travel "
        f"({1e3 * presses.plateaus.window_s:.0f} ms within "
        f"{1e3 * presses.plateaus.still_range:.0f} mV).",
    )


def _histogram(
    context: Context,
    document: TravelDocument,
    at_rest: list[NDArray[np.float64]],
    code_V: float | None,
) -> Markup:
    if not at_rest or document.rest is None:
        return missing("It never stood still at rest, so no scatter of the rest is drawn.")
    readings = np.concatenate(at_rest)
    readings = readings[np.isfinite(readings)]
    limit_V = document.rest.limit_low if document.reversed else document.rest.limit_high
    limits = [] if limit_V is None else [Level(limit_V, "limit of one reading")]
    known = "unknown" if limit_V is None else f"{limit_V:.3f} V"
    labels = Labels(
        name=context.drawing_name(),
        title=f"Readings of {document.channel} at rest",
        description=f"{readings.size} readings between {readings.min():.3f} and "
        f"{readings.max():.3f} V; the limit of one future reading is {known}.",
        value="volts at rest",
    )
    levels = [*limits, *_settings(document)[:1]]
    return drawing(
        histogram_plot(labels, readings, levels, code_V),
        f"How {document.channel} scatters at rest.",
        narrow=True,
    )


def _stays(document: TravelDocument) -> Markup:
    """The level of each stay, as it entered the limits: one apart from the rest is seen here."""
    ends = (("rest", document.rest), ("full travel", document.full))
    known = {word: level.levels for word, level in ends if level is not None and level.levels}
    rows = [
        (f"{number}", *("" if level_V is None else f"{level_V:.3f} V" for level_V in stay))
        for number, stay in enumerate(zip_longest(*known.values()), 1)
    ]
    return table(("stay", *known), rows, "Where it stood, one stay after the other.")
