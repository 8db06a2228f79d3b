"""The page of ``calib history``: drift of each control drawn over time, then the records."""

from __future__ import annotations

from datetime import datetime

from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.page import STYLES, finding_lines, headline, note_lines, verdict_lines
from calib.store.documents.printed import Comparison, DriftFigures, HistoryDocument, HistoryEntry
from calib.store.text import counted, neutral

STRIP_CHARS = 44
NAME_CHARS = 14
ID_CHARS = 48
MORE_INDENT = 29


def show_history(document: HistoryDocument, console: Screen) -> None:
    """Verdict, drifts, comparison, records."""
    console.print(
        headline("history", counted(len(document.records), "record")),
        *verdict_lines(document.verdict),
        Text(),
        *finding_lines(document.findings),
        *(line for drift in document.drifts for line in _drift_lines(drift)),
        *(line for each in document.compared for line in _comparison_lines(each)),
        Text(),
        *(line for entry in document.records for line in _record_lines(entry)),
        *(line for each in document.not_counted for line in note_lines(each)),
        *([] if document.records else note_lines("Nothing is on file yet.")),
    )


def _drift_lines(drift: DriftFigures) -> list[Text]:
    """A strip from the lower to the upper limit with a mark for each record, newest loudest."""
    word = "full travel" if drift.figure == "full" else "rest"
    head = f" {neutral(drift.channel, NAME_CHARS)}, {word}: {_slope(drift)}"
    strip = f"  {drift.low:7.3f} {_strip(drift)} {drift.high:7.3f} {drift.unit}"
    return [Text(head[: WIDTH_CHARS - 1], style="bold"), Text(strip)]


def _slope(drift: DriftFigures) -> str:
    if drift.per_day is None or drift.expanded_per_day is None:
        return f"{counted(len(drift.points), 'record')}; a drift takes 3, over more than a day"
    moves, expanded = 1000 * drift.per_day, 1000 * drift.expanded_per_day
    slope = f"{moves:+.2f} ± {expanded:.2f} m{drift.unit} a day (95 %)"
    days = drift.leaves_in_days
    if days is not None and days <= 0.0:
        return f"{slope}, outside its limits"
    if not drift.sure:
        return f"{slope}, no sure drift"
    return slope if days is None else f"{slope}, leaves its limits in {days:.0f} days"


def _strip(drift: DriftFigures) -> str:
    """Limits at the ends, ``o`` for earlier records and ``●`` for the newest, arrows beyond."""
    cells = ["·"] * STRIP_CHARS
    span = drift.high - drift.low
    for point in drift.points:
        share = (point.value - drift.low) / span if span > 0.0 else 0.5
        place = round(share * (STRIP_CHARS - 1))
        if place < 0:
            cells[0] = "<"
        elif place >= STRIP_CHARS:
            cells[-1] = ">"
        else:
            cells[place] = "●" if point is drift.points[-1] else "o"
    return "".join(cells)


def _comparison_lines(each: Comparison) -> list[Text]:
    moved = (("rest", each.rest_shift), ("full travel", each.full_shift))
    parts = [f"{name} {1000 * shift:+.0f} mV" for name, shift in moved if shift is not None]
    if each.spread_ratio is not None:
        parts.append(f"spread x {each.spread_ratio:.2f}")
    head = f" {neutral(each.channel, NAME_CHARS)}: {', '.join(parts)}"
    return [Text(head, style="bold"), *note_lines(f"{each.second} against {each.first}")]


def _record_lines(entry: HistoryEntry) -> list[Text]:
    made = datetime.fromisoformat(entry.made_at)
    line = Text.assemble(
        "  ",
        (f"{entry.verdict.value.upper():<8}", STYLES[entry.verdict]),
        f" {made:%Y-%m-%d %H:%M}  {neutral(entry.id, ID_CHARS)}",
    )
    condition = f"condition: {entry.condition}" if entry.condition else ""
    superseded = f"superseded: {entry.superseded}" if entry.superseded else ""
    more = filter(None, (condition, superseded, entry.odd))
    return [line, *(row for each in more for row in note_lines(each, MORE_INDENT))]
