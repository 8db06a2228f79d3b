"""A travel: verdict, the two values to type in, the ruler, the findings."""

from __future__ import annotations

from calib.show.console import WIDTH_CHARS, Text
from calib.show.ruler import ruler_rows, travel_ruler
from calib.show.view import Fact, Figure, Sources, View, known, spread_text
from calib.store.documents.travel import DeadBand, LevelFigures, ReturnTime, TravelDocument
from calib.store.text import counted

RULER_CHARS = WIDTH_CHARS - 2


def travel_view(document: TravelDocument) -> View:
    """What is shown of a travel."""
    way = ", reversed" if document.reversed else ""
    presses = counted(document.presses, "full press", "full presses")
    band = document.dead_band if document.verdict.is_good else None
    ruler = ruler_rows(travel_ruler(document), RULER_CHARS) if document.verdict.is_good else []
    return View(
        document,
        about=f"{document.channel}: {presses}{way}",
        right=f"{document.basis}'s volts",
        title=f"Travel of {document.channel}",
        figures=() if band is None else values_of(document, band),
        facts=(
            *known(("given up", None if band is None else _given_up(band))),
            *_level("rest", document.rest),
            *_level("full travel", document.full),
            *known(("return", _return(document.return_s))),
            *_window(document),
            *known(("acts", _acts(document))),
        ),
        sources=(Sources("rest", "V", document.budget),) if document.budget else (),
        notes=document.advice,
        picture=[Text(f" {row}") for row in ruler],
    )


def values_of(document: TravelDocument, band: DeadBand) -> tuple[Figure, Figure]:
    """The two values to type in, in the controller's own step."""
    decimals = 3 if band.step is not None and band.step < 0.01 else 2
    start, end = (f"{volts:.{decimals}f}" for volts in (band.start, band.end))
    return Figure(document.wording.start, start, "V"), Figure(document.wording.end, end, "V")


def _given_up(band: DeadBand) -> str:
    decided = "the spread of the rest" if band.start_decided_by == "limit" else "the least share"
    return f"{band.dead_travel_pct:.1f} % of the mean travel; {decided} set the start"


def _level(word: str, level: LevelFigures | None) -> tuple[Fact, ...]:
    if level is None:
        return ()
    mean = f"{level.mean:.3f} V{spread_text(level.expanded, 3)}"
    scatter = f"noise {level.sd_within:.4f}, press to press {level.sd_between:.4f} V"
    return (Fact(word, mean, (scatter, f"one future reading: {reading_range(level)}")),)


def reading_range(level: LevelFigures) -> str:
    """Between which limits one future reading lies; a limit beyond the supply is none."""
    low, high = level.limit_low, level.limit_high
    if low is not None and high is not None:
        return f"{low:.3f} to {high:.3f} V"
    if high is not None:
        return f"up to {high:.3f} V"
    return "no limit known" if low is None else f"from {low:.3f} V"


def _return(back: ReturnTime | None) -> str | None:
    if back is None or back.median is None:
        return None
    slowest = "" if back.max is None else f", {back.max:.2f} s slowest"
    return f"{back.median:.2f} s median{slowest}, from letting go to rest"


def _window(document: TravelDocument) -> tuple[Fact, ...]:
    """What a broken wire should read; whether that is proven, only pulled wires say."""
    window = document.fault_window
    if window is None or not document.verdict.is_good:
        return ()
    edges = (("below", window.low), ("above", window.high))
    sides = [f"{word} {edge:.2f} V" for word, edge in edges if edge is not None]
    more = ("the sheet says whether pulled wires prove it",)
    return (Fact("broken wire", " or ".join(sides), more),) if sides else ()


def _acts(document: TravelDocument) -> str | None:
    """What was taken for granted of the control."""
    if document.acts is None:
        words = 'acts = "drive" or "brake" in the rig file would say'
        return f"whether it drives or brakes is not stated; {words}"
    return f"that it {document.acts}s is assumed from its name" if document.acts_assumed else None
