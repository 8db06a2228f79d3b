"""The live page: one verb with its count, the value on its ruler, and whether it is fresh."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group

from calib.guide.cautions import FOOTER
from calib.guide.protocols import Live, Reading, Step
from calib.show.console import WIDTH_CHARS, Text
from calib.show.glyphs import large
from calib.show.page import large_lines, note_lines
from calib.show.ruler import SUPPLY_V, Ruler, pointer_row, ruler_rows
from calib.store.text import neutral

STALE_AFTER_S = 0.5  # own choice: five times the longest wait between two looks at the line
PAGE_ROWS = 23  # a plain terminal's 24, less the cursor's own
NAME_CHARS = 20
BAR_CHARS = WIDTH_CHARS - 2
MOST_NEEDS = 3
BEAT = "●∙∙∙∙∙∙∙"
"""A dot that walks as the logger's clock does: it stands when the line is dead."""


def live_page(live: Live, *, flash: bool = False) -> Group:
    """What to do now and the live values, as one renderable of at most 80 by 23.

    Args:
        live: What the flow says.
        flash: Whether something was just counted: the verb is shown reversed for a moment, for
            bells are often muted.
    """
    top = _verb_lines(live.step, flash=flash)
    foot = [*_need_lines(live.step.needs), *_foot_lines(live)]
    room = PAGE_ROWS - len(top) - len(foot)
    return Group(*top, *_reading_lines(live, room), *foot)


def _verb_lines(step: Step, *, flash: bool) -> list[Text]:
    count = "" if step.wanted is None else f" {step.done}/{step.wanted}"
    lines = large_lines(f"{step.verb}{count}")
    for line in lines:
        line.pad_right(WIDTH_CHARS - 1 - len(line.plain))
        if flash:
            line.stylize("reverse")
    return [*lines, Text(f" {neutral(step.detail, WIDTH_CHARS - 3)}", style="bold"), Text()]


def _reading_lines(live: Live, room: int) -> list[Text]:
    """One value large on its ruler where it is alone; a row or two for each of several."""
    readings = live.readings
    if len(readings) == 1:
        return _large_reading(readings[0], live.elapsed_s)
    rows = [_bar_reading(reading) for reading in readings]
    if sum(map(len, rows)) > room:
        rows = [row[:1] for row in rows]
    shown = [line for row in rows for line in row]
    if len(shown) <= room:
        return shown
    hidden = len(shown) - room + 1
    return [*shown[: room - 1], Text(f"  and {hidden} more channels")]


def _large_reading(reading: Reading, elapsed_s: float) -> list[Text]:
    name = neutral(reading.channel, NAME_CHARS)
    if reading.value is None or _is_dead(reading):
        return [
            Text(f" {name:<{NAME_CHARS}} {_freshness(reading)}", style="bold reverse"),
            *large_lines("no data"),
            Text(" ╳" + "╌" * (BAR_CHARS - 2) + "╳"),
        ]
    turn = int(elapsed_s * 5) % len(BEAT)
    head = f" {name:<{NAME_CHARS}} {BEAT[-turn:] + BEAT[:-turn]} fresh"
    unit = "°" if reading.unit == "deg" else f" {reading.unit}"
    figure = large(f"{reading.value:.2f}{unit}", BAR_CHARS)
    return [
        Text(head, style="bold"),
        *(Text(f" {row}", style="bold") for row in figure),
        *_scale_lines(reading, reading.value),
    ]


def _scale_lines(reading: Reading, value: float) -> list[Text]:
    """The value's place: on a ruler in volts, or between the ends that were seen."""
    low, high = _seen(reading, value)
    if reading.unit != "V":
        return [Text(f" {_bar(reading, value)}")]
    ruler = Ruler(high_V=max(SUPPLY_V, high), marks_V=(low, high))
    rows = [*ruler_rows(ruler, BAR_CHARS), pointer_row(ruler, BAR_CHARS, value, (low, high))]
    return [Text(f" {row}", no_wrap=True) for row in rows]


def _bar_reading(reading: Reading) -> list[Text]:
    name = neutral(reading.channel, NAME_CHARS)
    if reading.value is None or _is_dead(reading):
        return [Text(f" {name:<{NAME_CHARS}} NO DATA: {_freshness(reading)}", style="bold reverse")]
    return [
        Text(f" {name:<{NAME_CHARS}} {reading.value:9.3f} {reading.unit}", style="bold"),
        Text(f" {_bar(reading, reading.value)}", no_wrap=True),
    ]


def _bar(reading: Reading, value: float) -> str:
    """The value between the lowest and highest that were seen."""
    low, high = _seen(reading, value)
    width = BAR_CHARS - 22
    place = round((value - low) / (high - low) * (width - 1)) if high > low else 0
    track = "".join("█" if index == place else "·" for index in range(width))
    return f"{low:9.3f} {track} {high:9.3f}"


def _seen(reading: Reading, value: float) -> tuple[float, float]:
    low = value if reading.low is None else reading.low
    return low, value if reading.high is None else reading.high


def _is_dead(reading: Reading) -> bool:
    return reading.age_s > STALE_AFTER_S


def _freshness(reading: Reading) -> str:
    if reading.value is None:
        return "no sample yet"
    return f"no new sample for {reading.age_s:.1f} s"


def _need_lines(needs: Sequence[str]) -> list[Text]:
    shown = [Text(f" still needed: {neutral(need, 62)}") for need in needs[:MOST_NEEDS]]
    return [Text(), *shown] if shown else []


def _foot_lines(live: Live) -> list[Text]:
    counts = (
        f" {live.elapsed_s:.0f} s, {live.samples} samples, {live.rejected_lines} rejected lines"
    )
    return [
        Text(counts, style="dim"),
        *note_lines(f"{FOOTER}  Ctrl-C stops and keeps all of it.", indent=1),
    ]
