"""Looking on while the machine is stood, posed, shaken and rested: when enough is captured."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from scipy.spatial.transform import Rotation

from calib.errors import BrokenOffError, StoppedError
from calib.guide.protocols import Sound
from calib.guide.recording import RestWatch, gauges_for
from calib.guide.taking import (
    PREPARE,
    SIT,
    TURN,
    TURN_BACK,
    LevelPlan,
    SignsWatch,
    Taking,
    ask_angle,
    take_poses,
    take_standings,
)
from calib.guide.tilt import (
    MOVE_PATIENCE_S,
    PATIENCE_S,
    Asked,
    MovedWatch,
    PosesWatch,
    StandingWatch,
    SurgeWatch,
)
from calib.store.samples import Samples
from calib.tilt.geometry import raised_angle
from calib.tilt.inputs import TiltInputs, find_inputs
from calib.tilt.series import TiltReading
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


def _standing() -> Callable[..., StandingWatch]:
    return lambda person, inputs: StandingWatch(
        person, inputs, what="first standing", clock=SteppingClock()
    )


def _moved(*enters: bool) -> Callable[..., MovedWatch]:
    def make(person: NotingPerson, inputs: TiltInputs) -> MovedWatch:
        person.enters = list(enters)
        return MovedWatch(person, inputs, TURN, clock=SteppingClock())

    return make


def test_a_quiet_standing_ends_after_the_shortest_average(tmp_path: Path) -> None:
    """Five seconds of standing still are enough where the noise is small; the bell rings twice."""
    ended = _listen(tmp_path, _standing(), _force([(turned(), 30.0)]))
    assert ended.enough
    assert 5.0 <= ended.at_s <= 6.0
    assert ended.person.heard == [Sound.DONE]


def test_a_noisy_standing_is_averaged_for_longer(tmp_path: Path) -> None:
    """The stop rule is the uncertainty, not a fixed time: a noisier channel takes longer."""
    rng = np.random.default_rng(5)
    quiet, noisy = (
        _listen(tmp_path, _standing(), {"p": rng.normal(0.3, noise, 4000)}, PITCH)
        for noise in (0.05, 0.9)
    )
    assert quiet.at_s < 6.0
    assert 10.0 < noisy.at_s < 40.0


def test_it_says_what_it_waits_for_while_the_machine_moves(tmp_path: Path) -> None:
    """Rocked for eight seconds, then still: wait, then hands off."""
    steps = [(turned(2.0 * (-1) ** i), 0.05) for i in range(7)] + [(turned(), 12.0)]
    ended = _listen(tmp_path, _standing(), _force(steps))
    assert ended.enough
    assert ended.at_s > 12.0
    assert ended.verbs == ["stand still"]
    holds = [live.step.hold for live in ended.person.shown if live.step.hold is not None]
    assert holds[0].done_s == 0.0
    assert holds[-1].left_s < 1.0


def test_a_standing_begins_by_movement_and_not_by_a_key(tmp_path: Path) -> None:
    """The machine that was not turned yet is not taken for the turned one."""
    still = _listen(tmp_path, _moved(), _force([(turned(), 30.0)]))
    assert not still.enough
    assert still.verbs == ["turn round"]
    steps = [(turned(), 6.0), *[(turned(3.0 * (-1) ** i), 0.1) for i in range(8)]]
    moved = _listen(tmp_path, _moved(), _force([*steps, (turned(), 12.0)]))
    assert moved.enough
    assert 6.5 < moved.at_s < 12.0


def test_enter_remains_the_other_way(tmp_path: Path) -> None:
    """Moved while the cable was off: Enter says that it stands."""
    assert _listen(tmp_path, _moved(True), _force([(turned(), 30.0)])).at_s < 1.0


def test_nobody_who_moves_the_machine_ends_as_broken_off(tmp_path: Path) -> None:
    """Five minutes without a movement: nobody is there."""
    pitch = {
        "p": np.random.default_rng(2).normal(0.0, 0.05, round((MOVE_PATIENCE_S + 5) * RATE_HZ))
    }
    person = NotingPerson()
    watch = MovedWatch(
        person, find_inputs(tilt_rig(tmp_path, PITCH), ["p"]), TURN, clock=SteppingClock()
    )
    blocks = _blocks(pitch["p"][:, None])
    with pytest.raises(BrokenOffError, match="was not moved"):
        any(watch(samples) for samples in blocks)


def test_a_machine_that_never_stands_does_not_hold_the_person_for_ever(tmp_path: Path) -> None:
    """After two minutes it ends as broken off, without the bell of success."""
    steps = [(turned(3.0 * (-1) ** i), 0.05) for i in range(120)]
    with pytest.raises(BrokenOffError, match=f"for {PATIENCE_S:.0f} s"):
        _listen(tmp_path, _standing(), _force(steps))


class Marks:
    """Standings that were thought out: what each attempt reads, degrees."""

    def __init__(self, *pitch_deg: float) -> None:
        """Give these, one after the other."""
        self._left = list(pitch_deg)
        self.waits = 0

    def attend(self, make: Callable[[TiltInputs], object]) -> None:
        """The machine is moved at once."""
        del make
        self.waits += 1

    def taking(self, folder: Path, person: NotingPerson) -> Taking:
        """Standings that read so."""
        rig = tilt_rig(folder, PITCH)

        def capture(make: Callable[[TiltInputs], Callable[[Samples], bool]]) -> Path:
            watch = make(find_inputs(rig, ["p"]))
            pitch = np.random.default_rng(3).normal(self._left.pop(0), 0.02, 2000)
            for samples in _blocks(pitch[:, None]):
                if watch(samples):
                    break
            return folder / "standing.csv"

        return Taking(person, rig, self.attend, capture, clock=SteppingClock())


def test_a_standing_that_reads_as_the_last_one_is_not_counted(tmp_path: Path) -> None:
    """Not turned: told with three bells, and asked for again."""
    marks, person = Marks(0.31, 1.4), NotingPerson()
    _, first = Marks(0.3).taking(tmp_path, person).standing(PREPARE, None)
    assert first is not None
    _, second = marks.taking(tmp_path, person).standing(TURN, first)
    assert second is not None
    assert second.pitch_deg == pytest.approx(1.4, abs=0.05)
    assert marks.waits == 2
    assert Sound.STOP in person.heard


def test_a_machine_that_is_never_turned_gives_no_zero(tmp_path: Path) -> None:
    """Three times the same: broken off, with what to do on a floor that is truly level."""
    person = NotingPerson()
    _, first = Marks(0.3).taking(tmp_path, person).standing(PREPARE, None)
    with pytest.raises(BrokenOffError, match="--floor-slope-deg"):
        Marks(0.31, 0.28, 0.3).taking(tmp_path, person).standing(SIT, first)


def _signs(person: NotingPerson, inputs: TiltInputs) -> SignsWatch:
    return SignsWatch(person, inputs, BLOCK, clock=SteppingClock())


def _posed(*poses: Rotation, tail_s: float = 4.0) -> list[tuple[Rotation, float]]:
    steps = [(turned(), 4.0)]
    for pose in poses:
        steps += [(pose, 3.2), (turned(), 3.2)]
    return [*steps, (turned(), tail_s)]


UP = BLOCK.angle_deg
IN_ORDER = (turned(UP), turned(UP), turned(-UP), turned(left_up=-10), turned(left_up=9))
"""Front, front, rear, lean left, lean right: the left side goes down in a lean to the left."""


def test_poses_are_asked_for_one_by_one(tmp_path: Path) -> None:
    """Front up twice, rear up, lean left, lean right, upright in between; holding is shown."""
    ended = _listen(tmp_path, _signs, _force(_posed(*IN_ORDER, tail_s=60.0)))
    assert ended.enough
    assert ended.at_s < 50.0
    asked = [verb for verb in ended.verbs if verb not in ("hold", "upright")]
    assert list(dict.fromkeys(asked)) == ["front up", "rear up", "lean left", "lean right"]
    held = [live.step for live in ended.person.shown if live.step.verb == "hold"]
    assert {step.control for step in held} == {"front up", "rear up", "lean left", "lean right"}
    assert all(step.hold is not None for step in held)
    assert ended.person.heard.count(Sound.COUNTED) == 4
    assert ended.person.heard[-1] is Sound.DONE


def test_a_front_raised_once_is_not_enough(tmp_path: Path) -> None:
    """Mirror images are not guessed: it goes on asking until patience ends."""
    ended = _listen(tmp_path, _signs, _force(_posed(turned(UP), *IN_ORDER[3:])))
    assert not ended.enough
    assert Sound.DONE not in ended.person.heard


@pytest.mark.parametrize(
    ("poses", "told"),
    [
        ((turned(-UP), turned(UP)), "FRONT UP and REAR UP were not always the two ends"),
        ((turned(UP), turned(UP), turned(UP)), "FRONT UP and REAR UP were not always the two ends"),
        ((*IN_ORDER[:3], turned(left_up=9)), "FRONT UP and LEAN LEFT contradict each other"),
        ((*IN_ORDER[:4], turned(left_up=-9)), "LEAN LEFT and LEAN RIGHT were not always"),
    ],
    ids=["rear first", "front for rear", "left for right", "one side twice"],
)
def test_a_pose_that_contradicts_what_was_asked_is_told(
    poses: tuple[Rotation, ...], told: str, tmp_path: Path
) -> None:
    """The wrong end or side: three bells, what contradicts what, and nothing of it is used."""
    watches: list[SignsWatch] = []

    def make(person: NotingPerson, inputs: TiltInputs) -> SignsWatch:
        watches.append(_signs(person, inputs))
        return watches[0]

    ended = _listen(tmp_path, make, _force(_posed(*poses)))
    assert ended.enough
    assert told in watches[0].conflict
    assert ended.person.heard[-1] is Sound.STOP


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
    assert ended.verbs == ["hands off", "shake", "hands off"]
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
    """First, seated, turned, first, turned; each unlike the one before, seated unlike the first."""
    asked: list[tuple[Asked, float | None]] = []

    def listen(what: Asked, unlike: TiltReading | None) -> tuple[Path, TiltReading | None]:
        asked.append((what, None if unlike is None else unlike.pitch_deg))
        return tmp_path / f"{len(asked)}.csv", TiltReading(float(len(asked)), 0.01)

    plan = LevelPlan(turned=True, each_way=2, seated=True)
    taken = take_standings(NotingPerson(), listen, plan)
    assert [what for what, _ in asked] == [PREPARE, SIT, TURN, TURN_BACK, TURN]
    assert [unlike for _, unlike in asked] == [None, 1.0, 1.0, 3.0, 4.0]
    assert (len(taken.first), len(taken.turned), len(taken.seated)) == (2, 2, 1)


def test_a_machine_in_a_stand_is_told_to_stay_in_it(tmp_path: Path) -> None:
    """What was chosen on the command line stands in the sentence for each standing."""
    details: list[str] = []

    def listen(what: Asked, _unlike: TiltReading | None) -> tuple[Path, TiltReading | None]:
        details.append(what.detail)
        return tmp_path, None

    take_standings(NotingPerson(), listen, LevelPlan(turned=True, stand=True))
    assert len(details) == 4
    assert all(detail.startswith("In the stand") for detail in details)


def test_a_display_alone_is_read_at_each_standing() -> None:
    """Nothing to listen to: the person types what the controller shows."""
    person = NotingPerson(answers=("", "0,8", "", "-1.4"))
    taken = take_standings(person, None, LevelPlan(turned=True, each_way=1, asks_display=True))
    assert taken.shown_first_deg == [0.8]
    assert taken.shown_turned_deg == [-1.4]
    assert taken.first == []


def test_what_is_no_angle_is_asked_again() -> None:
    """A word in place of a number is asked again, and told when it stays one."""
    assert ask_angle(NotingPerson(answers=("level", "0,4")), "What does it show") == 0.4
    with pytest.raises(StoppedError, match="does not answer"):
        ask_angle(NotingPerson(answers=("level",) * 3), "What does it show")


def test_poses_one_at_a_time_for_a_sensor_that_cannot_tell_them(tmp_path: Path) -> None:
    """A pitch channel alone: each pose has its verb and its capture, and is unlike the last."""
    unlikes: list[TiltReading | None] = []

    def listen(what: Asked, unlike: TiltReading | None) -> tuple[Path, TiltReading | None]:
        unlikes.append(unlike)
        return tmp_path / what.what, TiltReading(1.0, 0.01)

    taken = take_poses(listen)
    assert list(taken) == list(Pose)
    assert unlikes[0] is None
    assert taken[Pose.FRONT_RAISED].name == "front raised"
