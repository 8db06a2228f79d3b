"""The live view of every channel, or of one in figures for three metres."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Self

from calib.guide.cautions import FOOTER
from calib.guide.events import Audience, Kind, Listener, LiveEvent
from calib.guide.protocols import Live, Reading, Step
from calib.guide.watching import Trace, View
from calib.show.console import HEIGHT_CHARS, WIDTH_CHARS, Screen, Size, Text
from calib.show.glyphs import large
from calib.show.live import fitting, fresh_value, seen_ends
from calib.show.page import finding_lines
from calib.show.ruler import Ruler, ruler_rows
from calib.show.scales import Scale
from calib.show.screen import LiveTerminal
from calib.show.view import rate_text
from calib.store.documents.printed import WatchDocument
from calib.store.text import counted, neutral

BAR_CHARS = WIDTH_CHARS - 2
NAME_CHARS, VALUE_CHARS, END_CHARS, SCALE_CHARS, SEEN_CHARS = 13, 11, 5, 23, 8
HEAD = (
    f" {'channel':<{NAME_CHARS}}{'now':>{VALUE_CHARS}}  "
    f"{'▲ now, ━ last 6 s':^{SCALE_CHARS + 2 * END_CHARS + 2}}"
    f"{'lowest':>{SEEN_CHARS + 1}}{'highest':>{SEEN_CHARS}}"
)
MOVER = "»"
"""What moved in the last seconds is marked, and bold; what rests stands still."""
WALK = "|/-\\"
BIG_SCALE = 2
"""Letters of ten rows: about 8 cm high on a laptop's terminal, read from three metres."""


class WatchEvents:
    """Says of a watch what has changed: who moves, where it rests, and who has no data."""

    def __init__(self, scales: Mapping[str, Scale], listeners: Sequence[Listener]) -> None:
        """Tell ``listeners``; ``scales`` say what is movement, and in which words."""
        self._scales = scales
        self._listeners = listeners
        self._said: dict[str, Kind] = {}
        self._went: dict[str, list[float]] = {}

    def __call__(self, view: View) -> None:
        """Tell of each channel of which there is something new to say."""
        for trace in view.traces:
            name = trace.reading.channel
            kind, text = self._state(trace)
            if self._said.get(name) is not kind:
                self._said[name] = kind
                event = LiveEvent(kind, f"{neutral(name, 40)}: {text}", Step("watch", control=name))
                for listener in self._listeners:
                    listener(event)

    def _state(self, trace: Trace) -> tuple[Kind, str]:
        """What a channel does, and the same as it is said."""
        channel, value = trace.reading.channel, fresh_value(trace.reading)
        scale = self._scales[channel]
        if value is None:
            return Kind.SILENT, "no data."
        recent = trace.recent or (value,)
        went = self._went.setdefault(channel, [])
        if scale.moves(min(recent), max(recent)):
            went[:] = [min([*went, *recent]), max([*went, *recent])]
            return Kind.MOVES, "moves."
        ends = sorted((scale.words(each) for each in went), key=lambda each: each == "on")
        went.clear()
        through = f", went through {' to '.join(ends)}" if ends else ""
        return Kind.RESTS, f"{scale.words(sum(recent) / len(recent))}{through}."


class WatchScreen:
    """The live view on stderr, or lines where no page is drawn; a context manager."""

    def __init__(
        self,
        scales: Mapping[str, Scale],
        rulers: Mapping[str, Ruler],
        big: str | None = None,
        *,
        plain: bool = False,
        audience: Audience | None = None,
    ) -> None:
        """Prepare the screen.

        Args:
            scales: The fixed scale of each channel.
            rulers: Rulers of the controls whose dead band is known, by channel.
            big: The one channel to show large; all of them when None.
            plain: One line an event in place of the page; so too without a terminal.
            audience: Who is told besides.
        """
        self._scales = scales
        self._rulers = rulers
        self._big = big
        self._terminal = LiveTerminal(Screen(sys.stderr), sys.stdin, plain=plain)
        audience = Audience() if audience is None else audience
        self._onlookers = audience.onlookers
        self._events = WatchEvents(scales, (*self._terminal.listeners, *audience.listeners))

    def __enter__(self) -> Self:
        """Begin."""
        return self

    def __exit__(self, *_: object) -> None:
        """Leave the terminal as it was."""
        self._terminal.leave()

    def show(self, view: View) -> None:
        """Show one view; of lines, only what has changed."""
        self._events(view)
        for onlooker in self._onlookers:
            onlooker(self._live(view))
        self._terminal.show(partial(watch_page, view, self._scales, self._rulers, self._big))

    def _live(self, view: View) -> Live:
        """The view as any flow's state: the values in the words in which they are said."""
        readings = tuple(
            replace(each, words="" if each.value is None else self._scales[name].words(each.value))
            for name, each in ((trace.reading.channel, trace.reading) for trace in view.traces)
            if self._big in (None, name)
        )
        return Live(Step("watch"), readings, view.samples, view.rejected_lines, view.elapsed_s)


def watch_page(
    view: View,
    scales: Mapping[str, Scale],
    rulers: Mapping[str, Ruler],
    big: str | None = None,
    size: Size = (WIDTH_CHARS, HEIGHT_CHARS),
) -> list[Text]:
    """One view, in at most the rows of ``size`` less the cursor's own."""
    rows_there = size[1] - 1
    foot = _foot_lines(view, min(size[0], WIDTH_CHARS) - 1)
    if big is not None:
        trace = next(each for each in view.traces if each.reading.channel == big)
        return [*_big_lines(trace, scales[big], rulers.get(big), size), *foot][:rows_there]
    room = rows_there - len(foot) - 1
    rows = [[_row(trace, scales[trace.reading.channel])] for trace in view.traces]
    for row, trace in zip(rows, view.traces, strict=True):
        # A control's bar shows its dead band, while there is room.
        ruler = rulers.get(trace.reading.channel)
        if ruler is not None and sum(map(len, rows)) < room:
            row.append(_bar(trace.reading, ruler))
    lines = [line for row in rows for line in row]
    shown = fitting(lines, room, "more rows: watch fewer with --only")
    return [Text(HEAD, style="dim"), *shown, *foot]


def show_watch(document: WatchDocument, console: Screen, scales: Mapping[str, Scale]) -> None:
    """What was seen, once it is over, in the units of the page."""
    for name, seen in document.channels.items():
        scale = scales[name]
        ends = (seen.low, seen.high, seen.last)
        low, high, last = ("–" if each is None else scale.words(each) for each in ends)
        if not scale.is_switch and seen.low is not None and seen.high is not None:
            low, high = sorted((low, high), key=lambda each: float(each.split()[0]))
        console.print(Text(f"  {neutral(name, 16):<16} {low:>11} to {high:>11}, last {last:>11}"))
    samples = f"{counted(document.samples, 'sample')}{rate_text(document.rate_hz)}"
    counts = Text(f"  {document.elapsed_s:.1f} s, {samples}, {_tally(document)}")
    console.print(counts, *finding_lines(document.findings))


def _tally(seen: View | WatchDocument) -> str:
    """What went wrong on the line so far."""
    rejected, gaps = counted(seen.rejected_lines, "rejected line"), counted(seen.gaps, "gap")
    return f"{rejected}, {gaps}, {counted(seen.resets, 'restart')}"


def _row(trace: Trace, scale: Scale) -> Text:
    """One channel: its value, its place on its fixed scale, and the extremes since the start."""
    reading, newest = trace.reading, fresh_value(trace.reading)
    name = neutral(reading.channel, NAME_CHARS - 1)
    if newest is None:
        since = ": no sample yet" if reading.value is None else f" for {reading.age_s:.1f} s"
        return Text(f" {name:<{NAME_CHARS}} NO DATA{since}", style="bold reverse")
    recent = trace.recent or (newest,)
    moves = scale.moves(min(recent), max(recent))
    # The middle of the last seconds: what rests shows no digits that flicker.
    value = newest if moves else sum(recent) / len(recent)
    track = _track(scale, value, min(recent), max(recent)) if moves else _track(scale, value)
    numbers = sorted(map(scale.number, seen_ends(reading, value)), key=float)
    seen = "".join(f"{each:>{SEEN_CHARS}}" for each in numbers)
    return Text.assemble(
        f"{MOVER if moves else ' '}{name:<{NAME_CHARS}}",
        (f"{scale.words(value):>{VALUE_CHARS}}", "bold" if moves else ""),
        (f"  {track} {'' if scale.is_switch else seen}", "bold" if moves else "dim"),
    )


def _track(scale: Scale, value: float, *recent: float) -> str:
    """The scale between its labelled ends, the last seconds on it, and the value's place."""
    cells = ["·"] * SCALE_CHARS
    if scale.is_switch:
        low, high = "off", "on"
        cells[(SCALE_CHARS - 1) * (scale.words(value) == high)] = "▲"
    else:
        low, high = ("" if end is None else f"{end:g}" for end in (scale.low, scale.high))
        share, *others = map(scale.share, (value, *recent))
        known = [min(max(each, 0.0), 1.0) for each in (share, *others) if each is not None]
        places = [round(each * (SCALE_CHARS - 1)) for each in known]
        if recent and places:
            cells[min(places) : max(places) + 1] = "━" * (max(places) + 1 - min(places))
        if share is not None:
            cells[places[0]] = "◄" if share < 0 else "►" if share > 1 else "▲"
    return f"{low:>{END_CHARS}} {''.join(cells)} {high:<{END_CHARS}}"


def _bar(reading: Reading, ruler: Ruler) -> Text:
    """The value's place on the ruler of its travel."""
    cells = list(ruler_rows(ruler, BAR_CHARS)[-3])
    value = fresh_value(reading)
    if value is not None:
        cells[round(ruler.share(value) * (BAR_CHARS - 1))] = "▲"
    return Text(" " + "".join(cells))


def _big_lines(trace: Trace, scale: Scale, ruler: Ruler | None, size: Size) -> list[Text]:
    value = fresh_value(trace.reading)
    if value is None:
        figure = "no data"
    else:
        figure = scale.words(value) if scale.is_switch else f"{scale.value(value):.2f}"
    roomy = size[1] >= HEIGHT_CHARS and size[0] >= WIDTH_CHARS
    letters = BIG_SCALE if roomy and value is not None else 1
    rows = [
        "".join(char * letters for char in row)
        for row in large(figure, min(size[0] - 2, BAR_CHARS) // letters)
        for _ in range(letters)
    ]
    unit = "" if scale.is_switch else f", {scale.unit}"
    lines = [
        Text(f" {neutral(trace.reading.channel, 40)}{unit}", style="bold"),
        Text(),
        *(Text(f" {row}", style="bold") for row in rows),
        Text(),
        Text(HEAD, style="dim"),
        _row(trace, scale),
    ]
    if ruler is None:
        return lines
    words = [Text(f" {row}") for row in ruler_rows(ruler, BAR_CHARS)[:-3]]
    return [*lines, *words, _bar(trace.reading, ruler)]


def _foot_lines(view: View, width: int) -> list[Text]:
    rate = "  – Hz" if view.rate_hz is None else f"{view.rate_hz:7.1f} Hz"
    turn = WALK[int(view.elapsed_s * 5) % len(WALK)]
    samples = counted(view.samples, "sample")
    counts = f"{turn} {view.elapsed_s:.0f} s {rate}, {samples}, {_tally(view)}"
    counted_rows = [Text(f" {row}", style="dim") for row in textwrap.wrap(counts, width - 1)]
    foot = textwrap.wrap(f"{FOOTER}  Ctrl-C ends it.", width - 1)
    return [*counted_rows, *(Text(f" {row}") for row in foot)]
