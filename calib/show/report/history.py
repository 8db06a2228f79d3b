"""What was measured when: a table of all records, and trends of the figures that are typed in."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from calib.show.report.context import Context
from calib.show.report.markup import Markup, element, table
from calib.show.report.parts import drawing, verdict_badge, when
from calib.show.report.plots import Labels, Trend, trend_plot
from calib.store.documents.level import LevelDocument
from calib.store.documents.travel import LevelFigures, TravelDocument
from calib.store.records import Record


def history(context: Context) -> Markup:
    """Trends where there is more than one record of a kind, then every record."""
    records = context.evidence.records
    rows = [
        (
            when(record),
            " ".join(part for part in (record.command, record.channel) if part),
            verdict_badge(record.document.verdict),
            record.condition or "",
            "" if record.superseded is None else f"superseded: {record.superseded.reason}",
        )
        for record in reversed(records)
    ]
    return element(
        "section",
        element("h2", "What was measured when"),
        list(_trends(context)),
        table(("when", "what", "verdict", "condition", "remark"), rows),
        class_="chapter",
    )


def _trends(context: Context) -> Iterator[Markup]:
    counted = [record for record in context.evidence.records if record.superseded is None]
    yield from _of_zero(context, counted)
    for channel in context.evidence.rig.with_role("control"):
        of_channel = [
            (record, record.document)
            for record in counted
            if isinstance(record.document, TravelDocument) and record.channel == channel
        ]
        trends = [
            _trend("rest", [(record, doc.rest) for record, doc in of_channel]),
            _trend("full travel", [(record, doc.full) for record, doc in of_channel]),
        ]
        trends = [trend for trend in trends if len(trend.when) > 1]
        if trends:
            labels = Labels(
                name=context.drawing_name(),
                title=f"How rest and full travel of {channel} moved",
                description="; ".join(
                    f"{trend.word} moved by {trend.values[-1]:+.0f} mV since the first"
                    for trend in trends
                ),
                value="millivolts since the first",
            )
            yield drawing(trend_plot(labels, trends), labels.title + ".")


def _of_zero(context: Context, counted: list[Record]) -> Iterator[Markup]:
    """The level zero, as whoever reported it saw it."""
    known = [
        (record, record.document.pitch)
        for record in counted
        if isinstance(record.document, LevelDocument)
        and record.document.claims_zero
        and record.document.pitch is not None
    ]
    if len(known) < 2:
        return
    values = np.array([pitch.zero for _, pitch in known])
    trend = Trend(
        word="level zero",
        when=tuple(record.when.replace(tzinfo=None) for record, _ in known),
        values=values,
        spread=np.array([pitch.u95 for _, pitch in known]),
    )
    labels = Labels(
        name=context.drawing_name(),
        title="How the level zero moved",
        description=f"From {values[0]:+.2f} to {values[-1]:+.2f} degrees.",
        value="degrees",
    )
    yield drawing(trend_plot(labels, [trend]), f"{labels.title}.")


def _trend(word: str, levels: list[tuple[Record, LevelFigures | None]]) -> Trend:
    known = [(record, level) for record, level in levels if level is not None]
    return Trend(
        word=word,
        when=tuple(record.when.replace(tzinfo=None) for record, _ in known),
        values=1e3 * np.array([level.mean - known[0][1].mean for _, level in known]),
        spread=1e3 * np.array([level.expanded for _, level in known]),
    )
