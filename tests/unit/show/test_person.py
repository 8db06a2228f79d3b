from __future__ import annotations

import io

import pytest

from calib.errors import StoppedError
from calib.guide.cautions import CONTROL_CAUTIONS, FOOTER, isolation_card
from calib.guide.protocols import Live, Reading, Sound, Step
from calib.show.person import TerminalPerson

CARD = isolation_card("work the throttle by hand", CONTROL_CAUTIONS)


def person(typed: str, *, isolated: bool = False, yes: bool = False) -> TerminalPerson:
    """A person at a terminal on which ``typed`` is typed."""
    return TerminalPerson(words=io.StringIO(typed), isolated=isolated, yes=yes)


@pytest.mark.parametrize("typed", ["\n", "yes\n", "y\n", ""])
def test_enter_alone_never_confirms_the_isolation(
    typed: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only the typed word does; nothing is captured before it."""
    with pytest.raises(StoppedError, match=r"isolat|No answer"):
        person(typed).confirm_isolation(CARD)
    assert FOOTER in capsys.readouterr().err


def test_yes_does_not_confirm_the_isolation() -> None:
    """``--yes`` answers questions, but not that one."""
    with pytest.raises(StoppedError, match="not confirmed"):
        person("\n", yes=True).confirm_isolation(CARD)


def test_the_word_confirms_once_per_session(capsys: pytest.CaptureFixture[str]) -> None:
    """The second flow of one session shows the card again but does not ask again."""
    someone = person("Isolated\n")
    someone.confirm_isolation(CARD)
    someone.confirm_isolation(CARD)
    assert capsys.readouterr().err.count("Type 'isolated'") == 1


def test_a_script_states_the_isolation(capsys: pytest.CaptureFixture[str]) -> None:
    """``--isolated`` takes the place of the word; the cautions are shown all the same."""
    person("", isolated=True).confirm_isolation(CARD)
    shown = " ".join(capsys.readouterr().err.split())
    assert "wheel up" in shown
    assert "maker's manual" in shown


def test_a_question_without_answer_stops_instead_of_guessing() -> None:
    """The end of the input is not an answer."""
    with pytest.raises(StoppedError, match="input has ended"):
        person("").answer("Volts on the display")


def test_yes_takes_the_default() -> None:
    """Where there is a default, a script need not type it."""
    assert person("", yes=True).answer("Step", default="0.01") == "0.01"


def test_nothing_of_a_live_page_goes_to_stdout(capsys: pytest.CaptureFixture[str]) -> None:
    """Stdout is for pages and JSON; prompts and progress are on stderr."""
    with person("") as someone:
        someone.show(Live(step=Step("press"), readings=(Reading("throttle", 1.0, "V"),)))
        someone.sound(Sound.DONE)
    assert capsys.readouterr().out == ""
