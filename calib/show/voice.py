"""The laptop's own voice: a speech program that is there says what the events say."""

from __future__ import annotations

import queue
import shutil
import subprocess
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Final, Self

from calib.guide.events import LiveEvent
from calib.show.spoken import spoken

_WINDOWS: Final = (
    "Add-Type -AssemblyName System.Speech; "
    "(New-Object System.Speech.Synthesis.SpeechSynthesizer).Speak('{text}')"
)
PROGRAMS: Final[dict[str, tuple[str, ...]]] = {
    "espeak-ng": ("{text}",),
    "spd-say": ("--wait", "{text}"),
    "say": ("{text}",),
    "powershell": ("-NoProfile", "-Command", _WINDOWS),
}
"""Speech programs and what they are given. Source: their manual pages; SpeechSynthesizer.Speak."""

MOST_WAITING: Final = 3
"""Own choice: what has waited longer than for three lines is no longer true."""

LONGEST_S: Final = 10.0
"""Own choice: a line of ours takes two seconds; a program that hangs is let go."""

Say = Callable[[Sequence[str]], None]


def speech_command() -> tuple[str, ...] | None:
    """The first speech program that is there, with its arguments; None where there is none."""
    found = ((shutil.which(name), rest) for name, rest in PROGRAMS.items())
    return next(((path, *rest) for path, rest in found if path is not None), None)


def say(command: Sequence[str]) -> None:
    """Run a speech program to its end; what it complains of is nobody's matter."""
    nothing = subprocess.DEVNULL
    with suppress(OSError, subprocess.TimeoutExpired):
        subprocess.run(
            command, stdin=nothing, stdout=nothing, stderr=nothing, timeout=LONGEST_S, check=False
        )


class Voice:
    """A renderer of events that speaks, in a thread of its own; a context manager."""

    def __init__(self, command: Sequence[str], say: Say = say) -> None:
        """Speak with ``command``, in which ``{text}`` stands for what is said."""
        self._command = command
        self._say = say
        self._lines: queue.Queue[str] = queue.Queue(MOST_WAITING)
        self._thread = threading.Thread(target=self._run, name="voice", daemon=True)

    def __enter__(self) -> Self:
        """Be ready."""
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Say what still waits, and fall silent."""
        self._put("")
        self._thread.join(LONGEST_S)

    def __call__(self, event: LiveEvent) -> None:
        """Say what an event says, once what is being said is over."""
        if text := spoken(event):
            self._put(text)

    def _put(self, text: str) -> None:
        """Let a line wait; the oldest gives way, for the newest is what is true."""
        while True:
            try:
                self._lines.put_nowait(text)
            except queue.Full:
                self._lines.get_nowait()
            else:
                return

    def _run(self) -> None:
        while text := self._lines.get():
            self._say([part.replace("{text}", text) for part in self._command])
