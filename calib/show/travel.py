"""The page of ``calib travel``: verdict, the two values to type in, the ruler, the findings."""

from __future__ import annotations

from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.page import (
    Figure,
    detail_lines,
    figure_lines,
    headline,
    large_lines,
    note_lines,
    print_page,
    verdict_lines,
    worst_lines,
)
from calib.show.ruler import ruler_rows, travel_ruler
from calib.store.documents.travel import DeadBand, LevelFigures, TravelDocument

RULER_CHARS = WIDTH_CHARS - 2
MOST_BUDGET_LINES = 4


def show_travel(document: TravelDocument, console: Screen) -> None:
    """Verdict, values, ruler and the worst finding at a glance; then what they rest on."""
    way = ", reversed" if document.reversed else ""
    about = f"{document.channel}: {document.presses} full presses{way}"
    band = document.dead_band
    glance = [
        headline(about, f"{document.basis}'s volts"),
        *verdict_lines(document.verdict),
        Text(),
        *(large_lines("no value") if band is None else _value_lines(document, band)),
        *worst_lines(document),
    ]
    details = [
        *_dead_travel_lines(band),
        *_level_lines("rest", document.rest),
        *_level_lines("full travel", document.full),
        *_return_lines(document),
        *_window_lines(document),
        *_budget_lines(document),
        Text(),
        *detail_lines(document),
    ]
    print_page(console, glance, details)


def values_of(band: DeadBand) -> tuple[Figure, Figure]:
    """The two values to type in, in the controller's own step."""
    decimals = 3 if band.step is not None and band.step < 0.01 else 2
    return (
        Figure("drive takes up at", f"{band.start:.{decimals}f}", "V"),
        Figure("full drive from", f"{band.end:.{decimals}f}", "V"),
    )


def _value_lines(document: TravelDocument, band: DeadBand) -> list[Text]:
    rows = ruler_rows(travel_ruler(document), RULER_CHARS)
    return [*figure_lines(values_of(band)), *(Text(f" {row}", no_wrap=True) for row in rows)]


def _dead_travel_lines(band: DeadBand | None) -> list[Text]:
    if band is None:
        return []
    decided = "the spread of the rest" if band.start_decided_by == "limit" else "the least share"
    return note_lines(
        f"{band.dead_travel_pct:.1f} % of the travel is given up; {decided} set the start."
    )


def _level_lines(word: str, level: LevelFigures | None) -> list[Text]:
    if level is None:
        return []
    return [
        Text(
            f"  {word:<12} {level.mean:.3f} V ± {level.expanded:.3f} "
            f"({100 * level.coverage:.0f} %)   noise {level.sd_within:.4f}, "
            f"press to press {level.sd_between:.4f} V"
        ),
        Text(
            f"  {'':<12} one future reading: {reading_range(level)}",
            style="dim",
        ),
    ]


def reading_range(level: LevelFigures) -> str:
    """Between which limits one future reading lies; a limit beyond the supply is none."""
    low, high = level.limit_low, level.limit_high
    if low is not None and high is not None:
        return f"{low:.3f} to {high:.3f} V"
    if high is not None:
        return f"up to {high:.3f} V"
    return "no limit known" if low is None else f"from {low:.3f} V"


def _return_lines(document: TravelDocument) -> list[Text]:
    back = document.return_s
    if back is None or back.median is None:
        return []
    slowest = "" if back.max is None else f", {back.max:.2f} s slowest"
    return [Text(f"  {'return':<12} {back.median:.2f} s median{slowest}, from letting go to rest")]


def _window_lines(document: TravelDocument) -> list[Text]:
    """What a broken wire should read, and whether that was ever proven."""
    window = document.fault_window
    if window is None or (window.low is None and window.high is None):
        return []
    sides = [
        f"{word} {edge:.2f} V"
        for word, edge in (("below", window.low), ("above", window.high))
        if edge is not None
    ]
    proven = "proven by pulling wires" if window.proven else "unproven until wires are pulled"
    return [Text(f"  {'broken wire':<12} {' or '.join(sides)}; {proven}")]


def _budget_lines(document: TravelDocument) -> list[Text]:
    """The largest sources of rest's uncertainty, and what would shrink the limit."""
    words = ("rest's u", *("" for _ in range(MOST_BUDGET_LINES)))
    lines = [
        Text(f"  {word:<12} ±{1e3 * line.u:5.1f} mV  {line.source}", style="dim")
        for word, line in zip(words, document.budget[:MOST_BUDGET_LINES], strict=False)
    ]
    return [*lines, *(text for advice in document.advice for text in note_lines(advice))]
