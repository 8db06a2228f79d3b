from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from calib.errors import StoppedError
from calib.guide.protocols import Hold, Live, Person, Reading, Sound, Step
from calib.mule.bench import draw_bench
from calib.mule.person import Act, ObedientPerson
from calib.mule.stage import Stage
from tests.habits import Habits, HabitualPerson

READ = (Reading("regen", 1.0, "V"),)
PRESS = Live(Step("press", wanted=5, control="regen"), READ)
HOLD = Live(Step("hold", wanted=5, control="regen", hold=Hold(0.1, 1.0)), READ)
LET_GO = Live(Step("let go", done=1, wanted=5, control="regen"), READ)


@dataclass
class AtOnce:
    """A bench whose hands are always free, and whose time goes on when it is told to."""

    stage: Stage = field(default_factory=lambda: Stage(draw_bench(1)))
    now_s: float = 0.0
    hands_free: bool = True
    in_use: bool = False
    acts: int = 0

    def act(self, act: Act) -> None:
        """Do it."""
        self.acts += 1
        self.stage.not_before(self.now_s)
        act(self.stage)
        self.now_s = max(self.now_s, self.stage.cursor_s)


def at(bench: AtOnce, name: str) -> float:
    """Where a control is held now, share of its travel."""
    return bench.stage.controls[name].last


def test_a_press_stays_until_the_page_says_let_go() -> None:
    """Pressed at the verb, held through every other frame, let go at the word and not before."""
    bench = AtOnce()
    person: Person = ObedientPerson(bench)
    for live in (PRESS, PRESS, PRESS, HOLD, HOLD):
        person.show(live)
        assert at(bench, "regen") > 0.98
    assert bench.acts == 1
    assert at(bench, "throttle") < 0.01
    person.show(LET_GO)
    assert at(bench, "regen") < 0.05


def test_another_control_is_let_go_of_before_the_next_is_pressed() -> None:
    """Two hands are not asked for."""
    bench = AtOnce()
    person = ObedientPerson(bench)
    person.show(PRESS)
    other = Live(Step("press", wanted=3, control="throttle"), READ)
    person.show(other)
    assert at(bench, "regen") < 0.05
    assert at(bench, "throttle") < 0.05
    person.show(other)
    assert at(bench, "throttle") > 0.98


def test_the_wrong_control_is_let_go_of_when_the_page_names_it() -> None:
    """A habit: the other control first; the name in the large line mends it."""
    bench = AtOnce()
    person = HabitualPerson(bench, Habits(wrong_first=1))
    person.show(PRESS)
    assert at(bench, "throttle") > 0.98
    told = Live(Step("press", wanted=5, control="regen", instead="throttle"), READ)
    person.show(told)
    assert at(bench, "throttle") < 0.05
    person.show(told)
    assert at(bench, "regen") > 0.98


def test_who_lets_go_early_and_who_walks_away() -> None:
    """Two habits: let go at the word hold; and nothing at all after so many acts."""
    hasty = AtOnce()
    person = HabitualPerson(hasty, Habits(lets_go_early=True))
    person.show(PRESS)
    person.show(HOLD)
    assert at(hasty, "regen") < 0.05
    left = AtOnce()
    person = HabitualPerson(left, Habits(leaves_after=0))
    person.show(PRESS)
    assert left.acts == 0


def test_the_machine_is_turned_once_for_each_time_that_it_is_asked_for() -> None:
    """The page asks for as long as nothing moves; who obeys turns once, not twice."""
    bench = AtOnce()
    person = ObedientPerson(bench)
    turn = Live(Step("turn round"), READ)
    person.show(turn)
    person.show(turn)
    assert bench.stage.heading_deg.last == 180.0


@pytest.mark.parametrize(
    ("habits", "verb"), [(Habits(never_turns=True), "turn round"), (Habits(never_sits=True), "sit")]
)
def test_who_does_not_do_it_does_nothing(habits: Habits, verb: str) -> None:
    """A habit is to stand there and wait."""
    bench = AtOnce()
    HabitualPerson(bench, habits).show(Live(Step(verb), READ))
    assert bench.acts == 0


def test_enter_is_pressed_when_the_page_says_so() -> None:
    """Once, for it is asked only once."""
    person = ObedientPerson(AtOnce())
    person.show(Live(Step("press", needs=("keep on, or press Enter",), control="regen"), READ))
    assert (person.entered(), person.entered()) == (True, False)


def test_ready_prompt_is_done_before_it_returns() -> None:
    """What was prepared for a word of the prompt is over when the person says so."""
    bench = AtOnce()
    person = ObedientPerson(bench, ready={"pull": lambda stage: stage.pull_wire("regen", "signal")})
    person.wait_until_ready("KEY OFF. Pull the signal wire of regen.")
    assert bench.stage.opened[("regen", "signal")].end_s > 0.0


def test_answers_come_from_what_was_told_then_from_the_default() -> None:
    """A question without answer and default stops the flow with the question named."""
    person = ObedientPerson(AtOnce(), answers={"wheelbase": "1230"})
    assert person.answer("Wheelbase in mm?") == "1230"
    assert person.answer("Name?", default="mule") == "mule"
    with pytest.raises(StoppedError, match="no answer to 'Colour"):
        person.answer("Colour?")


def test_each_event_is_told_once() -> None:
    """Who looks on hears of a request when it changes, not twenty times a second."""
    told: list[str] = []
    person = ObedientPerson(AtOnce(), tell=told.append)
    for live in (PRESS, PRESS, HOLD, HOLD, LET_GO, LET_GO):
        person.show(live)
    assert told == [
        "Regen: press. 0 of 5.",
        "Regen: hold. 0.9 s. 0 of 5.",
        "Counted: 1 of 5.",
        "Regen: let go. 1 of 5.",
    ]


def test_sounds_are_heard() -> None:
    """The person keeps what the bell said."""
    person = ObedientPerson(AtOnce())
    person.sound(Sound.DONE)
    assert person.heard == [Sound.DONE]
