"""The person at the terminal: prompts and live page on stderr, words from stdin."""

from __future__ import annotations

import sys
import textwrap
import time
from itertools import takewhile
from typing import Protocol, Self, TextIO

from calib.errors import CalibError, StoppedError
from calib.guide.cautions import FOOTER
from calib.guide.events import DONE, Audience, EventStream
from calib.guide.protocols import Card, Live, Sound
from calib.show.console import WIDTH_CHARS, Screen, Text
from calib.show.live import live_page
from calib.show.page import bullet_lines, headline, large_lines, note_lines
from calib.show.screen import ENTERS, LiveTerminal
from calib.store.text import neutral

FLASH_S = 0.6  # own choice: long enough to be seen from the corner of an eye
BETWEEN_BELLS_S = 0.12  # own choice: bells closer together run into one on most terminals
BETWEEN_SOUNDS_S = 0.7  # own choice: far enough apart to be told from each other
LONGEST_CHARS = 600  # own choice: longer than any question of ours, shorter than a flood
DEAF_S = 1.0  # own choice: a key that an elbow hits within a second of the prompt is ignored


class Steady(Protocol):
    """A steady clock; Python's module ``time`` is one."""

    def monotonic(self) -> float:
        """Seconds since some moment."""

    def sleep(self, seconds: float, /) -> None:
        """Wait."""


class TerminalPerson:
    """Speaks to the person through the terminal; a context manager around one live session."""

    def __init__(
        self,
        *,
        isolated: bool = False,
        yes: bool = False,
        plain: bool = False,
        audience: Audience | None = None,
        words: TextIO | None = None,
        screen: Screen | None = None,
        steady: Steady = time,
    ):
        """Prepare the terminal.

        Args:
            isolated: The isolation was stated on the command line.
            yes: Ask nothing but the isolation.
            plain: One line an event in place of the live page; so too without a terminal.
            audience: Who is told besides.
            words: Where typed words come from; stdin when None.
            screen: Where prompts and live pages go; stderr when None.
            steady: Tells the time that passes, and waits.
        """
        self._screen = Screen(sys.stderr) if screen is None else screen
        self._steady = steady
        self._isolated = isolated
        self._confirmed: set[str] = set()
        self._yes = yes
        self._words = sys.stdin if words is None else words
        self._terminal = LiveTerminal(self._screen, self._words, plain=plain)
        self._events = EventStream(*self._terminal.listeners, audience=audience)
        self._has_entered = False
        self._flash_until_s = 0.0

    def __enter__(self) -> Self:
        """The person."""
        return self

    def __exit__(self, _: object, error: BaseException | None, __: object) -> None:
        """Leave the live page, and say how the flow ended."""
        self.leave_page()
        ended = DONE if error is None else "Stopped."
        self._events.end(error.what if isinstance(error, CalibError) else ended)

    def confirm_isolation(self, card: Card) -> None:
        """Show the card; wait for its word unless it was stated on the command line.

        Raises:
            StoppedError: Another word came, or none.
        """
        self.leave_page()
        if card.kind in self._confirmed:
            self._say(f"  {card.title}: isolated as before, {card.kind}.")
            return
        self._screen.print(
            headline(f"before you start: {card.title}"),
            *(row for line in card.lines for row in bullet_lines(line)),
            Text(f" {FOOTER}", style="bold"),
        )
        if self._isolated:
            self._say("  Isolation stated with --isolated.")
            return
        prompt = f"Type '{card.word}' once all of this is so: "
        self._events.prompt("isolate", f"{card.title}. {prompt}")
        typed = self._read(prompt)
        if typed.strip().casefold() != card.word:
            raise StoppedError.of("not-isolated", word=card.word)
        if not self._confirmed:
            self._test_sounds()
        self._confirmed.add(card.kind)

    def show(self, live: Live) -> None:
        """Show what to do now and the live values."""
        self._events.look(live)
        flash = self._steady.monotonic() < self._flash_until_s
        keys = self._terminal.show(lambda size: live_page(live, size, flash=flash))
        self._has_entered |= not ENTERS.isdisjoint(keys)

    def entered(self) -> bool:
        """Whether Enter was pressed since this was last asked, while a live page was up."""
        entered, self._has_entered = self._has_entered, False
        return entered

    def sound(self, sound: Sound) -> None:
        """Ring once for counted, twice for done, three times for stop; and flash the page."""
        self._events.hear(sound)
        self._flash_until_s = self._steady.monotonic() + FLASH_S
        self._ring(sound)

    def _test_sounds(self) -> None:
        """Let each sound be heard once, so that a muted bell is known before it is needed."""
        if self._terminal.is_plain or self._yes:
            return
        meanings = {
            Sound.COUNTED: "one bell: counted",
            Sound.DONE: "two: enough",
            Sound.STOP: "three: stop, look at the screen",
        }
        for sound, words in meanings.items():
            self._say(f"  {words}")
            self._ring(sound)
            self._steady.sleep(BETWEEN_SOUNDS_S)
        self._say("  Heard none? Turn the sound on, or watch for the flash.")

    def _ring(self, sound: Sound) -> None:
        if not self._screen.is_plain:
            for _ in range(sound.value):
                self._screen.write("\a")
                self._steady.sleep(BETWEEN_BELLS_S)

    def wait_until_ready(self, prompt: str) -> None:
        """Wait for Enter; with ``--yes`` go on at once.

        Raises:
            StoppedError: No Enter can come.
        """
        self.leave_page()
        if self._yes:
            self._say(prompt)
            return
        self._events.prompt(_loud(prompt), f"{prompt} Then press Enter.")
        loud = [] if self._terminal.is_plain else [Text(), *large_lines(_loud(prompt))]
        self._screen.print(*loud, *note_lines(prompt))
        self._read("  Then press Enter: ")

    def answer(self, question: str, *, default: str | None = None) -> str:
        """Ask for a word or number; with ``--yes`` take the default.

        Raises:
            StoppedError: There is no default and no answer can come.
        """
        self.leave_page()
        if self._yes and default is not None:
            return default
        shown = f"{question} [{default}]" if default else question
        mark = "" if shown.endswith("?") else ":"
        self._events.prompt("answer", shown)
        return self._read(f"{shown}{mark} ").strip() or (default or "")

    def _say(self, text: str) -> None:
        """Print a sentence."""
        self._screen.print(*map(Text, textwrap.wrap(neutral(text, LONGEST_CHARS), WIDTH_CHARS)))

    def _read(self, prompt: str) -> str:
        """A line typed more than a second after the prompt, so that an elbow does not answer."""
        asked_s = self._steady.monotonic()
        while True:
            self._screen.write(neutral(prompt, LONGEST_CHARS))
            line = self._words.readline()
            if not line:
                raise StoppedError.of("input-ended")
            hasty = self._words.isatty() and self._steady.monotonic() - asked_s < DEAF_S
            if not (hasty and not line.strip()):
                return line

    def leave_page(self) -> None:
        """Leave the page; what was typed meanwhile is thrown away."""
        self._has_entered = False
        self._terminal.leave()


def _loud(prompt: str) -> str:
    """What of a prompt is said in large letters: its first words in capitals, else its verb."""
    words = [word.strip(".,:;") for word in prompt.split()]
    capitals = list(takewhile(str.isupper, words))
    return " ".join(capitals or words[:1])
