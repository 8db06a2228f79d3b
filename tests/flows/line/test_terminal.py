"""The raw bytes of each live page, as a terminal makes them into what a person sees."""

from __future__ import annotations

import fcntl
import os
import select
import struct
import termios
import time
from collections.abc import Iterator
from dataclasses import replace

import pyte
import pytest

from calib.guide.protocols import Hold, Live, Reading, Step
from calib.show.console import Screen
from calib.show.glyphs import half_large, large
from calib.show.person import TerminalPerson
from tests.tools import needs_posix

SIZES = [(80, 24), (40, 12)]
VOLTS = (Reading("throttle", 2.31, "V", 0.81, 3.7),)
DEGREES = (Reading("pitch", -1.25, "deg", -2.0, 3.0),)
PAGES = {
    "travel, press": Live(Step("press", "all the way", 2, 5, control="throttle"), VOLTS),
    "travel, hold": Live(
        Step("hold", "stay", 2, 5, control="throttle", hold=Hold(0.4, 1.0)), VOLTS
    ),
    "travel, let go": Live(Step("let go", "hand off", 3, 5, control="throttle"), VOLTS),
    "check": Live(
        Step("press", "all the way", 0, 3, control="regen", how="slowly", place=(3, 7)),
        (replace(VOLTS[0], channel="regen"),),
    ),
    "signs": Live(Step("front up", "onto the plank", 1, 5), DEGREES),
    "level": Live(Step("stand still", "averaging", hold=Hold(1.0, 4.0)), DEGREES),
    "meter": Live(Step("set", "the next voltage", 1, 3, control="throttle"), VOLTS),
    "unplug": Live(Step("hands off", "signal wire pulled", control="throttle"), VOLTS),
    "cable": Live(Step("cable", "no line for 3 s", 2, 5), (replace(VOLTS[0], age_s=3.0),)),
    "wrong": Live(Step("press", "", 2, 5, control="throttle", instead="regen"), VOLTS),
}


class Terminal:
    """A pseudo-terminal, and what a terminal emulator shows of what is written to it."""

    def __init__(self, columns: int, rows: int) -> None:
        """Open it."""
        self.master, self.slave = os.openpty()
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.resize(columns, rows)
        self.file = os.fdopen(os.dup(self.slave), "w", encoding="utf-8")
        self.words = os.fdopen(os.dup(self.slave), "r", encoding="utf-8")

    def resize(self, columns: int, rows: int) -> None:
        """Change its size while it is used."""
        fcntl.ioctl(self.slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.screen.resize(rows, columns)

    def type(self, keys: bytes) -> None:
        """Hit keys."""
        os.write(self.master, keys)
        time.sleep(0.02)

    def shown(self) -> list[str]:
        """The rows of the screen, once everything that was written is read."""
        self.file.flush()
        while select.select([self.master], [], [], 0.05)[0]:
            self._stream.feed(os.read(self.master, 65536))
        return [row.rstrip() for row in self.screen.display]

    def close(self) -> None:
        """Close all of it."""
        self.file.close()
        self.words.close()
        os.close(self.master)
        os.close(self.slave)


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Iterator[Terminal]:
    """A terminal of 80 by 24."""
    monkeypatch.setenv("TERM", "xterm-256color")
    terminal = Terminal(80, 24)
    yield terminal
    terminal.close()


def person_at(terminal: Terminal) -> TerminalPerson:
    """Whoever sits at it."""
    return TerminalPerson(words=terminal.words, screen=Screen(terminal.file))


def says(shown: list[str], text: str, columns: int) -> bool:
    """Whether a text stands on the screen: large, in half letters, or as plain words."""
    whole = "\n".join(shown)
    drawn = [large(text, columns - 2), half_large(text, columns - 2)]
    return text.upper() in whole.upper() or any(
        len(rows) > 1 and all(row.strip() in whole for row in rows) for rows in drawn
    )


def readable(live: Live, shown: list[str], columns: int) -> bool:
    """Whether verb, control, count and value can be read, together or some of them apart."""
    step, columns = live.step, min(columns, 80)
    count = "" if step.wanted is None else f"{step.done}/{step.wanted}"
    words = [part for part in (step.control, step.verb, count) if part]
    head = [part for part in (step.control, count) if part]
    verb = any(
        all(says(shown, " ".join(each), columns) for each in apart if each)
        for apart in ((words,), ([step.control], words[1:]), (head, [step.verb]))
    )
    reading = live.readings[0]
    if reading.age_s > 0.5:
        return verb and says(shown, "no data", columns)
    unit = "°" if reading.unit == "deg" else f" {reading.unit}"
    return verb and says(shown, f"{reading.value:.2f}{unit}", columns)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", PAGES)
def test_verb_control_count_and_value_are_read_in_each_frame(
    name: str, size: tuple[int, int], terminal: Terminal
) -> None:
    """Every page at both sizes, as the emulator shows its bytes."""
    terminal.resize(*size)
    with person_at(terminal) as person:
        person.show(PAGES[name])
        shown = terminal.shown()
        assert readable(PAGES[name], shown, size[0]), "\n".join(shown)


@pytest.mark.parametrize("name", PAGES)
def test_resized_while_live_nothing_is_left_over(name: str, terminal: Terminal) -> None:
    """Narrower, wider, narrower: each frame is what a fresh terminal of that size shows."""
    live = PAGES[name]
    with person_at(terminal) as person:
        for size in ((80, 24), (40, 12), (100, 30), (40, 12), (80, 24)):
            terminal.resize(*size)
            person.show(live)
            shown = terminal.shown()
            assert readable(live, shown, size[0]), "\n".join(shown)
            fresh = Terminal(*size)
            with person_at(fresh) as other:
                other.show(live)
                assert shown == fresh.shown()
            fresh.close()


@needs_posix
def test_keys_leave_nothing_on_the_page_and_nothing_for_the_shell(terminal: Terminal) -> None:
    """No echo, the next frame redraws all, and what was typed is thrown away at the end."""
    live = PAGES["travel, press"]
    with person_at(terminal) as person:
        person.show(live)
        before = terminal.shown()
        terminal.type(b"asdf;lkj\x1b[A rm -rf x\n")
        assert terminal.shown() == before
        person.show(live)
        assert terminal.shown() == before
        assert person.entered()
        terminal.type(b"more\n")
    assert not select.select([terminal.words], [], [], 0.1)[0]
    assert termios.tcgetattr(terminal.slave)[3] & termios.ECHO


def test_a_key_redraws_what_somebody_else_wrote_over(terminal: Terminal) -> None:
    """A message of the system in the middle of the page is gone after a key."""
    live = PAGES["travel, press"]
    with person_at(terminal) as person:
        person.show(live)
        clean = terminal.shown()
        terminal.file.write("\x1b[10;5Hdisk full\x1b[3;1Hagain")
        assert terminal.shown() != clean
        terminal.type(b" ")
        person.show(live)
        assert terminal.shown() == clean


def breaks_off(terminal: Terminal) -> None:
    """A flow that ends with an error while its page is up."""
    with person_at(terminal) as person:
        person.show(PAGES["check"])
        assert not termios.tcgetattr(terminal.slave)[3] & termios.ECHO
        raise RuntimeError


@needs_posix
def test_the_terminal_is_given_back_when_the_flow_breaks(terminal: Terminal) -> None:
    """An error on the way restores the echo and the cursor."""
    with pytest.raises(RuntimeError):
        breaks_off(terminal)
    assert termios.tcgetattr(terminal.slave)[3] & termios.ECHO
    terminal.shown()
    assert not terminal.screen.cursor.hidden
