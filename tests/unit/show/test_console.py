from __future__ import annotations

import io

import pytest

from calib.show.console import Screen, Text

LINE = Text.assemble(("FAIL", "bold red"), "  it sticks")


def printed(line: Text, *, is_terminal: bool) -> str:
    """What goes to the output."""
    file = io.StringIO()
    Screen(file, is_terminal=is_terminal, height=24).print(line)
    return file.getvalue()


def test_a_file_gets_plain_text() -> None:
    """No control sequence goes into a pipe, a file or a screen reader's input."""
    assert printed(LINE, is_terminal=False) == "FAIL  it sticks\n"


def test_a_terminal_gets_style(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bold and red around the word, and everything put back after it."""
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert printed(LINE, is_terminal=True) == "\x1b[1;31mFAIL\x1b[0m  it sticks\n"


def test_no_color_takes_the_colour_and_leaves_the_weight(monkeypatch: pytest.MonkeyPatch) -> None:
    """NO_COLOR is honoured; bold is no colour."""
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    assert printed(LINE, is_terminal=True) == "\x1b[1mFAIL\x1b[0m  it sticks\n"


def test_a_dumb_terminal_gets_plain_text(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal that says that it knows no sequences gets none."""
    monkeypatch.setenv("TERM", "dumb")
    assert printed(LINE, is_terminal=True) == "FAIL  it sticks\n"
