from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.controls.meter import Stretch
from calib.errors import BrokenOffError, StoppedError
from calib.guide.capturing import capture_until
from calib.guide.meter import PATIENCE_S, ChangedWatch, MeterWatch, ask_meter_V
from calib.guide.protocols import Sound
from calib.guide.recording import gauge_for
from calib.store.capture import read_capture
from tests.hands import NOON, NotingPerson, ScriptedLine, SteppingClock, make_rig
from tests.unit.controls.test_meter import steps


def run(folder: Path, line: ScriptedLine, person: NotingPerson, wanted: int = 3) -> float:
    """Capture `line` as the meter flow does; time of its last sample, s."""
    rig = make_rig(folder)
    gauge = gauge_for(rig, ["a0"], "throttle")
    watch = MeterWatch(person, gauge, gauge, wanted=wanted, clock=SteppingClock())
    done = capture_until(line, rig, folder, watch, command="meter", now=NOON)
    return float(read_capture(done).time_s[-1])


def test_it_ends_when_every_voltage_was_held(tmp_path: Path) -> None:
    """Three voltages of three seconds are counted one by one, and the last rings for done."""
    person = NotingPerson()
    line = ScriptedLine(np.concatenate([steps(0.8, 2.4, 4.1, hold_s=3.0), np.full(3000, 4.1)]))
    end_s = run(tmp_path, line, person)
    assert person.heard == [Sound.COUNTED, Sound.COUNTED, Sound.DONE]
    assert 8.0 < end_s < 11.0
    assert {live.step.verb for live in person.shown} == {"set", "hold"}


def test_it_does_not_wait_for_ever(tmp_path: Path) -> None:
    """One voltage and then nothing new ends it after a while, as broken off."""
    line = ScriptedLine(np.full(round(2 * PATIENCE_S * 100), 1.0), run=100)
    with pytest.raises(BrokenOffError, match="1 of 3 voltages"):
        run(tmp_path, line, NotingPerson())


def test_what_stood_on_the_wire_before_is_nobodys_voltage(tmp_path: Path) -> None:
    """The first one counts only after something was set, or after Enter."""
    rig = make_rig(tmp_path)
    for enters, waits_for in (([], 5.0), ([True], 0.4)):
        gauge = gauge_for(rig, ["a0"], "throttle")
        person = NotingPerson(enters=list(enters))
        watch = ChangedWatch(person, gauge, gauge, wanted=3, clock=SteppingClock())
        line = ScriptedLine(np.concatenate([np.full(500, 0.8), np.full(500, 2.4)]))
        ends = [float(each.time_s[0]) for each in line.blocks() if watch(each)]
        assert ends[0] == pytest.approx(waits_for, abs=0.2)


def test_what_the_meter_showed_is_asked_afterwards() -> None:
    """Each voltage is asked with what the logger read; a decimal comma and a slip are borne."""
    stretches = tuple(Stretch(level_V, 0.001, 0.0, 3.0) for level_V in (0.9, 4.0))
    person = NotingPerson(answers=("0,893", "four", "3.971"))
    assert ask_meter_V(person, stretches) == (0.893, 3.971)
    assert "logger read 0.900 V" in person.prompts[0]


def test_millivolts_are_asked_about() -> None:
    """1120 where the logger read 1.1 V is no voltage of a control: it is asked, and asked again."""
    stretches = (Stretch(1.1, 0.001, 0.0, 3.0),)
    person = NotingPerson(answers=("1120", "maybe", "yes"))
    assert ask_meter_V(person, stretches) == (1.12,)
    assert "In mV, 1.12 V?" in person.prompts[1]


def test_no_number_stops() -> None:
    """Without a number after three tries the flow stops."""
    with pytest.raises(StoppedError, match="does not answer"):
        ask_meter_V(NotingPerson(answers=("", "", "")), (Stretch(0.9, 0.001, 0.0, 3.0),))
