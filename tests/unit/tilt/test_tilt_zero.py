"""The level zero: what turning separates, what it cannot, and what the budget says of it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from calib.tilt.attitude import nose_up_deg
from calib.tilt.series import TiltReading
from calib.tilt.zero import (
    FLOOR_DEG,
    MARK_MM,
    Circumstances,
    LevelZero,
    TypedSlope,
    error_of_mean,
    find_zero,
    repeat_limit_deg,
    settling_u_deg,
)
from tests.tilt_world import UP, Floor, Sensor, angle_reading, turned

WHEELBASE = Circumstances(wheelbase_mm=1250)
STAND = Circumstances(wheelbase_mm=1250, stand=True)


def _both(first: float, second: float, pitch_sign: int = 1) -> LevelZero:
    return find_zero(
        [angle_reading(first)],
        [angle_reading(second)],
        Circumstances(wheelbase_mm=1250, pitch_sign=pitch_sign),
    )


def test_half_the_sum_is_the_zero_and_half_the_difference_the_floor() -> None:
    """In the sensor's frame: +0.83 and -1.37 are an offset of -0.27 and a slope of +1.10."""
    zero = _both(0.83, -1.37)
    assert zero.method == "turned"
    assert zero.pitch.zero == pytest.approx(-0.27)
    assert zero.pitch.floor_slope == pytest.approx(1.10)


def test_in_the_floors_frame_sum_and_difference_change_places() -> None:
    """Readings counted along the floor (table frame, Ia = et + el, Ib = et - el).

    There half the sum is the slope and half the difference the offset; turned into the sensor's
    own sign (the second reading reversed) the same two readings give the same two answers.
    """
    slope, offset = 1.10, -0.27
    in_floor_frame = (slope + offset, slope - offset)
    assert sum(in_floor_frame) / 2 == pytest.approx(slope)
    zero = _both(in_floor_frame[0], -in_floor_frame[1])
    assert zero.pitch.floor_slope == pytest.approx(slope)
    assert zero.pitch.zero == pytest.approx(offset)


def test_a_reversed_sensor_still_tells_which_end_was_higher() -> None:
    """With the sign known, the slope is positive where the front was higher."""
    zero = _both(-0.83, 1.37, pitch_sign=-1)
    assert zero.pitch.zero == pytest.approx(0.27)
    assert zero.pitch.floor_slope == pytest.approx(1.10)


@pytest.mark.parametrize("seed", range(8))
def test_mounting_error_comes_out_in_any_direction(seed: int) -> None:
    """On a stand, both headings give the attitude that the sensor reads level.

    Exact but for the cosine of the slope, which a bias of 50 mg turns into 0.005 degrees.
    """
    rng = np.random.default_rng(seed)
    floor = Floor(rng.uniform(0, 3), rng.uniform(0, 360))
    sensor = Sensor(turned(*rng.uniform(-10, 10, 3)), bias_g=(0.04, -0.05, 0.03))
    zero = find_zero(
        [sensor.reading(floor.stand(20), rng)],
        [sensor.reading(floor.stand(200), rng)],
        STAND,
    )
    level = sensor.force(turned())
    assert zero.pitch.zero == pytest.approx(float(nose_up_deg(level)), abs=0.006)
    assert zero.roll is not None
    assert zero.roll.zero == pytest.approx(math.degrees(math.atan2(level[1], level[2])), abs=0.006)


def test_floor_slope_is_positive_where_the_front_was_higher() -> None:
    """A floor that rises ahead by one degree, machine level to it, square sensor."""
    rng = np.random.default_rng(1)
    floor = Floor(1.0, 0.0)
    zero = find_zero(
        [Sensor().reading(floor.stand(0), rng)],
        [Sensor().reading(floor.stand(180), rng)],
        STAND,
    )
    assert zero.pitch.floor_slope == pytest.approx(1.0, abs=1e-4)
    assert zero.pitch.zero == pytest.approx(0.0, abs=1e-4)


def test_roll_is_not_separated_without_a_stand() -> None:
    """A hand sets the roll: its zero carries the hand's uncertainty and no floor slope."""
    rng = np.random.default_rng(2)
    first = [Sensor().reading(Floor(1.0, 90).stand(0, left_up=2.0), rng)]
    back = [Sensor().reading(Floor(1.0, 90).stand(180, left_up=2.0), rng)]
    by_hand, on_stand = find_zero(first, back, WHEELBASE).roll, find_zero(first, back, STAND).roll
    assert by_hand is not None
    assert on_stand is not None
    assert by_hand.floor_slope is None
    assert by_hand.u >= 1.0
    assert by_hand.budget[0].source == "the hand that holds it upright"
    assert on_stand.floor_slope == pytest.approx(1.0, abs=1e-3)
    assert on_stand.u < 0.1


def test_single_standing_carries_the_floor() -> None:
    """One standing cannot tell floor from sensor: two per cent, rectangular, leads the budget."""
    zero = find_zero([angle_reading(0.4)], [], WHEELBASE)
    assert zero.method == "single"
    assert zero.pitch.floor_slope is None
    assert zero.pitch.budget[0].source == "the floor's slope"
    assert zero.pitch.u > 1.2 / math.sqrt(3)


def test_typed_slope_serves_with_its_own_uncertainty() -> None:
    """A slope measured otherwise is taken off, and its uncertainty stays."""
    zero = find_zero([angle_reading(0.9)], [], WHEELBASE, typed_slope=TypedSlope(0.7, 0.3))
    assert zero.method == "typed-slope"
    assert zero.pitch.zero == pytest.approx(0.2)
    assert zero.pitch.floor_slope == 0.7
    assert zero.pitch.budget[0].u == 0.3
    assert 0.3 < zero.pitch.u < 0.4


def test_typed_slope_of_a_nose_down_positive_sensor() -> None:
    """A front that stands higher lowers such a reading, so the slope is added back."""
    zero = find_zero(
        [angle_reading(-0.9)],
        [],
        Circumstances(wheelbase_mm=1250, pitch_sign=-1),
        typed_slope=TypedSlope(0.7, 0.3),
    )
    assert zero.pitch.zero == pytest.approx(-0.2)


def test_independent_readings_halve_by_the_root_of_two() -> None:
    """u(offset) = u(slope) = u / sqrt(2) for one reading each way."""
    assert error_of_mean([0.2], [0.2]) == pytest.approx(0.2 / math.sqrt(2))
    assert error_of_mean([0.2] * 2, [0.2] * 2) == pytest.approx(0.1)
    assert error_of_mean([0.3] * 3, []) == pytest.approx(0.3 / math.sqrt(3))


def test_stiction_is_what_practice_says() -> None:
    """5 mm on 1250 mm is 0.23 degrees at most, rectangular."""
    assert settling_u_deg(WHEELBASE) == pytest.approx(0.2292 / math.sqrt(3), abs=1e-4)


def test_standings_that_differ_widen_the_budget() -> None:
    """Repeats further apart than settling explains take the place of the assumed settling."""
    alike = [0.5, 0.6], [-0.5, -0.4]
    apart = [0.5, 2.0], [-0.5, -0.4]

    def zero(values: tuple[list[float], list[float]]) -> LevelZero:
        firsts, back = ([angle_reading(value) for value in row] for row in values)
        return find_zero(firsts, back, WHEELBASE)

    assert zero(alike).pitch.u < 0.2
    wide = zero(apart)
    assert wide.pitch.budget[0].source == "standings that differ"
    assert wide.pitch.u95 > 2.776 * wide.pitch.u  # fewer than four degrees of freedom
    assert wide.repeat_deg == pytest.approx(1.5)
    assert wide.repeat_limit_deg < 1.0


def test_no_first_standing_is_refused() -> None:
    """Nothing is made of turned standings alone."""
    with pytest.raises(ValueError, match="no first standing"):
        find_zero([], [angle_reading(0.1)], WHEELBASE)


def test_display_step_is_in_the_budget() -> None:
    """A display that shows whole degrees gives one over the root of twelve."""
    zero = find_zero(
        [angle_reading(1.0)],
        [angle_reading(0.0)],
        Circumstances(wheelbase_mm=1250, step_deg=1.0),
    )
    step = next(s for s in zero.pitch.budget if s.source == "step of the display")
    assert step.u == pytest.approx(1 / math.sqrt(12) / math.sqrt(2))


def test_world_is_right_handed() -> None:
    """The world of these tests itself: a raised nose reads +x, a raised left side +y."""
    assert Sensor().force(turned(nose_up=10))[0] == pytest.approx(0.17364818)
    assert Sensor().force(turned(left_up=10))[1] == pytest.approx(0.17364818)
    assert Sensor().force(Floor(1, 0).stand(0))[0] > 0
    assert Sensor().force(turned()) == pytest.approx(UP)


@pytest.mark.parametrize("slope_deg", [0.0, 3.0])
def test_a_tyre_beside_its_mark_lets_in_the_slope_across(slope_deg: float) -> None:
    """The floor falls across the marks as far as along them, or as an ordinary floor does.

    By hand: a heading wrong by √(2/3)·mark/wheelbase lets in that share of the slope; two
    standings, half their sum.
    """
    zero = _both(slope_deg, -slope_deg)
    share = next(part for part in zero.pitch.budget if part.source == "tyres beside their marks")
    heading_u = math.sqrt(2.0 / 3.0) * MARK_MM / 1250.0
    assert share.u == pytest.approx(heading_u * max(slope_deg, FLOOR_DEG) / math.sqrt(2.0))
    once = find_zero([angle_reading(slope_deg)], [], WHEELBASE)
    assert not any(part.source == share.source for part in once.pitch.budget)


def _share(zero: LevelZero, source: str) -> float | None:
    return next((part.u for part in zero.pitch.budget if part.source == source), None)


def test_every_share_of_a_single_standing_by_hand() -> None:
    """Half-widths over √3, each with the figure that practice gives it."""
    plain = Circumstances(wheelbase_mm=1250.0, step_deg=0.1)
    zero = find_zero([TiltReading(0.4, 0.02)], [], plain)
    assert {part.source: part.u for part in zero.pitch.budget} == pytest.approx(
        {
            "the floor's slope": 1.2 / math.sqrt(3.0),
            "where the suspension settles": math.degrees(math.asin(5.0 / 1250.0)) / math.sqrt(3.0),
            "lean, through a sensor that is not square": math.radians(10.0) / math.sqrt(3.0),
            "noise of the readings": 0.02,
            "temperature": math.degrees(0.31e-3) * 3.0 / math.sqrt(12.0),
            "step of the display": 0.1 / math.sqrt(12.0),
        }
    )
    sizes = [part.u for part in zero.pitch.budget]
    assert sizes == sorted(sizes, reverse=True)
    assert zero.pitch.u == pytest.approx(math.sqrt(sum(size**2 for size in sizes)))
    assert (zero.pitch.floor_slope, zero.pitch.floor_slope_u) == (None, None)
    assert (zero.roll, zero.standings, zero.repeat_deg) == (None, 1, None)
    warm = find_zero(
        [TiltReading(0.4, 0.02)],
        [],
        Circumstances(wheelbase_mm=1250.0, stand=True, change_k=-8.0),
    )
    assert _share(warm, "temperature") == pytest.approx(
        math.degrees(0.31e-3) * 8.0 / math.sqrt(12.0)
    )
    assert _share(warm, "lean, through a sensor that is not square") is None
    assert Circumstances(wheelbase_mm=1250.0).pitch_sign == 1


def test_a_tyre_stands_within_twenty_millimetres_of_its_mark() -> None:
    """A heading wrong by √(2/3)·20/1250 lets in as much of a floor that falls by 1.2 degrees."""
    by_hand = math.sqrt(2.0 / 3.0) * 20.0 / 1250.0 * 1.2 / math.sqrt(2.0)
    assert _share(_both(0.0, 0.0), "tyres beside their marks") == pytest.approx(by_hand)


def test_shares_of_two_headings_by_hand() -> None:
    """Independent ones shrink with the standings of each heading; common ones do not."""
    first = [TiltReading(0.5, 0.02), TiltReading(0.5, 0.04)]
    zero = find_zero(
        first, [TiltReading(-0.1, 0.03)], Circumstances(wheelbase_mm=1250, step_deg=0.1)
    )
    both = 0.5 * math.sqrt(0.5 + 1.0)
    assert _share(zero, "step of the display") == pytest.approx(both * 0.1 / math.sqrt(12.0))
    noise = 0.5 * math.sqrt((0.02**2 + 0.04**2) / 4.0 + 0.03**2)
    assert _share(zero, "noise of the readings") == pytest.approx(noise)
    assert _share(zero, "where the suspension settles") == pytest.approx(
        both * settling_u_deg(WHEELBASE)
    )
    assert _share(zero, "lean, through a sensor that is not square") == pytest.approx(
        math.radians(10.0) / math.sqrt(3.0)
    )
    assert _share(zero, "the floor's slope") is None
    assert (zero.standings, zero.repeat_deg) == (3, 0.0)


def test_degrees_of_freedom_and_coverage_by_hand() -> None:
    """Noise alone is known to seven degrees of freedom: Student's t of 2.365."""
    calm = Circumstances(
        wheelbase_mm=1250.0, stand=True, yaw_u_rad=0.0, stiction_mm=0.0, mark_mm=0.0, change_k=0.0
    )
    zero = find_zero([TiltReading(0.1, 0.3)], [TiltReading(0.1, 0.3)], calm)
    assert [part.source for part in zero.pitch.budget] == ["noise of the readings"]
    assert zero.pitch.u95 == pytest.approx(2.365 * 0.3 / math.sqrt(2.0), rel=1e-3)
    typed = find_zero([TiltReading(0.1, 0.0)], [], calm, typed_slope=TypedSlope(0.5, 0.2))
    assert typed.pitch.u95 == pytest.approx(1.959964 * 0.2, rel=1e-5)
    assert (typed.pitch.floor_slope, typed.pitch.floor_slope_u) == (0.5, 0.2)


def test_how_far_repeats_may_lie_apart() -> None:
    """Two and a half times √2 of what settling, lean of two standings and the sensor explain."""
    settling = math.degrees(math.asin(5.0 / 1250.0)) / math.sqrt(3.0)
    lean = math.radians(10.0) / math.sqrt(3.0) * math.sqrt(2.0)
    by_hand = 2.5 * math.sqrt(2.0) * math.sqrt(settling**2 + lean**2 + 0.05**2)
    assert repeat_limit_deg(WHEELBASE) == pytest.approx(by_hand)
    assert repeat_limit_deg(STAND) == pytest.approx(
        2.5 * math.sqrt(2.0) * math.hypot(settling, 0.05)
    )


@pytest.mark.parametrize(
    ("over", "source"),
    [
        (0.99, "where the suspension settles"),
        (1.0, "where the suspension settles"),
        (1.01, "standings that differ"),
    ],
)
def test_standings_that_differ_by_hand(over: float, source: str) -> None:
    """Their own scatter, pooled over both headings, with the degrees of freedom that it has."""
    apart = over * repeat_limit_deg(STAND)
    first = [angle_reading(value) for value in (0.0, apart, 0.5 * apart)]
    turned_round = [angle_reading(value) for value in (-0.2, 0.0)]
    zero = find_zero(first, turned_round, STAND)
    assert zero.repeat_deg == pytest.approx(apart)
    part = next(each for each in zero.pitch.budget if each.source == source)
    if over > 1.0:
        scatter = math.sqrt((apart**2 / 2.0 + 0.02) / 3.0)
        assert (part.type, part.dof) == ("A", 3.0)
        assert part.u == pytest.approx(scatter * 0.5 * math.sqrt(1.0 / 3.0 + 1.0 / 2.0))
    alone = find_zero(first, [angle_reading(-0.2)], STAND)
    part = next(each for each in alone.pitch.budget if each.source == source)
    assert part.dof == (2.0 if over > 1.0 else None)


def test_shares_of_roll_by_hand() -> None:
    """A hand sets it to within a degree; a stand leaves the floor, until it is turned."""
    first = [TiltReading(0.0, 0.01, 2.0, 0.05)]
    back = [TiltReading(0.0, 0.01, 1.0, 0.05)]
    stepped = Circumstances(wheelbase_mm=1250.0, stand=True, step_deg=0.2)
    once, twice = (
        find_zero(first, [], stepped).roll,
        find_zero(first, back, stepped).roll,
    )
    assert once is not None
    assert twice is not None
    shares = {part.source: part.u for part in once.budget}
    assert shares == pytest.approx(
        {
            "the floor's slope": 1.2 / math.sqrt(3.0),
            "noise of the readings": 0.05,
            "temperature": math.degrees(0.31e-3) * 3.0 / math.sqrt(12.0),
            "step of the display": 0.2 / math.sqrt(12.0),
        }
    )
    assert (once.reading, once.zero, once.floor_slope) == (2.0, 2.0, None)
    assert (twice.zero, twice.floor_slope) == (1.5, 0.5)
    assert twice.floor_slope_u == twice.u
    shares = {part.source: part.u for part in twice.budget}
    assert shares["noise of the readings"] == pytest.approx(0.05 / math.sqrt(2.0))
    assert shares["step of the display"] == pytest.approx(0.2 / math.sqrt(24.0))
    assert "the floor's slope" not in shares
    unknown = [TiltReading(0.0, 0.01, 2.0, None)]
    bare = find_zero(unknown, [], stepped).roll
    assert bare is not None
    assert "noise of the readings" not in {part.source for part in bare.budget}


def test_roll_takes_every_standing() -> None:
    """Where one of them shows none there is no zero of roll."""
    rolled, bare = TiltReading(0.0, 0.01, 2.0, 0.05), TiltReading(0.0, 0.01)
    for first, turned_round in (([rolled, bare], []), ([rolled], [bare]), ([bare], [rolled])):
        assert find_zero(first, turned_round, WHEELBASE).roll is None


@pytest.mark.parametrize("stand", [True, False])
@pytest.mark.parametrize("rolls", [(1.4, 0.2), None])
def test_a_yawed_sensor_takes_the_fall_to_the_side_for_slope(
    rolls: tuple[float, float] | None, stand: bool
) -> None:
    """Its yaw times that fall: half the difference of the rolls on a stand, or what a floor falls.

    By hand a hand holds it upright to within a degree; and yaw squared times the slope itself.
    """
    first, second = rolls or (None, None)
    circumstances = Circumstances(wheelbase_mm=1250.0, stand=stand)
    zero = find_zero([angle_reading(0.9, first)], [angle_reading(-0.9, second)], circumstances)
    side_deg = 1.0 if not stand else 1.2 if rolls is None else 0.6
    yaw = math.radians(10.0) / math.sqrt(3.0)
    yawed_deg = yaw * math.hypot(side_deg, yaw * 0.9)
    assert zero.pitch.floor_slope == pytest.approx(0.9)
    assert zero.pitch.floor_slope_u == pytest.approx(math.hypot(zero.pitch.u, yawed_deg))


def test_angles_come_from_the_mean_force_only_where_they_came_from_a_force() -> None:
    """A channel's pitch stands beside an accelerometer, and is averaged as it is."""
    forces = [np.array([0.0, 0.1, 1.0]), np.array([0.1, 0.3, 1.0])]
    mixed = [
        TiltReading(pitch, 0.01, roll, 0.01, force)
        for pitch, roll, force in zip((1.0, 3.0), (10.0, 20.0), forces, strict=True)
    ]
    zero = find_zero(mixed, [], STAND)
    assert zero.roll is not None
    assert (zero.pitch.zero, zero.roll.zero) == (2.0, 15.0)
    by_force = [replace(each, pitch_from_force=True, roll_from_force=True) for each in mixed]
    zero = find_zero(by_force, [], STAND)
    assert zero.roll is not None
    assert zero.pitch.zero == pytest.approx(math.degrees(math.atan2(0.05, math.hypot(0.2, 1.0))))
    assert zero.roll.zero == pytest.approx(math.degrees(math.atan2(0.2, 1.0)))
    lost = [by_force[0], replace(by_force[1], force_g=None)]
    zero = find_zero(lost, [], STAND)
    assert zero.roll is not None
    assert (zero.pitch.zero, zero.roll.zero) == (2.0, 15.0)
