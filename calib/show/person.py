"""The person at the terminal: prompts and live page on stderr, words from stdin."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import Self, TextIO

from rich.live import Live as RichLive

from calib.errors import StoppedError
from calib.guide.cautions import FOOTER
from calib.guide.protocols import Card, Live, Sound
from calib.show.console import stderr_console
from calib.show.live import live_page

DEAF_S = 1.0  # own choice: a key that an elbow hits within a second of the prompt is ignored


class TerminalPerson:
    """Speaks to the person through the terminal; a context manager around one live session."""

    def __init__(self, *, isolated: bool = False, yes: bool = False, words: TextIO | None = None):
        """Prepare the terminal.

        Args:
            isolated: The isolation was stated on the command line.
            yes: Ask nothing but the isolation.
            words: Where typed words come from; stdin when None.
        """
        self._console = stderr_console()
        self._isolated = isolated
        self._yes = yes
        self._words = sys.stdin if words is None else words
        self._live: RichLive | None = None

    def __enter__(self) -> Self:
        """The person."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Leave the live page."""
        self._stop_live()

    def confirm_isolation(self, card: Card) -> None:
        """Show the card; wait for its word unless it was stated on the command line.

        Raises:
            StoppedError: Another word came, or none.
        """
        print_ = self._console.print
        print_(f"BEFORE YOU START: {card.title}", style="bold")
        for line in card.lines:
            print_(f"  - {line}")
        print_(f"  {FOOTER}")
        if self._isolated:
            print_("  Isolation stated with --isolated.")
            return
        typed = self._read(f"Type '{card.word}' once all of this is so: ")
        if typed.strip().casefold() != card.word:
            raise StoppedError(
                "The isolation was not confirmed, so nothing was captured.",
                f"Isolate the drive, start again and type '{card.word}'.",
            )
        self._isolated = True

    def show(self, live: Live) -> None:
        """Show what to do now and the live values."""
        page = live_page(live)
        if self._live is None:
            self._live = RichLive(
                page, console=self._console, auto_refresh=False, transient=True, screen=False
            )
            self._live.start()
        self._live.update(page, refresh=self._console.is_terminal)

    def sound(self, sound: Sound) -> None:
        """Ring the bell once for counted, twice for done, three times for stop."""
        if self._console.is_terminal:
            for _ in range(sound.value):
                self._console.bell()
                time.sleep(0.12)

    def wait_until_ready(self, prompt: str) -> None:
        """Wait for Enter; with ``--yes`` go on at once.

        Raises:
            StoppedError: No Enter can come.
        """
        self._stop_live()
        if self._yes:
            self._console.print(prompt)
            return
        self._read(f"{prompt} Then press Enter: ")

    def answer(self, question: str, *, default: str | None = None) -> str:
        """Ask for a word or number; with ``--yes`` take the default.

        Raises:
            StoppedError: There is no default and no answer can come.
        """
        self._stop_live()
        if self._yes and default is not None:
            return default
        shown = question if default is None else f"{question} [{default}]"
        return self._read(f"{shown}: ").strip() or (default or "")

    def _read(self, prompt: str) -> str:
        """A line typed more than a second after the prompt, so that an elbow does not answer."""
        self._console.print(prompt, end="", soft_wrap=True)
        while True:
            asked_s = time.monotonic()
            line = self._words.readline()
            if not line:
                raise StoppedError(
                    "No answer can be read: the input has ended.",
                    "Run it in a terminal; for scripts see --yes and --isolated.",
                )
            hasty = self._words.isatty() and time.monotonic() - asked_s < DEAF_S
            if not (hasty and not line.strip()):
                return line

    def _stop_live(self) -> None:
        if self._live is not None:
            self._live.stop()
            self._live = None
