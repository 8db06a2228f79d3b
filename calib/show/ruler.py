"""The travel of a control as a ruler in volts, with zones in words; terminal and report draw it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from calib.store.acts import WORDINGS
from calib.store.documents.travel import TravelDocument

SUPPLY_V = 5.0  # own choice: hand controls run on a 5 V rail, and a fixed scale is learned by eye
NEAR_SUPPLY_V = 4.5  # own choice: the least that a 5 V sensor's data sheet allows

BROKEN_WIRE = "broken wire"
HAND_OFF = "hand off"
STOP = "end of travel"
WORKED = {wording.zone for wording in WORDINGS.values()}
"""What a control does between the two: its word depends on the control."""

ZONE_INK = {BROKEN_WIRE: "x", HAND_OFF: "·", STOP: "▓", **dict.fromkeys(WORKED, "█")}
"""How each zone is filled; the words beside it carry the meaning."""

MOST_WORD_ROWS = 4  # one inside the bar's zones and one for each narrow zone that can meet


@dataclass(frozen=True, slots=True)
class Zone:
    """A stretch of the ruler: its word, and its ends in volts, lower first."""

    word: str
    low_V: float
    high_V: float


@dataclass(frozen=True, slots=True)
class Ruler:
    """What is drawn: a scale in volts and its zones, in rising order, without gaps.

    Attributes:
        high_V: Right end; the left one is 0 V.
        zones: Stretches; none where nothing is known yet.
        marks_V: Volts to name beneath, the weightiest first.
    """

    high_V: float = SUPPLY_V
    zones: tuple[Zone, ...] = ()
    marks_V: tuple[float, ...] = ()

    def share(self, value_V: float) -> float:
        """Where ``value_V`` lies between the ends: 0 at the left, 1 at the right, never outside."""
        return min(max(value_V / self.high_V, 0.0), 1.0)


def travel_ruler(document: TravelDocument) -> Ruler:
    """The ruler of a measured control; without zones where there is no value to type in."""
    band = document.dead_band if document.verdict.is_good else None
    levels = (document.rest, document.full) if document.basis == "logger" else ()
    known = [level.mean for level in levels if level is not None]
    window = document.fault_window
    faults = () if window is None else (window.low, window.high)
    marks = [] if band is None else [band.start, band.end]
    marks += [edge for edge in faults if edge is not None]
    fed = document.supply.volts if document.supply is not None else SUPPLY_V
    # A rail of a little less than 5 V keeps the scale that the eye knows.
    high_V = max([SUPPLY_V if fed > NEAR_SUPPLY_V else fed, *known, *marks])
    if band is None:
        return Ruler(high_V=high_V, marks_V=tuple(known))
    low, high = sorted((band.start, band.end))
    below, above = (STOP, HAND_OFF) if band.start > band.end else (HAND_OFF, STOP)
    fault_low, fault_high = faults or (None, None)
    edges = (0.0, fault_low or 0.0, low, high, high_V if fault_high is None else fault_high, high_V)
    words = (BROKEN_WIRE, below, document.wording.zone, above, BROKEN_WIRE)
    zones = zip(words, pairwise(edges), strict=True)
    return Ruler(
        high_V=high_V,
        zones=tuple(Zone(word, start, end) for word, (start, end) in zones if end > start),
        marks_V=tuple(marks),
    )


def ruler_rows(ruler: Ruler, width: int) -> list[str]:
    """The ruler in plain characters: words, bar, volts; every row ``width`` columns.

    Narrow zones have their word in a row of its own, joined by a stroke.
    """
    columns = width - 1
    cells = ["─"] * width
    words = [[" "] * width for _ in range(MOST_WORD_ROWS)]
    middles: list[tuple[int, int, str]] = []
    for zone in ruler.zones:
        first = round(ruler.share(zone.low_V) * columns)
        last = max(round(ruler.share(zone.high_V) * columns), first + 1)
        cells[first:last] = ZONE_INK[zone.word] * (last - first)
        middles.append(((first + last - 1) // 2, last - first, zone.word))
    # From the middle outward, so that a word at the edge rises above its neighbour's.
    for middle, inside, word in sorted(middles, key=lambda each: abs(each[0] - width // 2)):
        _write_word(words, word, middle, inside=inside)
    if ruler.zones:
        cells[columns] = cells[columns - 1]
    shown = ["".join(row) for row in words if "".join(row).strip()]
    return [*shown, "".join(cells), *_volts(ruler, width)]


def _write_word(rows: list[list[str]], word: str, middle: int, *, inside: int) -> None:
    """Write a zone's word over it: in the lowest row if it fits inside, else higher with a stroke.

    A word leans towards the ruler's middle where it must, and no stroke crosses another's word.
    Rows are from top to bottom.
    """
    if len(word) + 2 <= inside and _write(rows[-1], word, middle - len(word) // 2):
        return
    width = len(rows[0])
    centred = middle - len(word) // 2
    leaning = middle if middle < width // 2 else middle - len(word) + 1
    for depth in range(1, len(rows)):
        row, below = rows[-1 - depth], rows[len(rows) - depth :]
        if any(each[middle] != " " for each in below):
            return
        if any(_write(row, word, start) for start in (leaning, centred)):
            for each in below:
                each[middle] = "│"
            return


def pointer_row(ruler: Ruler, width: int, value_V: float, seen_V: tuple[float, float]) -> str:
    """One row under the bar: the live value's arrow, and dots over what was seen so far."""
    columns = width - 1
    cells = [" "] * width
    first, last = (round(ruler.share(edge) * columns) for edge in seen_V)
    cells[first : last + 1] = "·" * (last + 1 - first)
    cells[round(ruler.share(value_V) * columns)] = "▲"
    return "".join(cells)


def _volts(ruler: Ruler, width: int) -> list[str]:
    """The row of volts: the weightiest marks first, the rest where there is room."""
    ticks = [" "] * width
    row = [" "] * width
    for mark_V in (*ruler.marks_V, 0.0, ruler.high_V):
        place = round(ruler.share(mark_V) * (width - 1))
        if _write(row, f"{mark_V:.2f}", place - 2):
            ticks[place] = "╵"
    return ["".join(ticks), "".join(row)]


def _write(row: list[str], text: str, start: int) -> bool:
    """Write ``text`` from ``start`` on if that leaves a blank on both sides; whether it did."""
    start = min(max(start, 0), len(row) - len(text))
    end = start + len(text)
    if any(cell != " " for cell in row[max(start - 1, 0) : end + 1]):
        return False
    row[start:end] = text
    return True
