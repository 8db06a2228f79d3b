"""What was measured when: a table of all records, and trends of the figures that are typed in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC

import numpy as np

from calib.show.report.figure import Labels
from calib.show.report.markup import Markup, table
from calib.show.report.parts import Context, drawing, verdict_badge, when
from calib.show.report.plots import Trend, trend_plot
from calib.store.documents.level import LevelDocument
from calib.store.documents.travel import LevelFigures, TravelDocument
from calib.store.records import Record


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
        yield drawing(trend_plot(labels, [_trend("level zero", zeros)]), f"{labels.title}.")
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
            labels = Labels(
                name=context.drawing_name(),
                title=f"How rest and full travel of {channel} moved",
                description="; ".join(
                    f"{trend.word} moved by {trend.values[-1]:+.0f} mV since the first"
                    for trend in trends
                ),
                value="millivolts since the first",
            )
            yield drawing(trend_plot(labels, trends), f"{labels.title}.")


def _moved(word: str, levels: Sequence[tuple[Record, LevelFigures | None]]) -> Trend:
    """One end of a travel, in millivolts since the first record."""
    known = [(record, level) for record, level in levels if level is not None]
    return _trend(
        word,
        [
            (record, 1e3 * (level.mean - known[0][1].mean), 1e3 * level.expanded)
            for record, level in known
        ],
    )


def _trend(word: str, known: Sequence[tuple[Record, float, float]]) -> Trend:
    """One figure over the records: its value in each, and its spread."""
    return Trend(
        word=word,
        # A clock on the wall: a plot knows no zones.
        when_s=np.array([record.when.replace(tzinfo=UTC).timestamp() for record, _, _ in known]),
        values=np.array([value for _, value, _ in known]),
        spread=np.array([spread for _, _, spread in known]),
    )
