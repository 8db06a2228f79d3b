"""The page of ``calib travel``: the two values to type in, the ruler, the spread, the findings."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from calib.show.page import print_cautions, print_findings, print_provenance, print_verdict
from calib.show.ruler import Zone, ruler_lines
from calib.store.documents.travel import DeadBand, LevelFigures, TravelDocument
from calib.store.text import neutral

RULER_LOW_V = 0.0
RULER_HIGH_V = 5.0


def show_travel(document: TravelDocument, console: Console) -> None:
    """Verdict and values first, then the ruler, then what they rest on."""
    name = neutral(document.channel, 24)
    print_verdict(console, document, f"{name}: {document.presses} full presses")
    if document.dead_band is not None:
        _print_values(document, document.dead_band, console)
        _print_ruler(document, document.dead_band, console)
    else:
        console.print(Text("  NO VALUE TO TYPE IN", style="bold"))
    console.print()
    for word, level in (("rest", document.rest), ("full travel", document.full)):
        if level is not None:
            _print_level(word, level, console)
    if document.return_s is not None and document.return_s.median is not None:
        console.print(
            Text(
                f"  return       {document.return_s.median:.2f} s median, "
                f"{document.return_s.max:.2f} s slowest, from letting go to rest"
            )
        )
    console.print()
    print_findings(console, document.findings)
    print_provenance(console, document)
    print_cautions(console, document.cautions)


def _print_values(document: TravelDocument, band: DeadBand, console: Console) -> None:
    whose = "the controller's" if document.basis == "controller" else "the logger's"
    decimals = 3 if band.step is not None and band.step < 0.01 else 2
    for words, volts in (("drive takes up at", band.start), ("full drive from", band.end)):
        console.print(Text(f"    {words:<18} {volts:>7.{decimals}f} V", style="bold"))
    console.print(
        Text(
            f"    in {whose} volts; {band.dead_travel_pct:.1f} % of the travel is dead; "
            f"start decided by the {band.start_decided_by}",
            style="dim",
        )
    )
    console.print()


def _print_ruler(document: TravelDocument, band: DeadBand, console: Console) -> None:
    window = document.fault_window
    low = window.low if window is not None else None
    high = window.high if window is not None else None
    left, right = sorted((band.start, band.end))
    inner_left = RULER_LOW_V if low is None else low
    inner_right = RULER_HIGH_V if high is None else high
    hand_off, stop = ("hand off", "stop")
    if document.reversed:
        hand_off, stop = stop, hand_off
    zones = [
        Zone("broken wire", RULER_LOW_V, inner_left, "x"),
        Zone(hand_off, inner_left, left, "-"),
        Zone("drive", left, right, "="),
        Zone(stop, right, inner_right, "-"),
        Zone("broken wire", inner_right, RULER_HIGH_V, "x"),
    ]
    shown = [zone for zone in zones if zone.high_V > zone.low_V]
    marks = [(volts, f"{volts:.2f}") for volts in (low, left, right, high) if volts is not None]
    for line in ruler_lines(shown, marks, low_V=RULER_LOW_V, high_V=RULER_HIGH_V):
        console.print(Text(f"  {line}"))


def _print_level(word: str, level: LevelFigures, console: Console) -> None:
    console.print(
        Text(
            f"  {word:<12} {level.mean:.3f} V ± {2 * level.u:.3f}; noise {level.sd_within:.4f}, "
            f"between presses {level.sd_between:.4f} V"
        )
    )
    console.print(
        Text(
            f"  {'':<12} one future reading: {level.limit_low:.3f} to {level.limit_high:.3f} V",
            style="dim",
        )
    )
