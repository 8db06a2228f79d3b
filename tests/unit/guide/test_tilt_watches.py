"""Looking on while the machine is stood, posed, shaken and rested: when enough is captured."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from scipy.spatial.transform import Rotation

from calib.errors import UsageError
from calib.guide.level import PREPARE, SIT, TURN, TURN_BACK, LevelPlan, ask_angle, take_standings
from calib.guide.poses import PosesWatch
from calib.guide.protocols import Sound
from calib.guide.recording import gauges_for
from calib.guide.resting import RestWatch
from calib.guide.signs import PROMPTS, SignsWatch, take_poses
from calib.guide.standing import PATIENCE_S, StandingWatch
from calib.guide.surge import SurgeWatch
from calib.store.samples import Samples
from calib.tilt.geometry import raised_angle
from calib.tilt.inputs import TiltInputs, find_inputs
from calib.tilt.signs import Pose
from tests.hands import NotingPerson, SteppingClock
from tests.tilt_files import ACCEL, PITCH, Motion, force_columns, pitch_column, tilt_rig
from tests.tilt_world import RATE_HZ, SQUARE, Sensor, turned

Array = npt.NDArray[np.float64]
BLOCK = raised_angle(100, 1250)
RUN = 10


@dataclass
class Ended:
    """How far a watch listened, and what the person saw and heard."""

    at_s: float
    enough: bool
    person: NotingPerson

    @property
    def verbs(self) -> list[str]:
        """The verbs shown, without repeats."""
        seen = [live.step.verb for live in self.person.shown]
        return [verb for i, verb in enumerate(seen) if i == 0 or verb != seen[i - 1]]


def _blocks(values: Array) -> Iterator[Samples]:
    for start in range(0, len(values), RUN):
        rows = values[start : start + RUN]
        time_s = (start + np.arange(len(rows))) / RATE_HZ
        yield Samples(time_s, time_s, rows, [""] * len(rows))


def _listen(
    folder: Path,
    make: Callable[[NotingPerson, TiltInputs], Callable[[Samples], bool]],
    columns: dict[str, Array],
    text: str = ACCEL,
) -> Ended:
    person = NotingPerson()
    inputs = find_inputs(tilt_rig(folder, text), list(columns))
    watch = make(person, inputs)
    values = np.column_stack(list(columns.values()))
    for samples in _blocks(values):
        if watch(samples):
            return Ended(float(samples.time_s[-1]), True, person)
    return Ended(len(values) / RATE_HZ, False, person)


def _force(steps: list[tuple[Rotation, float]], noise_g: float = 0.003) -> dict[str, Array]:
    return force_columns(Sensor(SQUARE, noise_g=noise_g), Motion(steps), np.random.default_rng(1))


def _standing(after_a_move: bool = False) -> Callable[..., StandingWatch]:
    return lambda person, inputs: StandingWatch(
        person, inputs, what="first standing", clock=SteppingClock(), after_a_move=after_a_move
    )


def test_a_quiet_standing_ends_after_the_shortest_average(tmp_path: Path) -> None:
    """Four seconds of standing still are enough where the noise is small; the bell rings twice."""
    ended = _listen(tmp_path, _standing(), _force([(turned(), 30.0)]))
    assert ended.enough
    assert 4.0 <= ended.at_s <= 5.0
    assert ended.person.heard == [Sound.DONE]


def test_a_noisy_standing_is_averaged_for_longer(tmp_path: Path) -> None:
    """The stop rule is the uncertainty, not a fixed time: a noisier channel takes longer."""
    rng = np.random.default_rng(5)
    quiet, noisy = (
        _listen(tmp_path, _standing(), {"p": rng.normal(0.3, noise, 4000)}, PITCH)
        for noise in (0.05, 0.9)
    )
    assert quiet.at_s < 5.0
    assert 10.0 < noisy.at_s < 40.0


def test_it_says_what_it_waits_for_while_the_machine_moves(tmp_path: Path) -> None:
    """Rocked for eight seconds, then still: wait, then hands off."""
    steps = [(turned(2.0 * (-1) ** i), 0.05) for i in range(7)] + [(turned(), 12.0)]
    ended = _listen(tmp_path, _standing(), _force(steps))
    assert ended.enough
    assert ended.at_s > 12.0
    assert ended.verbs[0] == "wait"
    assert "hands off" in ended.verbs


def test_without_questions_a_movement_has_to_come_first(tmp_path: Path) -> None:
    """--yes: the machine that was not turned yet must not be taken for the turned one."""
    still = _listen(tmp_path, _standing(after_a_move=True), _force([(turned(), 30.0)]))
    assert not still.enough
    steps = [(turned(), 6.0), (turned(4.0), 0.1), (turned(), 12.0)]
    moved = _listen(tmp_path, _standing(after_a_move=True), _force(steps))
    assert moved.enough
    assert moved.at_s > 10.0


def test_a_machine_that_never_stands_does_not_hold_the_person_for_ever(tmp_path: Path) -> None:
    """After two minutes it gives up, without the bell of success."""
    steps = [(turned(3.0 * (-1) ** i), 0.05) for i in range(120)]
    ended = _listen(tmp_path, _standing(), _force(steps))
    assert ended.enough
    assert ended.at_s == pytest.approx(PATIENCE_S, abs=1.0)
    assert ended.person.heard == []


def _signs(person: NotingPerson, inputs: TiltInputs) -> SignsWatch:
    return SignsWatch(person, inputs, BLOCK, clock=SteppingClock())


def test_poses_are_counted_in_any_order(tmp_path: Path) -> None:
    """Front twice, rear, both leans: a bell each, two at the end, and it stops by itself."""
    steps = [(turned(), 4.0)]
    up = BLOCK.angle_deg
    for pose in (turned(left_up=10), turned(up), turned(-up), turned(left_up=-9), turned(up)):
        steps += [(pose, 3.2), (turned(), 3.2)]
    ended = _listen(tmp_path, _signs, _force([*steps, (turned(), 60.0)]))
    assert ended.enough
    assert ended.at_s < 50.0
    assert ended.person.heard.count(Sound.COUNTED) >= 4
    assert ended.person.heard[-1] is Sound.DONE
    needs = {need for live in ended.person.shown for need in live.step.needs}
    assert any("front on the plank" in need for need in needs)
    assert any("leaned to each side" in need for need in needs)


def test_a_front_raised_once_is_not_enough(tmp_path: Path) -> None:
    """Mirror images are not guessed: it goes on asking until patience ends."""
    steps = [(turned(), 4.0)]
    up = BLOCK.angle_deg
    for pose in (turned(up), turned(-up), turned(left_up=10), turned(left_up=-9)):
        steps += [(pose, 3.2), (turned(), 3.2)]
    ended = _listen(tmp_path, _signs, _force(steps))
    assert not ended.enough
    assert Sound.DONE not in ended.person.heard


def test_a_shake_between_two_rests(tmp_path: Path) -> None:
    """Rest, shake, rest: one bell each, then two."""
    count = int(20 * RATE_HZ)
    time_s = np.arange(count) / RATE_HZ
    push = np.where((time_s > 4) & (time_s < 11), 0.2 * np.sin(9.0 * time_s), 0.0)
    columns = force_columns(
        Sensor(SQUARE, noise_g=0.003), Motion([(turned(), 20.0)]), np.random.default_rng(2), push
    )
    ended = _listen(tmp_path, lambda p, i: SurgeWatch(p, i, clock=SteppingClock()), columns)
    assert ended.enough
    assert 12.0 < ended.at_s < 15.0
    assert ended.verbs == ["wait", "shake", "wait"]
    assert ended.person.heard == [Sound.COUNTED, Sound.COUNTED, Sound.DONE]


def test_different_poses_are_counted_until_all_is_claimed(tmp_path: Path) -> None:
    """A pose put down twice counts once; it stops when bias and scale are certain."""
    rng = np.random.default_rng(3)
    faces = list(Rotation.random(16, rng=rng))
    steps = [(face, 3.0) for face in [faces[0], *faces]]
    ended = _listen(
        tmp_path, lambda p, i: PosesWatch(p, i, clock=SteppingClock()), _force(steps, 0.002)
    )
    assert ended.enough
    assert ended.at_s < 17 * 4.2
    counts = [live.step.done for live in ended.person.shown]
    assert max(counts) >= 11
    assert counts == sorted(counts)


def test_a_rest_lasts_as_long_as_was_asked(tmp_path: Path) -> None:
    """Hands off for thirty seconds, then two bells."""
    rig = tilt_rig(tmp_path, PITCH)
    person = NotingPerson()
    watch = RestWatch(
        person, gauges_for(rig, ["p"], ["pitch"]), duration_s=30.0, clock=SteppingClock()
    )
    pitch = pitch_column(Motion([(turned(), 40.0)]), np.random.default_rng(4))
    ends = [float(s.time_s[-1]) for s in _blocks(pitch[:, None]) if watch(s)]
    assert ends[0] == pytest.approx(30.0, abs=0.1)
    assert person.heard[0] is Sound.DONE
    assert person.shown[-1].step.verb == "hands off"


def test_standings_alternate_and_the_rider_sits_on_the_first(tmp_path: Path) -> None:
    """First, seated, turned, first, turned; each with its prompt and its capture."""
    person = NotingPerson()
    heard: list[str] = []

    def listen(what: str) -> Path:
        heard.append(what)
        return tmp_path / f"{len(heard)}.csv"

    taken = take_standings(person, listen, LevelPlan(turned=True, each_way=2, seated=True))
    assert heard == [
        "first standing", "seated", "turned standing", "first standing", "turned standing",
    ]  # fmt: skip
    assert person.prompts == [PREPARE, SIT, TURN, TURN_BACK, TURN]
    assert (len(taken.first), len(taken.turned), len(taken.seated)) == (2, 2, 1)


def test_a_display_alone_is_read_at_each_standing() -> None:
    """Nothing to listen to: the person types what the controller shows."""
    person = NotingPerson(answers=("", "0,8", "", "-1.4"))
    taken = take_standings(person, None, LevelPlan(turned=True, each_way=1, asks_display=True))
    assert taken.shown_first_deg == [0.8]
    assert taken.shown_turned_deg == [-1.4]
    assert taken.first == []


def test_what_is_no_angle_is_refused() -> None:
    """A word in place of a number is told."""
    with pytest.raises(UsageError, match="is no number"):
        ask_angle(NotingPerson(answers=("level",)), "What does it show")


def test_poses_one_at_a_time_for_a_sensor_that_cannot_tell_them(tmp_path: Path) -> None:
    """A pitch channel alone: each pose has its prompt and its capture."""
    person = NotingPerson()
    taken = take_poses(person, lambda what: tmp_path / what)
    assert list(taken) == list(Pose)
    assert person.prompts == [PROMPTS[pose] for pose in Pose]
    assert taken[Pose.FRONT_RAISED].name == "front raised"
