"""The sections of the report: one for each record from its document's view, one for all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC
from itertools import zip_longest

import numpy as np

from calib.controls.presses import Place, Presses, count_presses
from calib.errors import UsageError
from calib.show.inputs import check_view
from calib.show.report import plots
from calib.show.report.drawings import ruler_drawing, wheels_drawing
from calib.show.report.markup import Markup, element, table
from calib.show.report.parts import Context, drawing, missing, section_of, verdict_badge, when
from calib.show.report.plots import Floats, Labels, LevelLine, Trend
from calib.show.ruler import travel_ruler
from calib.show.views import view_of
from calib.store.capture import Capture
from calib.store.columns import in_base_unit
from calib.store.conversion import step
from calib.store.documents.check import CheckDocument, CheckFigures
from calib.store.documents.tilt import LevelDocument, StillDocument, TrustDocument
from calib.store.documents.travel import LevelFigures, TravelDocument
from calib.store.records import Record


def section(context: Context, record: Record) -> Markup:
    """What the view of a record's document shows, and what only the report can draw of it."""
    document = record.document
    if isinstance(document, CheckDocument):
        return _check(context, record, document)
    view = view_of(document)
    match document:
        case TravelDocument():
            drawn = _travel(context, document)
            return section_of(record, view, *drawn, picture=_ruler(context, document))
        case TrustDocument():
            return section_of(record, replace(view, told=()))  # its table tells all of them
        case LevelDocument():
            return section_of(record, view, picture=_side_view(context, document))
        case StillDocument():
            return section_of(record, view, _deviation(context, document))
        case _:
            return section_of(record, view)


def _check(context: Context, record: Record, document: CheckDocument) -> Markup:
    """Channel by channel: verdict, figures before and after; or the wires pulled; findings."""
    earlier = next(
        (each for each in context.filed.records if each.id == document.compared_with), None
    )
    before: dict[str, CheckFigures | None] = {}
    if earlier is not None and isinstance(earlier.document, CheckDocument):
        before = {name: each.figures for name, each in earlier.document.channels.items()}
    blind = [element("li", sentence) for sentence in document.cannot_see]
    unseen = [element("p", "This logger cannot see:"), element("ul", blind)] if blind else None
    return element("div", section_of(record, check_view(document, before)), unseen)


def _side_view(context: Context, document: LevelDocument) -> Markup | None:
    """The machine on its floor."""
    pitch = document.pitch
    if pitch is None or not document.verdict.is_good:
        return None
    floor = (
        "The floor's slope is not known."
        if pitch.floor_slope is None
        else f"The floor slopes by {pitch.floor_slope:+.2f}°, front higher positive."
    )
    words = f"{floor} The sensor reads {pitch.reading:+.2f}°; level is {pitch.zero:+.2f}°."
    return drawing(
        wheels_drawing(context.drawing_name(), pitch.floor_slope, pitch.reading, words),
        f"{words} Slopes are drawn five times as steep.",
    )


def _deviation(context: Context, document: StillDocument) -> Markup:
    """How far averages differ, over their length."""
    name = document.channel or "pitch"
    if len(document.tau_s) < 2:
        return missing("The rest was too short for a plot of the deviation.")
    least, at_s = min(zip(document.sigma, document.tau_s, strict=True))
    lowest = f"Lowest {least:.2g} {document.unit} at {at_s:.3g} s."
    labels = Labels(context.drawing_name(), f"Allan deviation of {name}", lowest, document.unit)
    return drawing(
        plots.deviation_plot(labels, document.tau_s, document.sigma),
        f"How far averages of {name} differ from each other, by their length.",
    )


def _ruler(context: Context, document: TravelDocument) -> Markup | None:
    """The ruler with its zones; none where there is nothing to type in."""
    if not document.verdict.is_good or document.dead_band is None:
        return None
    # The means are in the logger's volts: on a ruler in the controller's they would lie wrong.
    ends = ((document.rest, "rest"), (document.full, "full"))
    known = [(level.mean, word) for level, word in ends if level is not None]
    levels = known if document.basis == "logger" else []
    return drawing(
        ruler_drawing(travel_ruler(document), context.drawing_name(), levels),
        f"The travel of {document.channel} as a ruler, in the {document.basis}'s volts.",
    )


def _travel(context: Context, document: TravelDocument) -> tuple[Markup, ...]:
    """Signal, scatter at rest and each stay, from the capture; or why they cannot be drawn."""
    capture = context.capture(document)
    if isinstance(capture, str):
        return (missing(capture),)
    rig = context.filed.rig
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


def _settings(document: TravelDocument) -> list[LevelLine]:
    """The two values to type in, where they lie on the scale of the signal."""
    band = document.dead_band
    if band is None or not document.verdict.is_good or document.basis != "logger":
        return []
    words = document.wording
    return [LevelLine(band.start, words.start), LevelLine(band.end, words.end)]


def _signal(
    context: Context, document: TravelDocument, capture: Capture, volts: Floats, presses: Presses
) -> Markup:
    levels, gaps = _settings(document), capture.gap_indices
    spans = [(stay.start_s, stay.end_s) for stay in presses.stays]
    title = f"Signal of {document.channel} against time"
    shaded = f"{len(spans)} stretches of rest and full travel are shaded."
    words = f"{document.presses} full presses; {shaded}"
    labels = Labels(context.drawing_name(), title, words, "volts at the wire")
    window_ms, range_mV = 1e3 * presses.plateaus.window_s, 1e3 * presses.plateaus.still_range
    return drawing(
        plots.signal_plot(labels, capture.time_s, volts, breaks=gaps, spans=spans, levels=levels),
        f"Signal of {document.channel}. Shaded: still at rest or at full travel "
        f"({window_ms:.0f} ms within {range_mV:.0f} mV).",
    )


def _histogram(
    context: Context, document: TravelDocument, at_rest: list[Floats], code_V: float | None
) -> Markup:
    if not at_rest or document.rest is None:
        return missing("It never stood still at rest, so no scatter of the rest is drawn.")
    readings = np.concatenate(at_rest)
    readings = readings[np.isfinite(readings)]
    limit_V = document.rest.limit_low if document.reversed else document.rest.limit_high
    limits = [] if limit_V is None else [LevelLine(limit_V, "limit of one reading")]
    known = "unknown" if limit_V is None else f"{limit_V:.3f} V"
    between = f"{readings.size} readings between {readings.min():.3f} and {readings.max():.3f} V"
    words = f"{between}; the limit of one future reading is {known}."
    title = f"Readings of {document.channel} at rest"
    labels = Labels(context.drawing_name(), title, words, "volts at rest")
    plot = plots.histogram_plot(labels, readings, [*limits, *_settings(document)[:1]], code_V)
    return drawing(plot, f"How {document.channel} scatters at rest.", narrow=True)


def _stays(document: TravelDocument) -> Markup:
    """The level of each stay, as it entered the limits: one apart from the rest is seen here."""
    ends = (("rest", document.rest), ("full travel", document.full))
    known = {word: level.levels for word, level in ends if level is not None and level.levels}
    rows = [
        (f"{number}", *("" if level_V is None else f"{level_V:.3f} V" for level_V in stay))
        for number, stay in enumerate(zip_longest(*known.values()), 1)
    ]
    return table(("stay", *known), rows, "Where it stood, one stay after the other.")


def history(context: Context) -> list[Markup]:
    """Trends where there is more than one record of a kind, then every record."""
    rows = [
        (
            when(record),
            " ".join(part for part in (record.command, record.channel) if part),
            verdict_badge(record.document.verdict),
            record.condition or "",
            "" if record.superseded is None else f"superseded: {record.superseded.reason}",
        )
        for record in reversed(context.filed.records)
    ]
    head = ("when", "what", "verdict", "condition", "remark")
    return [*_trends(context), table(head, rows)]


def _trends(context: Context) -> Iterator[Markup]:
    """How the level zero moved, as whoever reported it saw it, and both ends of each control."""
    counted = [record for record in context.filed.records if record.superseded is None]
    zeros = [
        (record, record.document.pitch.zero, record.document.pitch.u95)
        for record in counted
        if isinstance(record.document, LevelDocument)
        and record.document.claims_zero
        and record.document.pitch is not None
    ]
    if len(zeros) > 1:
        said = f"From {zeros[0][1]:+.2f} to {zeros[-1][1]:+.2f} degrees."
        labels = Labels(context.drawing_name(), "How the level zero moved", said, "degrees")
        yield drawing(plots.trend_plot(labels, [_trend("level zero", zeros)]), f"{labels.title}.")
    for channel in context.filed.rig.with_role("control"):
        of_channel = [
            (record, record.document)
            for record in counted
            if isinstance(record.document, TravelDocument) and record.channel == channel
        ]
        ends = (
            _moved("rest", [(record, doc.rest) for record, doc in of_channel]),
            _moved("full travel", [(record, doc.full) for record, doc in of_channel]),
        )
        trends = [trend for trend in ends if trend.when_s.size > 1]
        if trends:
            title = f"How rest and full travel of {channel} moved"
            said = "; ".join(
                f"{trend.word} moved by {trend.values[-1]:+.0f} mV since the first"
                for trend in trends
            )
            labels = Labels(context.drawing_name(), title, said, "millivolts since the first")
            yield drawing(plots.trend_plot(labels, trends), f"{labels.title}.")


def _moved(word: str, levels: Sequence[tuple[Record, LevelFigures | None]]) -> Trend:
    """One end of a travel, in millivolts since the first record."""
    known = [(record, level) for record, level in levels if level is not None]
    moved = [
        (record, 1e3 * (level.mean - known[0][1].mean), 1e3 * level.expanded)
        for record, level in known
    ]
    return _trend(word, moved)


def _trend(word: str, known: Sequence[tuple[Record, float, float]]) -> Trend:
    """One figure over the records: its value in each, and its spread."""
    return Trend(
        word=word,
        # A clock on the wall: a plot knows no zones.
        when_s=np.array([record.when.replace(tzinfo=UTC).timestamp() for record, _, _ in known]),
        values=np.array([value for _, value, _ in known]),
        spread=np.array([spread for _, _, spread in known]),
    )
