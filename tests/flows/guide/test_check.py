"""The live check against a line of hand-built readings: it asks, counts, rings and goes on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from calib.errors import BrokenOffError
from calib.guide.check.acts import CONNECTORS, FLEX_EACH_S, PATIENCE_S
from calib.guide.check.watch import CheckWatch
from calib.guide.protocols import Sound
from calib.store.rig import Rig
from calib.store.samples import Samples
from tests.hands import NotingPerson, SteppingClock, make_rig
from tests.unit.checks.bench.waves import Floats, flat, noise, ramp

RATE_HZ = 100.0
RIG = """\
[channels.throttle]
role = "control"
column = "a0"
unit = "V"
[channels.regen]
role = "control"
column = "a1"
unit = "V"
[channels.brake]
role = "switch"
column = "a2"
unit = "V"
active = "low"
threshold_V = 2.5
"""


def _press(count: int) -> Floats:
    once = [ramp(1.0, 4.0, 0.5, RATE_HZ), flat(4.0, 1.4, RATE_HZ), ramp(4.0, 1.0, 0.15, RATE_HZ)]
    return np.concatenate([*once, flat(1.0, 1.5, RATE_HZ)] * count)


def _throws(count: int) -> Floats:
    return np.concatenate([flat(0.0, 1.0, RATE_HZ), flat(5.0, 1.0, RATE_HZ)] * count)


def _script(presses: int = 3, *, silent: bool = False) -> Floats:
    """Columns of a whole check: rest, throttle, regen, brake, rest for flexing."""
    rest = flat(1.0, 3.5, RATE_HZ)
    work = _press(presses)
    if silent:
        work = flat(1.0, PATIENCE_S + 2.0, RATE_HZ)
    pulls = _throws(2)
    tail = flat(1.0, 40.0, RATE_HZ)
    idle = [np.full(part.shape, 1.0) for part in (rest, work, work, pulls, tail)]
    throttle = np.concatenate([rest, work, *idle[2:]])
    regen = np.concatenate([rest, idle[1], work, *idle[3:]])
    brake = np.concatenate(
        [np.full(len(rest) + 2 * len(work), 5.0), pulls, np.full(len(tail), 5.0)]
    )
    columns = np.stack([throttle, regen, brake], axis=1)
    return columns + noise(columns.size, 0.002).reshape(columns.shape)


def _blocks(columns: Floats, run: int = 10) -> Iterator[Samples]:
    for start in range(0, len(columns), run):
        part = columns[start : start + run]
        time_s = (start + np.arange(len(part))) / RATE_HZ
        yield Samples(time_s=time_s, arrival_s=time_s, values=part, rows=[""] * len(part))


def _run(rig: Rig, columns: Floats, *, quick: bool = False) -> tuple[NotingPerson, float]:
    """The person afterwards, and how long the check took, s."""
    person = NotingPerson()
    watch = CheckWatch(person, rig, ("a0", "a1", "a2"), quick=quick, clock=SteppingClock(0.2))
    for number, samples in enumerate(_blocks(columns)):
        if watch(samples):
            return person, number * 0.1
    pytest.fail("the check never ended")


def _verbs(person: NotingPerson) -> list[str]:
    """What was to be pressed, in order."""
    asked = [f"press {live.step.control}" for live in person.shown if live.step.verb == "press"]
    return list(dict.fromkeys(asked))


def test_it_asks_for_one_thing_after_the_other(tmp_path: Path) -> None:
    """Rest, throttle, regen, brake, flex, rest: told apart by what comes, no key touched."""
    person, took_s = _run(make_rig(tmp_path, RIG), _script())
    assert person.shown[0].step.verb == "hands off"
    assert _verbs(person) == ["press throttle", "press regen", "press brake"]
    assert "flex" in {live.step.verb for live in person.shown}
    assert person.prompts == []
    assert took_s < 50.0


def test_every_press_and_throw_is_heard(tmp_path: Path) -> None:
    """Two counts and a done for each control, one and a done for the switch, done at the end."""
    person, _ = _run(make_rig(tmp_path, RIG), _script())
    assert person.heard.count(Sound.DONE) == 4
    assert person.heard.count(Sound.COUNTED) == 2 + 2 + 1


def test_a_switch_is_read_in_words(tmp_path: Path) -> None:
    """Off, and on while it is worked: nobody reads a switch's volts."""
    person, _ = _run(make_rig(tmp_path, RIG), _script())
    at_brake = [live.readings for live in person.shown if live.step.control == "brake"]
    assert {reading.words for (reading,) in at_brake} == {"off", "on"}
    assert {live.readings[0].words for live in person.shown if live.step.control == "regen"} == {""}


def test_quick_asks_for_one_press_each_and_nothing_else(tmp_path: Path) -> None:
    """No switch, no flexing."""
    columns = _script(presses=1)
    person, _ = _run(make_rig(tmp_path, RIG), columns, quick=True)
    assert _verbs(person) == ["press throttle", "press regen"]
    assert "flex" not in {live.step.verb for live in person.shown}
    assert max(live.step.wanted or 0 for live in person.shown) == 1


def test_a_dead_control_is_left_after_a_while(tmp_path: Path) -> None:
    """The check goes on to find what else is wrong."""
    person, _ = _run(make_rig(tmp_path, RIG), _script(silent=True))
    assert _verbs(person) == ["press throttle", "press regen", "press brake"]


def test_a_swapped_plug_is_said_at_once_and_counts(tmp_path: Path) -> None:
    """The other one moved: told on the page, and the check does not wait for the wrong one."""
    columns = _script()
    person, took_s = _run(make_rig(tmp_path, RIG), columns[:, [1, 0, 2]])
    first = [live.step for live in person.shown if live.step.control == "throttle"]
    assert {step.instead for step in first} == {"", "regen"}
    assert max(step.done for step in first) == 3
    assert took_s < 50.0


def test_the_bell_rings_on_every_drop_out_while_flexing(tmp_path: Path) -> None:
    """Three openings of 50 ms are three bells, and the page counts them by channel."""
    columns = _script()
    flexing = len(columns) - round(40.0 * RATE_HZ) + round(2.0 * RATE_HZ)
    for opening in range(3):
        first = flexing + opening * 200
        columns[first : first + 5, 0] = 0.0
    person, _ = _run(make_rig(tmp_path, RIG), columns)
    needs = {need for live in person.shown for need in live.step.needs}
    assert "throttle: 3 drop-outs" in needs
    assert person.heard.count(Sound.COUNTED) == 2 + 2 + 1 + 3
    assert CONNECTORS * FLEX_EACH_S > 3 * 2.0


def test_a_channel_that_the_line_does_not_carry_is_not_asked_for(tmp_path: Path) -> None:
    """A missing column is a finding afterwards, not something to wait for."""
    person = NotingPerson()
    rig = make_rig(tmp_path, RIG)
    watch = CheckWatch(person, rig, ("a0",), quick=True, clock=SteppingClock(0.2))
    for samples in _blocks(_script(presses=1)[:, :1]):
        if watch(samples):
            break
    assert _verbs(person) == ["press throttle"]


def _silent_from(columns: Floats, first_s: float) -> Floats:
    """Everything stands still from some moment on, for long."""
    columns = columns.copy()
    first = round(first_s * RATE_HZ)
    columns[first:] = columns[first] + noise(columns[first:].size, 0.002).reshape(-1, 3)
    return columns


def test_a_last_control_that_shows_nothing_is_told_from_a_person_who_left(tmp_path: Path) -> None:
    """The brake is dead: the throttle is asked for once more, and then the check goes on."""
    columns = _script()
    columns[:, 2] = 5.0 + noise(len(columns), 0.002)
    start = 3.5 + 2 * len(_press(3)) / RATE_HZ + PATIENCE_S + 1.0
    again = round(start * RATE_HZ)
    press = _press(1)
    columns = np.concatenate([columns, columns[-round(30.0 * RATE_HZ) :]])
    columns[again : again + len(press), 0] = press
    person, _ = _run(make_rig(tmp_path, RIG), columns)
    assert _verbs(person) == ["press throttle", "press regen", "press brake"]
    needs = {need for live in person.shown for need in live.step.needs}
    assert any("somebody is there" in need for need in needs)
    assert person.shown[-1].step.verb == "let go"


def test_a_person_who_left_makes_no_finding(tmp_path: Path) -> None:
    """Nothing is worked any more, not even what answered before: broken off, not failed."""
    columns = _silent_from(np.concatenate([_script(), _script()]), 3.5 + len(_press(3)) / RATE_HZ)
    with pytest.raises(BrokenOffError, match="nothing that was asked for was worked"):
        _run(make_rig(tmp_path, RIG), columns)


def test_enter_says_that_a_dead_control_is_being_worked(tmp_path: Path) -> None:
    """All is dead, and somebody is there: the check is gone through to its end."""
    columns = np.tile([1.0, 1.0, 5.0], (round(80.0 * RATE_HZ), 1))
    columns += noise(columns.size, 0.002).reshape(columns.shape)
    person = NotingPerson(enters=[True] * 1000)
    watch = CheckWatch(
        person, make_rig(tmp_path, RIG), ("a0", "a1", "a2"), quick=False, clock=SteppingClock(0.2)
    )
    assert any(watch(samples) for samples in _blocks(columns))
    needs = {need for live in person.shown for need in live.step.needs}
    assert any("press Enter" in need for need in needs)


def test_each_step_says_which_it_is_of_how_many(tmp_path: Path) -> None:
    """Rest, three parts, flexing, rest: step 1 of 6 to step 6 of 6."""
    person, _ = _run(make_rig(tmp_path, RIG), _script())
    assert {live.step.place for live in person.shown} == {(number, 6) for number in range(1, 7)}


def test_slowly_and_let_it_snap_are_large_words(tmp_path: Path) -> None:
    """The first press is slow, the others are quick, and every one snaps back."""
    person, _ = _run(make_rig(tmp_path, RIG), _script())
    how = {(live.step.verb, live.step.done, live.step.how) for live in person.shown}
    assert ("press", 0, "slowly") in how
    assert ("press", 1, "quickly") in how
    assert ("let go", 1, "let it snap") in how
