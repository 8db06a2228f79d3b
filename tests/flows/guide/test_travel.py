from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from calib.errors import BrokenOffError, PortError, StoppedError
from calib.guide.capturing import capture_until
from calib.guide.hand import LAST_REST_S, Others
from calib.guide.protocols import Sound
from calib.guide.recording import gauge_for
from calib.guide.travel import PATIENCE_S, TravelWatch
from calib.store.capture import read_capture
from calib.store.rig import Rig
from calib.store.samples import EventKind, Samples
from tests.hands import (
    NOON,
    VOLT_RIG,
    NotingPerson,
    ScriptedLine,
    SteppingClock,
    make_rig,
    pressed,
)


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    """A rig with a throttle in volts."""
    return make_rig(tmp_path)


def watch(rig: Rig, person: NotingPerson, presses: int = 5) -> TravelWatch:
    """The observer under test."""
    return TravelWatch(
        person,
        gauge_for(rig, ["a0"], "throttle"),
        Others(rig, ["a0"], "throttle"),
        presses=presses,
        clock=SteppingClock(),
    )


def run(rig: Rig, folder: Path, line: ScriptedLine, person: NotingPerson) -> Path:
    """Capture ``line`` as the travel flow does."""
    return capture_until(line, rig, folder, watch(rig, person), command="travel", now=NOON)


def test_it_stops_by_itself_when_it_has_enough(rig: Rig, tmp_path: Path) -> None:
    """Nobody has to touch the keyboard: after five presses and a last rest the capture ends."""
    person = NotingPerson()
    line = ScriptedLine(pressed(presses=12))
    capture = read_capture(run(rig, tmp_path, line, person))
    five_presses_s = 1.5 + 5 * (0.3 + 1.0 + 0.12) + 4 * 1.2
    assert capture.time_s[-1] == pytest.approx(five_presses_s + LAST_REST_S, abs=0.3)
    assert person.heard == [Sound.COUNTED] * 4 + [Sound.DONE]


@pytest.mark.parametrize(("rest_V", "full_V", "told"), [(1.05, 4.2, False), (4.2, 1.05, True)])
def test_a_control_that_falls_when_pressed_is_asked_about(
    rig: Rig, tmp_path: Path, rest_V: float, full_V: float, *, told: bool
) -> None:
    """Reversed, or held when it began: who knows says so now, and not after five presses."""
    person = NotingPerson()
    run(rig, tmp_path, ScriptedLine(pressed(rest_V=rest_V, full_V=full_V)), person)
    assert any("it falls when" in each for live in person.shown for each in live.step.needs) == told


def test_the_verbs_come_in_the_order_of_the_hand(rig: Rig, tmp_path: Path) -> None:
    """Hand off, then for each press: press, hold with what is left, let go; never out of turn."""
    person = NotingPerson()
    run(rig, tmp_path, ScriptedLine(pressed(hold_s=1.6)), person)
    steps = [live.step for live in person.shown]
    verbs = [step.verb for i, step in enumerate(steps) if i == 0 or step.verb != steps[i - 1].verb]
    assert verbs == ["hand off", *["press", "hold", "let go"] * 5]
    assert {step.control for step in steps} == {"throttle"}
    assert all(step.hold is not None for step in steps if step.verb == "hold")


def test_the_count_changes_when_the_hold_has_counted(rig: Rig, tmp_path: Path) -> None:
    """While it is held the count stands; with the words let go it is one higher."""
    person = NotingPerson()
    run(rig, tmp_path, ScriptedLine(pressed(hold_s=1.6)), person)
    steps = [live.step for live in person.shown]
    turns = [
        (one.done, other.done)
        for one, other in pairwise(steps)
        if (one.verb, other.verb) == ("hold", "let go")
    ]
    assert turns == [(0, 1), (1, 2), (2, 3), (3, 4), (4, 5)]


def test_a_half_press_is_taken_back_once_a_full_one_shows_it(rig: Rig, tmp_path: Path) -> None:
    """Nobody can know the end before it was seen; what was counted too early is said."""
    person = NotingPerson()
    volts = np.concatenate([pressed(full_V=2.6, presses=1, hold_s=1.6), pressed(hold_s=1.6)])
    run(rig, tmp_path, ScriptedLine(volts), person)
    counts = [live.step.done for live in person.shown]
    assert any(later < earlier for earlier, later in pairwise(counts))
    assert Sound.STOP in person.heard


def test_a_control_that_is_never_worked_ends_as_broken_off(rig: Rig, tmp_path: Path) -> None:
    """After a while without a press it ends, kept and not judged; the time left was shown."""
    person = NotingPerson()
    line = ScriptedLine(np.full(round(3 * PATIENCE_S * 100), 1.05), run=100)
    with pytest.raises(BrokenOffError, match="0 of 5 presses of throttle") as ended:
        run(rig, tmp_path, line, person)
    assert ended.value.exit_code == 1
    assert ended.value.capture is not None
    assert read_capture(ended.value.capture).time_s[-1] == pytest.approx(PATIENCE_S, abs=2)
    assert min(live.step.left_s for live in person.shown if live.step.left_s is not None) < 3.0


def test_another_control_is_named_at_once(tmp_path: Path) -> None:
    """The throttle is asked for and the regen lever moves: that is said, and nothing is counted."""
    rig = make_rig(tmp_path, VOLT_RIG + VOLT_RIG.replace("throttle", "regen").replace("a0", "a1"))
    person = NotingPerson()
    look = TravelWatch(
        person,
        gauge_for(rig, ["a0", "a1"], "throttle"),
        Others(rig, ["a0", "a1"], "throttle"),
        presses=5,
        clock=SteppingClock(),
    )
    worked = pressed(presses=1, hold_s=1.6)
    still = np.full(worked.shape, 1.05) + np.random.default_rng(2).normal(0.0, 0.002, worked.shape)
    for start in range(0, len(worked), 10):
        both = np.column_stack([still[start : start + 10], worked[start : start + 10]])
        time_s = (start + np.arange(len(both))) / 100.0
        look(Samples(time_s, time_s, both, [""] * len(both)))
    assert {live.step.instead for live in person.shown} == {"", "regen"}
    assert max(live.step.done for live in person.shown) == 0


def test_half_presses_are_heard_as_wrong(rig: Rig, tmp_path: Path) -> None:
    """Three rings say that a press did not count, without a look at the screen."""
    half = pressed(full_V=2.6, presses=2)
    person = NotingPerson()
    run(rig, tmp_path, ScriptedLine(np.concatenate([pressed(presses=2), half])), person)
    assert Sound.STOP in person.heard


def test_a_cable_that_goes_keeps_what_was_captured(rig: Rig, tmp_path: Path) -> None:
    """Unplugged in the middle: closed, with the reason in it, and nothing is judged."""
    gone = PortError("The cable went.", "Plug it in.")
    line = ScriptedLine(pressed(presses=2), fails_with=gone)
    with pytest.raises(BrokenOffError, match="The cable went") as ended:
        run(rig, tmp_path, line, NotingPerson())
    path = ended.value.capture
    assert path is not None
    cut = [event.text for event in read_capture(path).events if event.kind is EventKind.CUT]
    assert cut == [gone.what]
    assert read_capture(path).noted_sha256 is not None


def test_ctrl_c_keeps_what_was_captured_and_says_where(rig: Rig, tmp_path: Path) -> None:
    """Exit code 130, and the capture is named."""
    line = ScriptedLine(pressed(presses=1), fails_with=KeyboardInterrupt())
    with pytest.raises(StoppedError, match="kept") as stopped:
        run(rig, tmp_path, line, NotingPerson())
    assert stopped.value.exit_code == 130
    assert stopped.value.capture is not None
    assert len(read_capture(stopped.value.capture)) > 300
