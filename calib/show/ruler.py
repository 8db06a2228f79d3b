"""The travel as a ruler in volts, with worded zones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

RULER_CHARS = 76


@dataclass(frozen=True, slots=True)
class Zone:
    """A stretch of the ruler: from ``low_V`` to ``high_V``, its word and its fill character."""

    word: str
    low_V: float
    high_V: float
    fill: str


def ruler_lines(
    zones: Sequence[Zone], marks: Sequence[tuple[float, str]], *, low_V: float, high_V: float
) -> tuple[str, ...]:
    """The ruler as text lines: zone words, the ruler itself, and marked volts below it.

    Args:
        zones: In rising order of volts, without gaps.
        marks: Volts and their labels.
        low_V: Left end of the ruler.
        high_V: Right end of the ruler.
    """
    width = RULER_CHARS

    def place(volts: float) -> int:
        share = (volts - low_V) / (high_V - low_V)
        return min(width - 1, max(0, round(share * (width - 1))))

    bar = [" "] * width
    words = [" "] * width
    for zone in zones:
        start, stop = place(zone.low_V), place(zone.high_V)
        bar[start : stop + 1] = zone.fill * (stop + 1 - start)
        _write_centred(words, zone.word, start, stop)
    ticks = [" "] * width
    lines: list[list[str]] = [[" "] * width]
    for volts, label in marks:
        at = place(volts)
        ticks[at] = "|"
        _write_in_free_line(lines, label, at)
    return tuple("".join(line).rstrip() for line in (words, bar, ticks, *lines))


def _write_centred(line: list[str], word: str, start: int, stop: int) -> None:
    room = stop - start + 1
    if len(word) > room:
        word = word[:room] if room >= 4 else ""
    left = start + (room - len(word)) // 2
    line[left : left + len(word)] = word


def _write_in_free_line(lines: list[list[str]], label: str, at: int) -> None:
    width = len(lines[0])
    left = min(max(0, at - len(label) // 2), width - len(label))
    for line in lines:
        around = line[max(0, left - 1) : left + len(label) + 1]
        if not "".join(around).strip():
            line[left : left + len(label)] = label
            return
    fresh = [" "] * width
    fresh[left : left + len(label)] = label
    lines.append(fresh)
