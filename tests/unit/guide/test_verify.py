from __future__ import annotations

import pytest

from calib.checks.sheet.verify import Answers
from calib.errors import StoppedError
from calib.guide.protocols import Card, Live, Sound
from calib.guide.verify import ask_verify
from calib.store.acts import WORDINGS


class Typist:
    """A person who types prepared answers, and notes what was asked."""

    def __init__(self, *answers: str) -> None:
        """Have the answers ready, in order."""
        self.answers = list(answers)
        self.asked: list[str] = []

    def answer(self, question: str, *, default: str | None = None) -> str:
        """The next answer; the default for an empty one."""
        self.asked.append(question)
        return self.answers.pop(0) or (default or "")

    def confirm_isolation(self, card: Card) -> None:
        """Never asked here."""

    def show(self, live: Live) -> None:
        """Nothing is live here."""

    def sound(self, sound: Sound) -> None:
        """Nothing rings here."""

    def leave_page(self) -> None:
        """There is no page."""

    def entered(self) -> bool:
        """Nobody touches the keyboard."""
        return False

    def wait_until_ready(self, prompt: str) -> None:
        """Nothing is waited for here."""


def test_the_four_figures_are_read_before_the_wheel_is_tried() -> None:
    """First what the display shows with the drive disabled, then the raised wheel."""
    typist = Typist("yes", "0.81", "0.93 V", "3,66", "3.72", "still")
    assert ask_verify(typist, "grip", WORDINGS["drive"]) == Answers(
        rest_V=0.81,
        full_V=3.72,
        start_V=0.93,
        end_V=3.66,
        creep="still",
        unplugged_between=False,
    )
    assert "wheel up" in typist.asked[-1]
    assert "drive disabled" in typist.asked[-2]


def test_what_was_not_read_or_tried_stays_unknown() -> None:
    """A dash is an honest answer, and Enter alone claims nothing."""
    answers = ask_verify(Typist("no", "-", "", "-", "-", ""), "grip", WORDINGS["drive"])
    assert answers == Answers(unplugged_between=True)


def test_a_slip_of_the_fingers_is_asked_again() -> None:
    """What was expected stands before the question; nothing is guessed."""
    typist = Typist(
        "maybe", "yes", "about one", "0.81", "nan", "0.93", "3.66", "3.72", "a bit", "still"
    )
    answers = ask_verify(typist, "grip", WORDINGS["drive"])
    read = (answers.rest_V, answers.full_V, answers.start_V, answers.end_V)
    assert read == (0.81, 3.72, 0.93, 3.66)
    assert answers.creep == "still"
    assert [each for each in typist.asked if each.startswith(("Yes or no.", "Volts", "still,"))]


def test_an_answer_that_is_none_ends_it() -> None:
    """Three times is enough: nothing was verified."""
    with pytest.raises(StoppedError, match="does not answer"):
        ask_verify(Typist("yes", "one", "two", "three"), "grip", WORDINGS["drive"])


def test_a_lever_that_brakes_is_asked_for_its_braking() -> None:
    """Nobody looks for a lever's drive in the controller's menu."""
    typist = Typist("yes", "-", "-", "-", "-", "-")
    ask_verify(typist, "regen", WORDINGS["brake"])
    assert "braking starts at" in typist.asked[2]
    assert "full braking from" in typist.asked[3]
    assert not any("full drive" in each for each in typist.asked)
