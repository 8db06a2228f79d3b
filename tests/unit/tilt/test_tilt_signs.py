"""Sign, axis and scale from poses: proven, contradicted, or left open."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from calib.tilt.geometry import raised_angle
from calib.tilt.series import TiltReading, reading_of, rests_of
from calib.tilt.signs import Pose, Signs, find_signs
from calib.tilt.tell_apart import tell_apart
from tests.tilt_world import SQUARE, Sensor, angle_reading, turned

WHEELBASE_MM = 1250.0
BLOCK = raised_angle(100, WHEELBASE_MM)
UP_DEG = BLOCK.angle_deg
TRUE = {
    Pose.LEVEL: turned(),
    Pose.FRONT_RAISED: turned(nose_up=UP_DEG),
    Pose.REAR_RAISED: turned(nose_up=-UP_DEG),
    Pose.LEANED_LEFT: turned(left_up=-11),
    Pose.LEANED_RIGHT: turned(left_up=13),
}


def _by_force(mounting: Rotation, *poses: Pose) -> Signs:
    rng = np.random.default_rng(3)
    sensor = Sensor(mounting, noise_g=0.002)
    wanted = poses or tuple(Pose)
    return find_signs({p: sensor.reading(TRUE[p], rng) for p in wanted}, BLOCK, WHEELBASE_MM)


def _by_angle(
    front: float | None, rear: float | None = None, lean: float = 0.0, roll: float | None = None
) -> Signs:
    poses = {Pose.LEVEL: angle_reading(0.3, None if roll is None else 0.0)}
    if front is not None:
        poses[Pose.FRONT_RAISED] = angle_reading(0.3 + front, None if roll is None else roll)
    if rear is not None:
        poses[Pose.REAR_RAISED] = angle_reading(0.3 + rear, None if roll is None else -roll)
    poses[Pose.LEANED_LEFT] = angle_reading(0.3 + lean, None if roll is None else 10.0)
    return find_signs(poses, BLOCK, WHEELBASE_MM)


def test_square_accelerometer_is_proven() -> None:
    """Raised nose reads up, scale and |g| are one, no lean in pitch, mounting right."""
    signs = _by_force(SQUARE)
    assert signs.pitch_sign == 1
    assert signs.scale_ratio == pytest.approx(1.0, abs=0.01)
    assert signs.against == "block"
    assert signs.cross_share == pytest.approx(0.0, abs=0.01)
    assert signs.mounting is not None
    assert signs.mounting.right
    assert not signs.contradiction
    assert not signs.follows_roll


def test_backward_accelerometer_is_reversed() -> None:
    """Half a turn about the upright axis: the sign is reversed and the words say why."""
    signs = _by_force(turned(left=180))
    assert signs.pitch_sign == -1
    assert signs.mounting is not None
    assert "looks backwards" in signs.mounting.text


def test_quarter_turn_follows_roll() -> None:
    """A quarter turn: pitch does not answer to the nose, roll does, and no sign is claimed."""
    signs = _by_force(turned(left=90))
    assert signs.pitch_sign is None
    assert signs.follows_roll
    assert signs.cross_share == pytest.approx(1.0, abs=0.05)
    assert signs.mounting is not None
    assert "quarter turn to the left" in signs.mounting.text


@pytest.mark.parametrize("yaw_deg", [-9.0, 4.0])
def test_yaw_is_measured(yaw_deg: float) -> None:
    """The raised nose shows how far the sensor is turned about the upright axis."""
    signs = _by_force(turned(left=yaw_deg))
    assert signs.yaw_deg == pytest.approx(yaw_deg, abs=0.3)
    assert signs.cross_share == pytest.approx(np.sin(np.radians(abs(yaw_deg))), abs=0.02)


def test_nose_never_raised_proves_no_sign() -> None:
    """A raised rear alone proves no sign, and a lean none at all."""
    assert _by_force(SQUARE, Pose.LEVEL, Pose.REAR_RAISED).pitch_sign is None
    assert _by_force(SQUARE, Pose.LEVEL, Pose.LEANED_LEFT).pitch_sign is None
    assert _by_angle(None).pitch_sign is None
    assert _by_angle(None).scale_ratio is None


def test_a_pose_that_moved_too_little_proves_no_sign() -> None:
    """A tenth of the expected angle is not the raised nose."""
    assert _by_angle(0.1 * UP_DEG).pitch_sign is None


def test_front_and_rear_the_same_way_contradict() -> None:
    """Both wheels cannot raise the nose: one of the poses was not what it was called."""
    signs = _by_angle(UP_DEG, UP_DEG)
    assert signs.contradiction
    assert signs.pitch_sign is None


def test_reversed_angle_channel() -> None:
    """A nose-down-positive angle falls when the nose is raised."""
    signs = _by_angle(-UP_DEG, UP_DEG)
    assert signs.pitch_sign == -1
    assert signs.scale_ratio == pytest.approx(1.0)


def test_radians_called_degrees_show_in_the_scale() -> None:
    """Pi / 180 of the expected angle: the scale says so although the sign is not proven."""
    signs = _by_angle(np.radians(UP_DEG), -np.radians(UP_DEG))
    assert signs.scale_ratio == pytest.approx(np.pi / 180)
    assert signs.pitch_sign is None


def test_a_channel_is_scaled_against_the_accelerometer_beside_it() -> None:
    """Springs move the block's angle; the accelerometer in the same pose does not care."""
    rng = np.random.default_rng(4)
    true_deg = 0.93 * UP_DEG
    poses = {}
    for pose, nose in ((Pose.LEVEL, 0.0), (Pose.FRONT_RAISED, true_deg)):
        force = Sensor(noise_g=0.001).reading(turned(nose), rng)
        poses[pose] = TiltReading(
            pitch_deg=-1.02 * nose, u_pitch_deg=0.01, roll_deg=0.0, u_roll_deg=0.01,
            force_g=force.force_g,
        )  # fmt: skip
    signs = find_signs(poses, BLOCK, WHEELBASE_MM)
    assert signs.against == "accelerometer"
    assert signs.scale_ratio == pytest.approx(1.02, abs=0.01)
    assert signs.pitch_sign == -1


def test_lean_that_nothing_measures_is_taken_as_asked() -> None:
    """A pitch channel alone: 3 degrees in a lean of ten asked for is a share of 0.3."""
    assert _by_angle(UP_DEG, -UP_DEG, lean=3.0).cross_share == pytest.approx(0.3)


ORDER = [
    Pose.REAR_RAISED, Pose.LEANED_RIGHT, Pose.FRONT_RAISED, Pose.LEANED_LEFT, Pose.FRONT_RAISED,
]  # fmt: skip


@pytest.mark.parametrize("left", [0, 37, 90, 180, 270])
@pytest.mark.parametrize("tipped", [0, 90, 180])
def test_poses_in_any_order_are_told_apart(left: float, tipped: float) -> None:
    """However the sensor is turned: five poses with level between, the front twice."""
    rng = np.random.default_rng(5)
    sensor = Sensor(turned(left=left) * turned(left_up=tipped), noise_g=0.002)
    steps = [(TRUE[Pose.LEVEL], 3.0)]
    for pose in ORDER:
        steps += [(TRUE[pose], 3.0), (TRUE[Pose.LEVEL], 3.0)]
    series = sensor.series(steps, rng)
    stretches = [reading_of(series, still) for still in rests_of(series)]
    assert len(stretches) == len(steps)
    told = tell_apart(stretches, BLOCK)
    assert told.question == ""
    assert (told.fronts, told.rears) == (2, 1)
    assert set(told.poses) == set(Pose)
    for pose, reading in told.poses.items():
        assert reading.force_g == pytest.approx(sensor.force(TRUE[pose]), abs=0.002)


@pytest.mark.parametrize("lean_deg", [-2.5, 2.5])
def test_level_is_in_the_middle_of_all_that_stand_upright(lean_deg: float) -> None:
    """A hand that leaned it at first does not turn the ways of front and rear into two axes."""
    rng = np.random.default_rng(8)
    first = Sensor(noise_g=0.002).reading(turned(left_up=lean_deg), rng)
    order = [pose for each in ORDER for pose in (each, Pose.LEVEL)]
    later = [Sensor(noise_g=0.002).reading(TRUE[pose], rng) for pose in order]
    told = tell_apart([first, *later], BLOCK)
    assert told.question == ""
    assert (told.fronts, told.rears, told.leans) == (2, 1, 2)
    assert told.poses[Pose.LEVEL].force_g == pytest.approx([0.0, 0.0, 1.0], abs=0.002)


def test_front_once_and_rear_once_leaves_a_question() -> None:
    """Mirror images: nothing is guessed, the person is asked for one more raise."""
    rng = np.random.default_rng(6)
    order = (Pose.LEVEL, Pose.FRONT_RAISED, Pose.LEVEL, Pose.REAR_RAISED)
    told = tell_apart([Sensor().reading(TRUE[p], rng) for p in order], BLOCK)
    assert "raise the front once more" in told.question
    assert set(told.poses) == {Pose.LEVEL}


def test_nothing_raised_leaves_a_question() -> None:
    """Leans alone, or nothing at all."""
    rng = np.random.default_rng(7)
    leans = [Sensor().reading(TRUE[p], rng) for p in (Pose.LEVEL, Pose.LEANED_LEFT)]
    assert "raise the front" in tell_apart(leans, BLOCK).question
    assert "no still stretch" in tell_apart([], BLOCK).question


@pytest.mark.parametrize("lean_deg", [-3.0, -1.0, 2.6])
def test_a_hand_that_leans_while_the_front_goes_up_exchanges_no_axes(lean_deg: float) -> None:
    """On a plank of 50 mm a leaning hand moves the roll more than the pitch; that is no fault."""
    plank = raised_angle(50, WHEELBASE_MM)
    poses = {
        Pose.LEVEL: angle_reading(0.3, 0.0),
        Pose.FRONT_RAISED: angle_reading(0.3 + plank.angle_deg, lean_deg),
        Pose.LEANED_LEFT: angle_reading(0.3, 10.0),
    }
    assert not find_signs(poses, plank, WHEELBASE_MM).follows_roll
    del poses[Pose.LEANED_LEFT]
    assert not find_signs(poses, plank, WHEELBASE_MM).follows_roll


@pytest.mark.parametrize("lean_deg", [0.0, 1.5])
def test_exchanged_axes_are_told_by_both_answers(lean_deg: float) -> None:
    """The nose moves the roll and the lean moves the pitch, whatever the hand does meanwhile."""
    plank = raised_angle(50, WHEELBASE_MM)
    poses = {
        Pose.LEVEL: angle_reading(0.3, 0.0),
        Pose.FRONT_RAISED: angle_reading(0.3 + lean_deg, plank.angle_deg),
        Pose.LEANED_LEFT: angle_reading(10.3, 0.5),
    }
    assert find_signs(poses, plank, WHEELBASE_MM).follows_roll


def _front(level: TiltReading, front: TiltReading) -> Signs:
    return find_signs({Pose.LEVEL: level, Pose.FRONT_RAISED: front}, BLOCK, WHEELBASE_MM)


def test_an_angle_that_wraps_has_the_same_sign() -> None:
    """From 179 up by the block's angle is -176.4 degrees, and no fall by 355."""
    signs = _front(angle_reading(179.0), angle_reading(179.0 + UP_DEG - 360.0))
    assert signs.pitch_sign == 1
    assert signs.scale_ratio == pytest.approx(1.0)
    fallen = _front(angle_reading(-179.0), angle_reading(-179.0 - UP_DEG + 360.0))
    assert fallen.pitch_sign == -1


@pytest.mark.parametrize(("u_deg", "sign"), [(0.5, 1), (1.0, 1), (1.2, None), (3.0, None)])
def test_a_movement_within_its_own_noise_proves_no_sign(u_deg: float, sign: int | None) -> None:
    """Three standard uncertainties of the change are the least that proves a direction."""
    level, front = (TiltReading(pitch_deg, u_deg, None, None) for pitch_deg in (0.0, UP_DEG))
    assert _front(level, front).pitch_sign == sign


def test_springs_that_stick_are_in_the_scale() -> None:
    """Without noise the scale is no better known than where the suspension settles.

    By hand: 5 mm on 1250 mm is 0.229 degrees, rectangular, for two standings; and the block's own.
    """
    signs = _by_angle(UP_DEG)
    settling_deg = np.degrees(5.0 / WHEELBASE_MM) / np.sqrt(3.0) * np.sqrt(2.0)
    noise_deg = 0.001 * np.sqrt(2.0)
    expected = np.sqrt(settling_deg**2 + noise_deg**2 + BLOCK.u_deg**2) / UP_DEG
    assert signs.scale_u == pytest.approx(expected, rel=1e-6)
    both = _by_angle(UP_DEG, -UP_DEG)
    assert both.scale_u is not None
    assert both.scale_u < 0.8 * expected


@pytest.mark.parametrize(("share", "sign"), [(0.29, None), (0.31, 1), (-0.29, None), (-0.31, -1)])
def test_three_tenths_of_the_angle_prove_a_sign(share: float, sign: int | None) -> None:
    """A pitch that moves less is not the pitch, or the nose was not raised."""
    assert _by_angle(share * UP_DEG).pitch_sign == sign


def test_a_rear_that_moves_too_little_contradicts_nothing() -> None:
    """What proves no sign of its own speaks neither for nor against the front's."""
    signs = _by_angle(UP_DEG, 0.2 * UP_DEG)
    assert (signs.pitch_sign, signs.contradiction) == (1, False)
    assert _by_angle(0.2 * UP_DEG, -UP_DEG).pitch_sign is None
    assert not _by_angle(UP_DEG, -UP_DEG).contradiction


def test_changes_are_from_level() -> None:
    """Pitch and roll less what they were on level, by the shorter way round; noise of both."""
    poses = {
        Pose.LEVEL: TiltReading(1.0, 0.3, 2.0, 0.1),
        Pose.LEANED_LEFT: TiltReading(1.5, 0.4, -175.0, 0.1),
        Pose.LEANED_RIGHT: TiltReading(0.0, 0.4, None, None),
    }
    changes = find_signs(poses, BLOCK, WHEELBASE_MM).changes
    assert set(changes) == {Pose.LEANED_LEFT, Pose.LEANED_RIGHT}
    left, right = changes[Pose.LEANED_LEFT], changes[Pose.LEANED_RIGHT]
    assert (left.pitch_deg, left.roll_deg, left.turn_deg) == (0.5, -177.0, None)
    assert left.u_deg == pytest.approx(0.5)
    assert (right.pitch_deg, right.roll_deg) == (-1.0, None)


def test_scale_against_an_accelerometer_is_as_good_as_the_noise() -> None:
    """Mean change over the mean turn; by hand √(0.01² + 0.02²) twice, halved, over that turn."""
    poses = {}
    for pose, nose, u_deg in (
        (Pose.LEVEL, 0.0, 0.02), (Pose.FRONT_RAISED, 4.0, 0.01), (Pose.REAR_RAISED, -5.0, 0.01),
    ):  # fmt: skip
        force = np.array([np.sin(np.radians(nose)), 0.0, np.cos(np.radians(nose))])
        poses[pose] = TiltReading(1.1 * nose, u_deg, force_g=force)
    signs = find_signs(poses, BLOCK, WHEELBASE_MM)
    assert signs.against == "accelerometer"
    assert signs.scale_ratio == pytest.approx(1.1)
    assert signs.turned_deg == pytest.approx(4.5)
    assert signs.scale_u == pytest.approx(0.0005**0.5 * 2.0**0.5 / 2.0 / 4.5)
    settling_deg = np.degrees(5.0 / WHEELBASE_MM) / np.sqrt(3.0)
    assert signs.turned_u == pytest.approx(np.hypot(settling_deg, BLOCK.u_deg))
    del poses[Pose.REAR_RAISED]
    one = find_signs(poses, BLOCK, WHEELBASE_MM)
    assert one.turned_deg == pytest.approx(4.0)
    assert one.turned_u == pytest.approx(np.hypot(settling_deg * np.sqrt(2.0), BLOCK.u_deg))


@pytest.mark.parametrize(("share", "against"), [(0.29, "block"), (0.31, "accelerometer")])
def test_an_accelerometer_that_hardly_turned_is_no_scale(share: float, against: str) -> None:
    """Below three tenths of the block's angle it was not raised, or is not fixed to the machine."""
    turn = np.radians(share * UP_DEG)
    level = TiltReading(0.0, 0.001, force_g=np.array([0.0, 0.0, 1.0]))
    front = TiltReading(UP_DEG, 0.001, force_g=np.array([np.sin(turn), 0.0, np.cos(turn)]))
    signs = _front(level, front)
    assert signs.against == against
    assert signs.turned_deg == pytest.approx(share * UP_DEG)


@pytest.mark.parametrize(
    ("lean_deg", "pitch_deg", "share"),
    [(4.1, 1.0, 1.0 / 4.1), (3.9, 1.0, None), (3.9, 4.5, 4.5 / 3.9), (-8.0, -2.0, 0.25)],
)
def test_a_lean_of_four_degrees_shows_what_crosses_over(
    lean_deg: float, pitch_deg: float, share: float | None
) -> None:
    """Less is a machine held upright, unless its pitch moved by more than the lean did."""
    poses = {
        Pose.LEVEL: angle_reading(0.0, 0.0),
        Pose.LEANED_RIGHT: angle_reading(pitch_deg, lean_deg),
    }
    signs = find_signs(poses, BLOCK, WHEELBASE_MM)
    assert signs.cross_share == (None if share is None else pytest.approx(share))
    poses[Pose.LEANED_LEFT] = angle_reading(5.0, -10.0)
    both = find_signs(poses, BLOCK, WHEELBASE_MM)
    assert both.cross_share == pytest.approx(max(share or 0.0, 0.5))


def test_two_leans_that_disagree_exchange_no_axes() -> None:
    """Both have to say that the pitch follows the lean."""
    poses = {
        Pose.LEVEL: angle_reading(0.0, 0.0),
        Pose.FRONT_RAISED: angle_reading(0.2, UP_DEG),
        Pose.LEANED_LEFT: angle_reading(10.0, 0.5),
        Pose.LEANED_RIGHT: angle_reading(0.5, 10.0),
    }
    assert not find_signs(poses, BLOCK, WHEELBASE_MM).follows_roll
    poses[Pose.LEANED_RIGHT] = angle_reading(-10.0, 0.5)
    assert find_signs(poses, BLOCK, WHEELBASE_MM).follows_roll
    del poses[Pose.FRONT_RAISED]
    assert not find_signs(poses, BLOCK, WHEELBASE_MM).follows_roll


@pytest.mark.parametrize(
    ("roll", "pitch", "follows"),
    [(0.31, 0.1, True), (0.29, 0.1, False), (1.0, 0.29, True), (1.0, 0.31, False),
     (-1.0, -0.29, True)],
)  # fmt: skip
def test_without_a_lean_the_nose_must_leave_the_pitch_alone(
    roll: float, pitch: float, follows: bool
) -> None:
    """The roll moves by three tenths of the block's angle, and the pitch by less than as much."""
    level, front = angle_reading(0.0, 0.0), angle_reading(pitch * UP_DEG, roll * UP_DEG)
    assert _front(level, front).follows_roll is follows


def test_a_mounting_takes_level_and_a_raised_nose() -> None:
    """Without the one or the other there is none, and so no yaw."""
    for poses in ((Pose.LEVEL, Pose.LEANED_LEFT), (Pose.LEVEL, Pose.REAR_RAISED)):
        signs = _by_force(SQUARE, *poses)
        assert (signs.mounting, signs.yaw_deg) == (None, None)
    force = np.array([0.1, 0.0, 1.0])
    signs = _front(TiltReading(0.0, 0.001), TiltReading(5.0, 0.001, force_g=force))
    assert signs.mounting is None


@pytest.mark.parametrize(("angle_deg", "told"), [(0.45, False), (0.55, True)])
def test_a_nose_raised_by_half_a_degree_has_a_way(angle_deg: float, told: bool) -> None:
    """Less than that is no direction."""
    rng = np.random.default_rng(3)
    poses = {
        Pose.LEVEL: Sensor().reading(turned(), rng),
        Pose.FRONT_RAISED: Sensor().reading(turned(nose_up=angle_deg), rng),
    }
    assert (find_signs(poses, BLOCK, WHEELBASE_MM).mounting is not None) is told


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_lean_by_hand_turns_no_mounting(way: float) -> None:
    """A hand that leans it raises the nose a little as well; the raised nose alone is exact."""
    rng = np.random.default_rng(3)
    sensor = Sensor(turned(left=4.0))
    poses = {
        Pose.LEVEL: sensor.reading(turned(), rng),
        Pose.FRONT_RAISED: sensor.reading(turned(nose_up=UP_DEG), rng),
        Pose.LEANED_RIGHT: sensor.reading(turned(left_up=13.0 * way, nose_up=3.0), rng),
    }
    signs = find_signs(poses, BLOCK, WHEELBASE_MM)
    if way > 0.0:
        assert signs.yaw_deg == pytest.approx(4.0, abs=0.02)
    else:
        assert signs.mounting is not None
        assert "left hand" in signs.mounting.text


def test_front_and_rear_weigh_alike_in_the_way_of_the_nose() -> None:
    """Leaned by hand a little to opposite sides, they have a way in the middle of both.

    By hand: the change of the force from rear to front, seen from above.
    """
    front, rear = (turned(nose_up=UP_DEG, left_up=1.0), turned(nose_up=-UP_DEG, left_up=0.4))
    rng = np.random.default_rng(3)
    poses = {
        Pose.LEVEL: Sensor().reading(turned(), rng),
        Pose.FRONT_RAISED: Sensor().reading(front, rng),
        Pose.REAR_RAISED: Sensor().reading(rear, rng),
    }
    x, y, _ = Sensor().force(front) - Sensor().force(rear)
    yaw_deg = find_signs(poses, BLOCK, WHEELBASE_MM).yaw_deg
    assert yaw_deg == pytest.approx(-float(np.degrees(np.arctan2(y, x))), abs=1e-4)


def stretch(nose_up: float = 0.0, left_up: float = 0.0) -> TiltReading:
    """A rest of a square sensor, without noise."""
    return Sensor().reading(turned(nose_up=nose_up, left_up=left_up), np.random.default_rng(1))


def test_nothing_told_is_nothing_counted() -> None:
    """Without a first stretch on level, or one without a force, there is nothing to start from."""
    for stretches in ([], [angle_reading(0.0), stretch()]):
        told = tell_apart(stretches, BLOCK)
        assert (told.poses, told.fronts, told.rears, told.leans) == ({}, 0, 0, 0)
        assert (told.raised, told.leaned, told.handed) == ((), (), 0)
        assert "no still stretch" in told.question
    assert "raise the front onto it" in tell_apart([stretch()], BLOCK).question


def test_each_stretch_is_numbered_with_its_way() -> None:
    """1 as the first of its axis, -1 the other way; and the hand that the two axes make."""
    up, down, right, left = (
        stretch(UP_DEG), stretch(-UP_DEG), stretch(left_up=12.0), stretch(left_up=-12.0),
    )  # fmt: skip
    told = tell_apart([stretch(), up, stretch(), right, down, left, up], BLOCK)
    assert told.raised == ((1, 1), (4, -1), (6, 1))
    assert told.leaned == ((3, 1), (5, -1))
    assert (told.fronts, told.rears, told.leans, told.handed) == (2, 1, 2, 1)
    other = tell_apart([stretch(), up, left, up], BLOCK)
    assert (other.leaned, other.leans, other.handed) == (((2, 1),), 1, -1)
    assert set(other.poses) == {Pose.LEVEL, Pose.FRONT_RAISED, Pose.LEANED_LEFT}
    assert tell_apart([stretch(), up, up], BLOCK).handed == 0
    bare = tell_apart([stretch(), left, right], BLOCK)
    assert (bare.raised, bare.handed, bare.leans) == ((), 0, 2)


def test_the_front_is_what_is_raised_more_often() -> None:
    """Twice one way and once the other, in whatever order; once each, or once alone, is open."""
    up, down = stretch(UP_DEG), stretch(-UP_DEG)
    for order in ([up, up, down], [down, up, up], [up, down, up]):
        told = tell_apart([stretch(), *order], BLOCK)
        assert (told.fronts, told.rears, told.question) == (2, 1, "")
        force = told.poses[Pose.FRONT_RAISED].force_g
        assert force is not None
        assert force[0] > 0.0
    for order, counts in (([up], (1, 0)), ([down], (1, 0)), ([up, down], (1, 1))):
        told = tell_apart([stretch(), *order], BLOCK)
        assert (told.fronts, told.rears) == counts
        assert "raise the front once more" in told.question


@pytest.mark.parametrize(
    ("share", "told"),
    [(0.39, True), (0.41, False), (0.59, False), (0.61, True), (1.49, True), (1.51, False)],
)
def test_how_far_a_raised_wheel_turns_it(share: float, told: bool) -> None:
    """Between 0.6 and 1.5 of the block's angle; up to 0.4 it is back on level.

    What is in between, or beyond, on the axis of the raised wheel, makes it no raised wheel.
    """
    steep = raised_angle(250.0, WHEELBASE_MM)
    up, odd = stretch(steep.angle_deg), stretch(share * steep.angle_deg)
    found = tell_apart([stretch(), up, stretch(), up, stretch(), odd], steep)
    assert (found.question == "") is told
    assert found.fronts == (0 if not told else 2 + (share > 0.5))


@pytest.mark.parametrize(("share", "leans"), [(0.58, False), (0.62, True)])
def test_a_machine_is_upright_within_six_tenths_of_the_blocks_angle(
    share: float, leans: bool
) -> None:
    """What leaned by less is one of those whose middle is level, what leaned by more is none."""
    steep = raised_angle(250.0, WHEELBASE_MM)
    leaned = stretch(left_up=share * steep.angle_deg)
    told = tell_apart([stretch(), leaned, leaned, stretch(steep.angle_deg)], steep)
    force = told.poses[Pose.LEVEL].force_g
    assert force is not None
    assert bool(abs(force[1]) < 1e-6) is leans


def test_leans_to_one_side_are_one_however_the_nose_went_with_them() -> None:
    """Two leans whose ways are fifty degrees apart are to one side; opposite ones are to two."""
    up, right, left = stretch(UP_DEG), stretch(6.5, 14.0), stretch(-6.5, 14.0)
    assert tell_apart([stretch(), up, up, right, left], BLOCK).leans == 1
    assert tell_apart([stretch(), up, up, right, stretch(left_up=-14.0)], BLOCK).leans == 2


@pytest.mark.parametrize(
    ("order", "counts", "handed"),
    [
        ((), (0, 0, 0), 0),
        ((Pose.FRONT_RAISED,) * 2, (2, 0, 0), 0),
        ((Pose.LEANED_LEFT,), (0, 0, 1), 0),
        ((Pose.FRONT_RAISED, Pose.FRONT_RAISED, Pose.LEANED_RIGHT), (2, 0, 1), 1),
        ((Pose.FRONT_RAISED, Pose.FRONT_RAISED, Pose.LEANED_LEFT), (2, 0, 1), -1),
        ((Pose.REAR_RAISED, *(Pose.FRONT_RAISED,) * 2, *(Pose.LEANED_LEFT,) * 2), (2, 1, 1), 1),
        ((*(Pose.FRONT_RAISED,) * 2, Pose.LEANED_LEFT, Pose.LEANED_RIGHT), (2, 0, 2), -1),
    ],
)
def test_how_often_each_was_seen(
    order: tuple[Pose, ...], counts: tuple[int, int, int], handed: int
) -> None:
    """Fronts, rears and the sides that it was leaned to; the hand that the first of both make."""
    readings = [Sensor().reading(TRUE[p], np.random.default_rng(9)) for p in (Pose.LEVEL, *order)]
    told = tell_apart(readings, BLOCK)
    assert (told.fronts, told.rears, told.leans) == counts
    assert told.handed == handed
    raised = [n for n, p in enumerate(order, 1) if p in (Pose.FRONT_RAISED, Pose.REAR_RAISED)]
    assert [number for number, _ in told.raised] == raised
    leaned = [n for n, p in enumerate(order, 1) if p in (Pose.LEANED_LEFT, Pose.LEANED_RIGHT)]
    assert [number for number, _ in told.leaned] == leaned
    firsts = [ways[0][1] for ways in (told.raised, told.leaned) if ways]
    assert firsts == [1] * len(firsts)
