"""What happens while channels are only watched, as the events that every renderer is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from calib.guide.events import Kind, Listener, LiveEvent
from calib.guide.protocols import Step
from calib.guide.watching import Trace, View
from calib.show.live import STALE_AFTER_S
from calib.show.scales import Scale
from calib.store.text import neutral


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
        reading, scale = trace.reading, self._scales[trace.reading.channel]
        if reading.value is None or reading.age_s > STALE_AFTER_S:
            return Kind.SILENT, "no data."
        recent = trace.recent or (reading.value,)
        went = self._went.setdefault(reading.channel, [])
        if scale.moves(min(recent), max(recent)):
            went += [min(recent), max(recent)]
            went[:] = [min(went), max(went)]
            return Kind.MOVES, "moves."
        ends = sorted((scale.words(each) for each in went), key=lambda each: each == "on")
        went.clear()
        through = f", went through {' to '.join(ends)}" if ends else ""
        return Kind.RESTS, f"{scale.words(sum(recent) / len(recent))}{through}."
