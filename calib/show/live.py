"""The live page: what to do now, the value on its ruler, and whether it is fresh.

The page is made for the size that the terminal has at this moment. What matters least gives way
first; verb, control, count and value are always there.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Sequence
from itertools import chain

from calib.guide.cautions import FOOTER
from calib.guide.events import CABLE
from calib.guide.protocols import Hold, Live, Reading, Step
from calib.show.console import HEIGHT_CHARS, WIDTH_CHARS, Size, Text
from calib.show.glyphs import half_large, large
from calib.show.ruler import SUPPLY_V, Ruler, pointer_row, ruler_rows
from calib.show.view import behind
from calib.store.text import counted, neutral

STALE_AFTER_S = 0.5  # own choice: five times the longest wait between two looks at the line
NAME_CHARS = 20
MOST_NEEDS = 3
ROOMY = (72, 22)
"""Own choice: columns and rows from which letters and the value are five rows high."""
LONGEST_NEED, LONGEST_DETAIL = 120, 240
BEAT = "●∙∙∙∙∙∙∙"
"""A dot that walks as the logger's clock does: it stands when the line is dead."""
STOPS = "Ctrl-C stops and keeps all of it."


_Part = tuple[int, list[Text]]
"""Some rows of the page, and before them how soon they give way: the highest number first."""


def live_page(
    live: Live, size: Size = (WIDTH_CHARS, HEIGHT_CHARS), *, flash: bool = False
) -> list[Text]:
    """What to do now and the live values, in at most the rows of ``size`` less the cursor's own.

    Args:
        live: What the flow says.
        size: Columns and rows of the terminal.
        flash: Whether something was just counted: the verb is shown reversed for a moment, for
            bells are often muted.
    """
    columns, rows = min(size[0], WIDTH_CHARS), size[1] - 1
    roomy = size[0] >= ROOMY[0] and size[1] >= ROOMY[1]
    parts = [
        *_verb_parts(live.step, columns, roomy=roomy, flash=flash),
        (0, _reading_lines(live, columns, rows, roomy=roomy)),
        (3, _need_lines(live.step.needs, columns - 2)),
        (2, _left_lines(live.step)),
        *_foot_parts(live, columns - 2),
    ]
    while sum(len(lines) for _, lines in parts) > rows:
        last = max(parts, key=lambda part: (part[0], len(part[1])))
        if last[0] == 0:
            break
        parts.remove(last)
    return list(chain.from_iterable(lines for _, lines in parts))[:rows]


def _verb_parts(step: Step, columns: int, *, roomy: bool, flash: bool) -> list[_Part]:
    width = columns - 2
    draw = large if roomy else half_large
    count = "" if step.wanted is None else f"{step.done}/{step.wanted}"
    words = [neutral(step.control, NAME_CHARS), step.verb, count]
    head: list[str] = []
    if step.instead:
        loud = draw(f"not {neutral(step.instead, NAME_CHARS)}", width)
        second = half_large(" ".join(filter(None, words)), width)
    else:
        head, loud = _head_and_loud(words, lambda text: draw(text, width))
        second = _second_rows(step, width, roomy=roomy)
    loudest = "bold reverse" if flash or step.instead or step.verb == CABLE else "bold"
    return [
        (0, _rows(head, "bold reverse")),
        (0, _rows([row.ljust(width) for row in loud], loudest)),
        (1, _rows(second)),
        (1, [] if step.hold is None else [_hold_line(step.hold, width)]),
        (2, _detail_lines(step, width)),
    ]


def _rows(rows: Iterable[str], style: str = "bold") -> list[Text]:
    return [Text(f" {row}", style) for row in rows]


def _head_and_loud(
    words: list[str], draw: Callable[[str], list[str]]
) -> tuple[list[str], list[str]]:
    """A plain row, and the rows of large letters: the verb is large, with as much as fits."""
    control, _, count = words
    drawn = [
        (apart, draw(" ".join(word for word in words if word and word not in apart)))
        for apart in ([], [control], [control, count])
    ]
    apart, loud = next((each for each in drawn if len(each[1]) > 1), drawn[0])
    head = " ".join(filter(None, apart)).upper()
    return ([head] if head else []), loud


def _second_rows(step: Step, width: int, *, roomy: bool) -> list[str]:
    """In which way, or what is left of a hold, nearly as large as the verb."""
    text = how_of(step)
    if not text:
        return []
    return half_large(text, width) if roomy else [text.upper()]


def how_of(step: Step) -> str:
    """In which way, or what is left of a hold."""
    left_s = 0.0 if step.hold is None else step.hold.left_s
    return f"{left_s:.1f} s" if left_s > 0.0 else step.how


def place_of(step: Step) -> str:
    """Which step of how many this is."""
    return "" if step.place is None else f"step {step.place[0]} of {step.place[1]}"


def _hold_line(hold: Hold, width: int) -> Text:
    """A hold as a row that fills."""
    words = f" {hold.left_s:.1f} of {hold.wanted_s:.1f} s left"
    room = max(4, width - len(words) - 1)
    share = min(1.0, hold.done_s / hold.wanted_s) if hold.wanted_s > 0.0 else 1.0
    full = round(share * room)
    return Text(f" {'█' * full}{'░' * (room - full)}{words}")


def _detail_lines(step: Step, width: int) -> list[Text]:
    """What it is about, and at the end of its row which step of how many this is."""
    place = place_of(step)
    if not step.detail and not place:
        return []
    detail = neutral(step.detail, LONGEST_DETAIL)
    first, *rest = textwrap.wrap(detail, width - len(place) - 2) or [""]
    return _rows([f"{first:<{width - len(place)}}{place}", *rest])


def _reading_lines(live: Live, columns: int, rows: int, *, roomy: bool) -> list[Text]:
    """One value large on its ruler where it is alone; a row or two for each of several."""
    if len(live.readings) == 1:
        return _lone_reading(live.readings[0], live.elapsed_s, columns - 2, roomy=roomy)
    room = max(1, rows - (14 if roomy else 8))
    bars = [_bar_reading(reading, columns - 2) for reading in live.readings]
    if sum(map(len, bars)) > room:
        bars = [bar[:1] for bar in bars]
    return fitting(list(chain.from_iterable(bars)), room, "more channels")


def fitting(lines: list[Text], room: int, more: str) -> list[Text]:
    """As many lines as there is room for; the last says how many have none, and of what."""
    if len(lines) <= room:
        return lines
    return [*lines[: room - 1], Text(f"  and {len(lines) - room + 1} {more}")]


def _lone_reading(reading: Reading, elapsed_s: float, width: int, *, roomy: bool) -> list[Text]:
    name, value = neutral(reading.channel, NAME_CHARS), fresh_value(reading)
    if value is None and roomy:
        return [
            Text(f" {name:<{NAME_CHARS}} {freshness(reading)}", style="bold reverse"),
            *_rows(large("no data", width)),
            Text(" ╳" + "╌" * (width - 2) + "╳"),
        ]
    if value is None:
        return [Text(f" {name} NO DATA: {freshness(reading)}", style="bold reverse")]
    turn = int(elapsed_s * 5) % len(BEAT)
    beat = BEAT[-turn:] + BEAT[:-turn]
    figure = figure_of(reading, value)
    if roomy:
        head = f"{name:<{NAME_CHARS}} {beat} fresh"
        return [*_rows([head, *large(figure, width)]), *_scale_lines(reading, value, width)]
    small = half_large(figure, width)
    return _rows([f"{name} {figure} {beat}", *(small if len(small) > 1 else ())])


def fresh_value(reading: Reading) -> float | None:
    """The newest value; None where it is too old to be believed, or there is none."""
    return None if reading.age_s > STALE_AFTER_S else reading.value


def freshness(reading: Reading) -> str:
    """Since when nothing came."""
    never = reading.value is None
    return "no sample yet" if never else f"no new sample for {reading.age_s:.1f} s"


def figure_of(reading: Reading, value: float) -> str:
    """A value as it is said, with its unit."""
    if reading.words:
        return reading.words
    if reading.unit == "raw" and value == round(value):
        return f"{value:.0f} raw"
    return f"{value:.2f}{behind(reading.unit)}"


def seen_ends(reading: Reading, value: float) -> tuple[float, float]:
    """The lowest and the highest that was seen."""
    low = value if reading.low is None else reading.low
    return low, value if reading.high is None else reading.high


def _scale_lines(reading: Reading, value: float, width: int) -> list[Text]:
    """The value's place: on a ruler in volts, or between the ends that were seen."""
    low, high = seen_ends(reading, value)
    if reading.unit != "V":
        return _rows([_bar(reading, value, width)], "")
    ruler = Ruler(high_V=max(SUPPLY_V, high), marks_V=(low, high))
    return _rows([*ruler_rows(ruler, width), pointer_row(ruler, width, value, (low, high))], "")


def _bar_reading(reading: Reading, width: int) -> list[Text]:
    name, value = neutral(reading.channel, NAME_CHARS), fresh_value(reading)
    if value is None:
        dead = f" {name:<{NAME_CHARS}} NO DATA: {freshness(reading)}"
        return [Text(dead, style="bold reverse")]
    head = f" {name:<{NAME_CHARS}} {value:9.3f} {reading.unit}"
    return [Text(head, style="bold"), Text(f" {_bar(reading, value, width)}")]


def _bar(reading: Reading, value: float, width: int) -> str:
    """The value between the lowest and highest that were seen."""
    low, high = seen_ends(reading, value)
    track = ["·"] * (width - 22)
    track[round((value - low) / (high - low) * (len(track) - 1)) if high > low else 0] = "█"
    return f"{low:9.3f} {''.join(track)} {high:9.3f}"


def _need_lines(needs: Sequence[str], width: int) -> list[Text]:
    marked = [f"! {neutral(need, LONGEST_NEED)}" for need in needs[:MOST_NEEDS]]
    wrapped = (textwrap.wrap(need, width, subsequent_indent="  ") for need in marked)
    return _rows(chain.from_iterable(wrapped))


def _left_lines(step: Step) -> list[Text]:
    """When nobody has worked for long: how long it still waits."""
    if step.left_s is None:
        return []
    words = f"{step.left_s:.0f} s left, then it ends as broken off; what came is kept"
    return _rows([words], "bold reverse")


def _foot_parts(live: Live, width: int) -> list[_Part]:
    samples = counted(live.samples, "sample")
    rejected = counted(live.rejected_lines, "rejected line")
    counts = _rows([f"{live.elapsed_s:.0f} s, {samples}, {rejected}"], "dim")
    footer = _rows(textwrap.wrap(FOOTER, width), "")
    return [(6, counts), (4, footer), (5, _rows([STOPS], ""))]
