from __future__ import annotations

import io

import pytest

from calib.errors import StoppedError
from calib.guide.cautions import CONTROL_CAUTIONS, FOOTER, isolation_card
from calib.guide.events import Audience, Kind, LiveEvent
from calib.guide.protocols import Live, Reading, Sound, Step
from calib.guide.unplug import pull_prompt
from calib.show.console import Screen
from calib.show.glyphs import large
from calib.show.person import TerminalPerson

CARD = isolation_card("work the throttle by hand", CONTROL_CAUTIONS)


class Keys(io.StringIO):
    """A keyboard: each line comes with the time at which its Enter was pressed."""

    def __init__(self, *typed: tuple[float, str]) -> None:
        """Have the lines ready."""
        super().__init__("".join(f"{line}\n" for _, line in typed))
        self._times_s = [at_s for at_s, _ in typed]
        self.now_s = 0.0

    def readline(self, size: int | None = -1, /) -> str:  # type: ignore[override]
        """The next line; the clock goes on to when it was typed."""
        if self._times_s:
            self.now_s = self._times_s.pop(0)
        return super().readline(-1 if size is None else size)

    def isatty(self) -> bool:
        """Somebody sits at it."""
        return True

    def monotonic(self) -> float:
        """When the last Enter was pressed."""
        return self.now_s

    def sleep(self, seconds: float, /) -> None:
        """Time passes between keys only."""


class AtOnce:
    """A clock by which nobody waits."""

    def monotonic(self) -> float:
        """Always the same moment."""
        return 0.0

    def sleep(self, seconds: float, /) -> None:
        """Go on at once."""


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


def test_an_elbow_on_enter_is_ignored_for_a_second_after_the_prompt() -> None:
    """Enter within the second, or before the prompt stood there, answers nothing."""
    keys = Keys((0.0, ""), (0.4, ""), (1.2, ""))
    waiting = TerminalPerson(words=keys, steady=keys)
    waiting.wait_until_ready("Raise the front wheel onto the plank.")
    assert keys.now_s == pytest.approx(1.2)


def test_a_typed_word_counts_at_once() -> None:
    """An elbow types no word, so a quick typist is not kept waiting."""
    keys = Keys((0.3, "0.93"))
    assert TerminalPerson(words=keys, steady=keys).answer("Volts") == "0.93"


def terminal() -> Screen:
    """A screen that is kept as text."""
    return Screen(io.StringIO(), is_terminal=True)


def heard(screen: Screen) -> str:
    """What went to the screen, bells and all."""
    assert isinstance(screen.file, io.StringIO)
    return screen.file.getvalue()


@pytest.mark.parametrize("sound", list(Sound))
def test_each_sound_is_its_own_number_of_bells(sound: Sound) -> None:
    """One for counted, two for done, three for stop: told apart without looking."""
    screen = terminal()
    TerminalPerson(screen=screen, steady=AtOnce()).sound(sound)
    assert heard(screen).count("\a") == sound.value


def test_each_sound_is_heard_once_before_it_counts() -> None:
    """After the isolation is confirmed the three sounds are played with their meaning."""
    screen = terminal()
    someone = TerminalPerson(screen=screen, words=io.StringIO("isolated\n"), steady=AtOnce())
    someone.confirm_isolation(CARD)
    text = heard(screen)
    assert text.count("\a") == 6
    for words in ("one bell: counted", "two: enough", "three: stop"):
        assert words in text


def test_what_to_do_next_stands_in_large_letters_at_each_prompt() -> None:
    """The verb of the prompt can be read from where the machine stands."""
    screen = terminal()
    someone = TerminalPerson(screen=screen, words=io.StringIO("\n"))
    someone.wait_until_ready("Turn the machine end for end.")
    assert large("turn", 78)[0].strip() in heard(screen)


def test_key_off_stands_in_large_letters_before_a_wire_is_pulled() -> None:
    """Both words: a key alone says nothing."""
    screen = terminal()
    someone = TerminalPerson(screen=screen, words=io.StringIO("\n"))
    someone.wait_until_ready(pull_prompt("throttle", "signal"))
    assert large("key off", 78)[0].strip() in heard(screen)


def test_a_name_in_a_question_cannot_steer_the_terminal() -> None:
    """What a rig file calls a control is shown, not obeyed, where something is asked or said."""
    screen = terminal()
    someone = TerminalPerson(screen=screen, words=io.StringIO("1\n\n"), yes=True)
    someone.answer("Volts of a\x1b[2Jb\u202e")
    someone.wait_until_ready("Work a\x1b[2Jb\u202e.")
    assert "\x1b[2J" not in heard(screen)
    assert "\u202e" not in heard(screen)
    assert heard(screen).count(r"a\x1b[2Jb") == 2


def told_to_audience(*, plain: bool) -> tuple[list[LiveEvent], str]:
    """What the audience hears of a session, and what stands on the terminal."""
    told: list[LiveEvent] = []
    screen = terminal()
    with TerminalPerson(
        screen=screen,
        words=io.StringIO("isolated\n\n1.2\n"),
        plain=plain,
        audience=Audience((told.append,)),
        steady=AtOnce(),
    ) as someone:
        someone.confirm_isolation(CARD)
        someone.wait_until_ready("Turn the machine end for end.")
        someone.answer("Volts on the display")
        someone.show(Live(Step("press", control="throttle")))
    return told, heard(screen)


def test_whoever_looks_on_is_told_that_the_keyboard_waits() -> None:
    """A phone must not show a verb while the flow waits for a word."""
    heard, _ = told_to_audience(plain=False)
    prompts = [event for event in heard if event.kind is Kind.PROMPTED]
    assert [event.step.verb for event in prompts] == ["isolate", "Turn", "answer"]
    assert "Then press Enter" in prompts[1].text
    assert [event.kind for event in heard[3:]] == [Kind.ASKED, Kind.ENDED]


def test_a_prompt_is_not_printed_twice_in_plain_mode() -> None:
    """It stands there already, where it is typed."""
    _, shown = told_to_audience(plain=True)
    assert shown.count("Turn the machine") == 1
    assert "Throttle: press." in shown
