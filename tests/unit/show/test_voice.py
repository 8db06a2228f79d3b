from __future__ import annotations

import threading
from collections.abc import Sequence

import pytest

from calib.guide.events import Kind, LiveEvent
from calib.guide.protocols import Step
from calib.show import voice
from calib.show.voice import MOST_WAITING, PROGRAMS, Voice, speech_command


def counted(number: int) -> LiveEvent:
    """One more."""
    return LiveEvent(Kind.COUNTED, "", Step("press", "", number, 9))


class Slow:
    """A speech program that says nothing before it is let."""

    def __init__(self) -> None:
        """Nothing was said."""
        self.said: list[str] = []
        self.begun, self.may = threading.Event(), threading.Event()

    def __call__(self, command: Sequence[str]) -> None:
        """Say it."""
        self.begun.set()
        self.may.wait(10.0)
        self.said.append(command[-1])


def test_a_slow_voice_never_holds_the_flow_and_says_the_newest() -> None:
    """What waited longest gives way: it is no longer true. The last line is said to its end."""
    program = Slow()
    with Voice(("say", "{text}"), program) as speak:
        speak(counted(1))
        assert program.begun.wait(10.0)
        for number in range(2, 9):
            speak(counted(number))
        program.may.set()
    assert program.said[0] == "1 of 9"
    assert program.said[-1] == "8 of 9"
    assert len(program.said) <= 1 + MOST_WAITING


def test_what_a_voice_has_no_words_for_is_left_out() -> None:
    """A channel that rests is no news for an ear."""
    program = Slow()
    program.may.set()
    with Voice(("say", "{text}"), program) as speak:
        speak(LiveEvent(Kind.RESTS, "throttle: 1.1 V", Step("watch", control="throttle")))
        speak(counted(1))
    assert program.said == ["1 of 9"]


def test_a_speech_program_that_is_missing_or_fails_is_borne() -> None:
    """The flow goes on by bells."""
    voice.say(["/nowhere/espeak-ng", "press"])


@pytest.mark.parametrize("there", [None, *PROGRAMS])
def test_the_first_speech_program_that_is_there_is_taken(
    there: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """None of them: no voice."""
    monkeypatch.setattr("shutil.which", lambda name: f"/bin/{name}" if name == there else None)
    found = speech_command()
    assert found == (None if there is None else (f"/bin/{there}", *PROGRAMS[there]))
