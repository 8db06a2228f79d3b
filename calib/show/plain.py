"""Plain mode: one line an event, for a screen reader, a log, or a terminal that draws nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import IO

from calib.guide.events import LiveEvent
from calib.guide.watching import Trace, View
from calib.show.live import STALE_AFTER_S
from calib.show.scales import Scale
from calib.store.text import neutral


class PlainLines:
    """A renderer of events that writes one line for each."""

    def __init__(self, file: IO[str]) -> None:
        """Write to ``file``."""
        self._file = file

    def __call__(self, event: LiveEvent) -> None:
        """Write one line; at once, for who listens works by it."""
        self._file.write(f"  {event.text}\n")
        self._file.flush()


class WatchLines:
    """Says of a watch what has changed: who moves, where it rests, and who has no data."""

    def __init__(self, file: IO[str], scales: Mapping[str, Scale]) -> None:
        """Write to ``file``; ``scales`` say what is movement, and in which words."""
        self._file = file
        self._scales = scales
        self._said: dict[str, str] = {}
        self._went: dict[str, list[float]] = {}

    def __call__(self, view: View) -> None:
        """Write a line for each channel of which there is something new to say."""
        for trace in view.traces:
            name = trace.reading.channel
            state, text = self._state(trace)
            if self._said.get(name) != state:
                self._said[name] = state
                self._file.write(f"  {neutral(name, 40)}: {text}\n")
                self._file.flush()

    def _state(self, trace: Trace) -> tuple[str, str]:
        """What a channel does, in one word, and the same as it is said."""
        reading, scale = trace.reading, self._scales[trace.reading.channel]
        if reading.value is None or reading.age_s > STALE_AFTER_S:
            return "no data", "no data."
        recent = trace.recent or (reading.value,)
        went = self._went.setdefault(reading.channel, [])
        if scale.moves(min(recent), max(recent)):
            went += [min(recent), max(recent)]
            went[:] = [min(went), max(went)]
            return "moves", "moves."
        ends = sorted((scale.words(each) for each in went), key=lambda each: each == "on")
        went.clear()
        through = f", went through {' to '.join(ends)}" if ends else ""
        return "rests", f"{scale.words(sum(recent) / len(recent))}{through}."
