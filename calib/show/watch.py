"""The live view of every channel, or of one in figures for three metres."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import TracebackType
from typing import Self

from rich.console import Group
from rich.live import Live as RichLive

from calib.guide.cautions import FOOTER
from calib.guide.protocols import Reading
from calib.guide.watching import BINS, Trace, View
from calib.show.console import WIDTH_CHARS, Screen, Text, stderr_console
from calib.show.glyphs import large
from calib.show.live import STALE_AFTER_S
from calib.show.page import finding_lines, print_lines
from calib.show.ruler import Ruler, ruler_rows
from calib.store.documents.watch import WatchDocument
from calib.store.text import neutral

PAGE_ROWS = 23
BAR_CHARS = WIDTH_CHARS - 2
MARKS = "▁▂▃▄▅▆▇█"
LEAST_SPAN = {"V": 0.2, "g": 0.1, "deg": 2.0, "degC": 2.0}
"""Own choice: less than this from bottom to top of the marks, and noise would look like a hand."""
WALK = "|/-\\"
BIG_SCALE = 2
"""Letters of ten rows: about 8 cm high on a laptop's terminal, read from three metres."""


class WatchScreen:
    """The live view on stderr; a context manager around one watch."""

    def __init__(self, rulers: Mapping[str, Ruler], big: str | None = None) -> None:
        """Prepare the screen.

        Args:
            rulers: Rulers of the controls whose dead band is known, by channel.
            big: The one channel to show large; all of them when None.
        """
        self._console = stderr_console()
        self._rulers = rulers
        self._big = big
        self._live = RichLive(
            console=self._console, auto_refresh=False, transient=True, screen=False
        )

    def __enter__(self) -> Self:
        """Begin."""
        if self._console.is_terminal:
            self._live.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Leave the screen as it was."""
        if self._console.is_terminal:
            self._live.stop()

    def show(self, view: View) -> None:
        """Show one view; nothing where there is no terminal."""
        if self._console.is_terminal:
            self._live.update(watch_page(view, self._rulers, self._big), refresh=True)


def watch_page(view: View, rulers: Mapping[str, Ruler], big: str | None = None) -> Group:
    """One view as a renderable of at most 80 by 23."""
    foot = _foot_lines(view)
    if big is not None:
        trace = next(each for each in view.traces if each.reading.channel == big)
        return Group(*_big_lines(trace, rulers.get(big)), *foot)
    room = PAGE_ROWS - len(foot)
    rows = [[_row(trace)] for trace in view.traces]
    for row, trace in zip(rows, view.traces, strict=True):
        # A control's bar shows its dead band; the others get theirs while there is room.
        if trace.reading.channel in rulers:
            row.append(_bar(trace.reading, rulers[trace.reading.channel]))
    for row, trace in zip(rows, view.traces, strict=True):
        if len(row) == 1 and sum(map(len, rows)) < room:
            row.append(_bar(trace.reading, None))
    shown = [line for row in rows for line in row]
    if len(shown) > room:
        hidden = len(shown) - room + 1
        shown = [*shown[: room - 1], Text(f"  and {hidden} more rows: watch fewer with --only")]
    return Group(*shown, *foot)


def show_watch(document: WatchDocument, console: Screen) -> None:
    """What was seen, once it is over."""
    for name, seen in document.channels.items():
        low, last, high = (
            "       –" if value is None else f"{value:8.3f}"
            for value in (seen.low, seen.last, seen.high)
        )
        console.print(Text(f"  {neutral(name, 16):<16} {low} to {high}, last {last} {seen.unit}"))
    rate = "" if document.rate_hz is None else f" at {document.rate_hz:.4g} Hz"
    console.print(
        Text(
            f"  {document.elapsed_s:.1f} s, {document.samples} samples{rate}, "
            f"{document.rejected_lines} rejected lines, {document.gaps} gaps, "
            f"{document.resets} restarts"
        )
    )
    print_lines(console, finding_lines(document.findings))


def _row(trace: Trace) -> Text:
    reading = trace.reading
    name = neutral(reading.channel, 14)
    if reading.value is None:
        return Text(f" {name:<14} NO DATA: no sample yet", style="bold reverse")
    if reading.age_s > STALE_AFTER_S:
        return Text(f" {name:<14} NO DATA for {reading.age_s:.1f} s", style="bold reverse")
    low = reading.value if reading.low is None else reading.low
    high = reading.value if reading.high is None else reading.high
    return Text.assemble(
        (f" {name:<14}{reading.value:9.3f} {reading.unit:<5}", "bold"),
        f" {_sparkline(trace.recent, reading.unit, low, high)} ",
        (f"{low:9.3f} {high:9.3f}", "dim"),
        no_wrap=True,
    )


def _sparkline(recent: Sequence[float], unit: str, low: float, high: float) -> str:
    """The last seconds between the extremes, newest at the right; noise alone stays flat."""
    top = len(MARKS) - 1
    span = max(high - low, LEAST_SPAN.get(unit, 0.0))
    foot = (low + high - span) / 2
    marks = "".join(
        MARKS[round((value - foot) / span * top) if span > 0 else 0] for value in recent
    )
    return f"{marks:>{BINS}}"


def _bar(reading: Reading, ruler: Ruler | None) -> Text:
    """The value's place on its ruler; between the extremes where there is none."""
    if reading.value is None:
        return Text(" " + "╌" * BAR_CHARS)
    if ruler is None:
        low = reading.value if reading.low is None else reading.low
        high = reading.value if reading.high is None else reading.high
        share = (reading.value - low) / (high - low) if high > low else 0.0
        cells = ["─"] * BAR_CHARS
    else:
        share = ruler.share(reading.value)
        cells = list(ruler_rows(ruler, BAR_CHARS)[-3])
    cells[round(share * (BAR_CHARS - 1))] = "▲"
    return Text(" " + "".join(cells), no_wrap=True)


def _big_lines(trace: Trace, ruler: Ruler | None) -> list[Text]:
    reading = trace.reading
    fresh = reading.value is not None and reading.age_s <= STALE_AFTER_S
    figure = f"{reading.value:.2f}" if fresh else "no data"
    scale = BIG_SCALE if fresh else 1
    rows = [
        "".join(char * scale for char in row)
        for row in large(figure, BAR_CHARS // scale)
        for _ in range(scale)
    ]
    head = f" {neutral(reading.channel, 40)}, {reading.unit}"
    lines = [Text(head, style="bold"), Text(), *(Text(f" {row}", style="bold") for row in rows)]
    lines += [Text(), _row(trace)]
    if ruler is not None:
        rows = ruler_rows(ruler, BAR_CHARS)
        lines += [Text(f" {row}", no_wrap=True) for row in rows[:-3]]
    return [*lines, _bar(reading, ruler)]


def _foot_lines(view: View) -> list[Text]:
    rate = "  – Hz" if view.rate_hz is None else f"{view.rate_hz:7.1f} Hz"
    turn = WALK[int(view.elapsed_s * 5) % len(WALK)]
    return [
        Text(
            f" {turn} {view.elapsed_s:.0f} s {rate}, {view.samples} samples, "
            f"{view.rejected_lines} rejected lines, {view.gaps} gaps, {view.resets} restarts",
            style="dim",
            no_wrap=True,
        ),
        Text(f" {FOOTER}  Ctrl-C ends it."),
    ]
