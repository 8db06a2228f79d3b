"""Plain mode: one line an event, for a screen reader, a log, or a terminal that draws nothing."""

from __future__ import annotations

from typing import IO

from calib.guide.events import Kind, LiveEvent


class PlainLines:
    """A renderer of events that writes one line for each."""

    def __init__(self, file: IO[str]) -> None:
        """Write to ``file``."""
        self._file = file

    def __call__(self, event: LiveEvent) -> None:
        """Write one line; at once, for who listens works by it. A prompt stands there already."""
        if event.kind is not Kind.PROMPTED:
            self._file.write(f"  {event.text}\n")
            self._file.flush()
