from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calib.errors import BrokenOffError
from calib.guide.capturing import capture_until
from calib.guide.protocols import Sound
from calib.guide.recording import gauge_for
from calib.guide.wheel import DUMB_S, PATIENCE_S, STILL_S, TurnWatch
from calib.store.capture import read_capture
from tests.hands import NOON, NotingPerson, ScriptedLine, SteppingClock
from tests.wheel_files import counts, hand, levels, ring, wheel_rig


def run(folder: Path, values: np.ndarray, person: NotingPerson, unit: str = "level") -> float:
    """Capture as the wheel flow does; time of its last sample, s."""
    rig = wheel_rig(unit)
    gauge = gauge_for(rig, ["w"], "wheel")
    watch = TurnWatch(person, gauge, turns=10, clock=SteppingClock())
    line = replace(ScriptedLine(values), columns=("w",))
    done = capture_until(line, rig, folder, watch, command="wheel", now=NOON)
    return float(read_capture(done).time_s[-1])


@pytest.mark.parametrize("unit", ["level", "pulses"])
def test_it_ends_when_the_wheel_has_turned_and_stands(tmp_path: Path, unit: str) -> None:
    """Ten turns, then some seconds without a pulse: the bell, and everything is on disk."""
    time_s, turns = hand(10.0, rate_hz=100.0)
    column = (levels if unit == "level" else counts)(ring(6), turns)
    person = NotingPerson()
    end_s = run(tmp_path, np.concatenate([column, np.full(3000, column[-1])]), person, unit)
    assert person.heard == [Sound.DONE]
    turned_s = float(time_s[np.flatnonzero(np.diff(column))[-1]])
    assert end_s == pytest.approx(turned_s + STILL_S, abs=0.3)
    shown = [(live.step.verb, live.step.how) for live in person.shown]
    assert list(dict.fromkeys(shown)) == [("turn", "10 turns"), ("hands off", "")]


def test_one_magnet_may_be_turned_slowly(tmp_path: Path) -> None:
    """Five seconds from pulse to pulse end nothing, as the wait before was as long."""
    _, turns = hand(10.0, speed=0.2, rate_hz=100.0)
    column = levels(ring(1), turns)
    end_s = run(tmp_path, np.concatenate([column, np.zeros(6000)]), NotingPerson())
    assert end_s > 50.0


def test_it_does_not_wait_for_ever(tmp_path: Path) -> None:
    """A wheel that nobody turns is broken off, and nothing is judged."""
    with pytest.raises(BrokenOffError, match="no pulse of the wheel"):
        run(tmp_path, np.zeros(round(1.2 * PATIENCE_S * 100)), NotingPerson())


def test_a_dead_sensor_is_told_once_the_person_says_that_it_turned(tmp_path: Path) -> None:
    """After a while without a pulse the page offers Enter, which before was an elbow's."""
    person = NotingPerson(enters=[True] * 600)
    end_s = run(tmp_path, np.ones(6000), person)
    assert end_s == pytest.approx(DUMB_S, abs=0.3)
    assert person.heard == [Sound.DONE]


def test_the_record_is_gone_over_five_times_a_second_at_most(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A look costs more the longer the record is; at a thousand lines a second it would lag."""
    looks: list[float] = []

    def look(watch: TurnWatch) -> bool:
        looks.append(watch.elapsed_s)
        return think(watch)

    think = TurnWatch.think
    monkeypatch.setattr(TurnWatch, "think", look)
    end_s = run(tmp_path, np.ones(3000), NotingPerson(enters=[True] * 600))
    assert len(looks) > 0.5 * end_s
    assert np.diff(looks).min() >= 0.199


@pytest.mark.parametrize("before", [0, 5, 10, 15])
def test_a_wheel_that_turns_on_in_the_last_moment_is_not_cut_off(
    tmp_path: Path, before: int
) -> None:
    """It stood for a fiftieth of a second less than it has to, whenever the record is looked at."""
    pulses = np.tile([0.0] * 25 + [1.0] * 25, 8)
    stands = np.zeros(round((STILL_S - 0.02) * 100))
    column = np.concatenate([np.zeros(before), pulses, stands, pulses[25:], np.zeros(3000)])
    end_s = run(tmp_path, column, NotingPerson())
    assert end_s > 0.01 * (before + 2 * len(pulses) + len(stands))
