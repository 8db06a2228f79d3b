from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.errors import PortError, StoppedError
from calib.guide.capturing import capture_until
from calib.guide.protocols import Sound
from calib.guide.recording import gauge_for
from calib.guide.travel import PATIENCE_S, TravelWatch
from calib.store.capture import read_capture
from calib.store.rig import Rig
from calib.store.samples import EventKind
from tests.hands import NOON, NotingPerson, ScriptedLine, SteppingClock, make_rig, pressed


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    """A rig with a throttle in volts."""
    return make_rig(tmp_path)


def watch(rig: Rig, person: NotingPerson, presses: int = 5) -> TravelWatch:
    """The observer under test."""
    return TravelWatch(
        person,
        gauge_for(rig, ["a0"], "throttle"),
        rig.channel("throttle"),
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
    five_presses_s = 1.5 + 5 * (0.3 + 1.0 + 0.12 + 1.2)
    assert capture.time_s[-1] == pytest.approx(five_presses_s, abs=0.6)
    assert person.heard == [Sound.COUNTED] * 4 + [Sound.DONE]


def test_the_screen_says_one_verb_and_the_count(rig: Rig, tmp_path: Path) -> None:
    """At any moment the person is told to press or to release, and how many are counted."""
    person = NotingPerson()
    run(rig, tmp_path, ScriptedLine(pressed()), person)
    verbs = [live.step.verb for live in person.shown]
    assert set(verbs) == {"hand off", "press", "release", "let go"}
    assert verbs[0] == "hand off"
    assert max(live.step.done for live in person.shown) == 5


def test_a_control_that_is_never_worked_does_not_hold_the_person_for_ever(
    rig: Rig, tmp_path: Path
) -> None:
    """After a while without a press the capture ends and what there is gets judged."""
    person = NotingPerson()
    line = ScriptedLine(np.full(round(3 * PATIENCE_S * 100), 1.05), run=100)
    capture = read_capture(run(rig, tmp_path, line, person))
    assert capture.time_s[-1] == pytest.approx(PATIENCE_S, abs=2)
    assert person.heard == []


def test_half_presses_are_heard_as_wrong(rig: Rig, tmp_path: Path) -> None:
    """Three rings say that a press did not count, without a look at the screen."""
    half = pressed(full_V=2.6, presses=2)
    person = NotingPerson()
    run(rig, tmp_path, ScriptedLine(np.concatenate([pressed(presses=2), half])), person)
    assert Sound.STOP in person.heard


def test_a_cable_that_goes_keeps_what_was_captured(rig: Rig, tmp_path: Path) -> None:
    """Unplugged in the middle: the capture is closed, and the reason goes with it."""
    gone = PortError("The cable went.", "Plug it in.")
    path = capture_until(
        ScriptedLine(pressed(presses=2), fails_with=gone),
        rig,
        tmp_path,
        watch(rig, NotingPerson()),
        command="travel",
        now=NOON,
    )
    cut = [event.text for event in read_capture(path).events if event.kind is EventKind.CUT]
    assert cut == [gone.what]
    assert read_capture(path).closed


def test_ctrl_c_keeps_what_was_captured_and_says_where(rig: Rig, tmp_path: Path) -> None:
    """Exit code 130, and the capture is named."""
    line = ScriptedLine(pressed(presses=1), fails_with=KeyboardInterrupt())
    with pytest.raises(StoppedError, match="kept") as stopped:
        run(rig, tmp_path, line, NotingPerson())
    assert stopped.value.exit_code == 130
    assert stopped.value.capture is not None
    assert len(read_capture(stopped.value.capture)) > 300
