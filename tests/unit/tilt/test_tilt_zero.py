"""The level zero: what turning separates, what it cannot, and what the budget says of it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calib.tilt.attitude import nose_up_deg
from calib.tilt.zero import Heading, LevelZero, Method, Standing, TypedSlope, find_zero
from calib.tilt.zero_budget import FLOOR_DEG, MARK_MM, Circumstances, Weights, settling_u_deg
from tests.tilt_world import UP, Floor, Sensor, angle_reading, turned

WHEELBASE = Circumstances(wheelbase_mm=1250)
STAND = Circumstances(wheelbase_mm=1250, stand=True)


def _both(first: float, second: float, pitch_sign: int = 1) -> LevelZero:
    return find_zero(
        [
            Standing(Heading.FIRST, angle_reading(first)),
            Standing(Heading.TURNED, angle_reading(second)),
        ],
        Circumstances(wheelbase_mm=1250, pitch_sign=pitch_sign),
    )


def test_half_the_sum_is_the_zero_and_half_the_difference_the_floor() -> None:
    """In the sensor's frame: +0.83 and -1.37 are an offset of -0.27 and a slope of +1.10."""
    zero = _both(0.83, -1.37)
    assert zero.method is Method.TURNED
    assert zero.pitch.zero_deg == pytest.approx(-0.27)
    assert zero.pitch.floor_slope_deg == pytest.approx(1.10)


def test_in_the_floors_frame_sum_and_difference_change_places() -> None:
    """Readings counted along the floor (table frame, Ia = et + el, Ib = et - el).

    There half the sum is the slope and half the difference the offset; turned into the sensor's
    own sign (the second reading reversed) the same two readings give the same two answers.
    """
    slope, offset = 1.10, -0.27
    in_floor_frame = (slope + offset, slope - offset)
    assert sum(in_floor_frame) / 2 == pytest.approx(slope)
    zero = _both(in_floor_frame[0], -in_floor_frame[1])
    assert zero.pitch.floor_slope_deg == pytest.approx(slope)
    assert zero.pitch.zero_deg == pytest.approx(offset)


def test_a_reversed_sensor_still_tells_which_end_was_higher() -> None:
    """With the sign known, the slope is positive where the front was higher."""
    zero = _both(-0.83, 1.37, pitch_sign=-1)
    assert zero.pitch.zero_deg == pytest.approx(0.27)
    assert zero.pitch.floor_slope_deg == pytest.approx(1.10)


@pytest.mark.parametrize("seed", range(8))
def test_mounting_error_comes_out_in_any_direction(seed: int) -> None:
    """On a stand, both headings give the attitude that the sensor reads level.

    Exact but for the cosine of the slope, which a bias of 50 mg turns into 0.005 degrees.
    """
    rng = np.random.default_rng(seed)
    floor = Floor(rng.uniform(0, 3), rng.uniform(0, 360))
    sensor = Sensor(turned(*rng.uniform(-10, 10, 3)), bias_g=(0.04, -0.05, 0.03))
    zero = find_zero(
        [
            Standing(Heading.FIRST, sensor.reading(floor.stand(20), rng)),
            Standing(Heading.TURNED, sensor.reading(floor.stand(200), rng)),
        ],
        STAND,
    )
    level = sensor.force(turned())
    assert zero.pitch.zero_deg == pytest.approx(float(nose_up_deg(level)), abs=0.006)
    assert zero.roll is not None
    assert zero.roll.zero_deg == pytest.approx(
        math.degrees(math.atan2(level[1], level[2])), abs=0.006
    )


def test_floor_slope_is_positive_where_the_front_was_higher() -> None:
    """A floor that rises ahead by one degree, machine level to it, square sensor."""
    rng = np.random.default_rng(1)
    floor = Floor(1.0, 0.0)
    zero = find_zero(
        [
            Standing(Heading.FIRST, Sensor().reading(floor.stand(0), rng)),
            Standing(Heading.TURNED, Sensor().reading(floor.stand(180), rng)),
        ],
        STAND,
    )
    assert zero.pitch.floor_slope_deg == pytest.approx(1.0, abs=1e-4)
    assert zero.pitch.zero_deg == pytest.approx(0.0, abs=1e-4)


def test_roll_is_not_separated_without_a_stand() -> None:
    """A hand sets the roll: its zero carries the hand's uncertainty and no floor slope."""
    rng = np.random.default_rng(2)
    readings = [
        Standing(Heading.FIRST, Sensor().reading(Floor(1.0, 90).stand(0, left_up=2.0), rng)),
        Standing(Heading.TURNED, Sensor().reading(Floor(1.0, 90).stand(180, left_up=2.0), rng)),
    ]
    by_hand, on_stand = find_zero(readings, WHEELBASE).roll, find_zero(readings, STAND).roll
    assert by_hand is not None
    assert on_stand is not None
    assert by_hand.floor_slope_deg is None
    assert by_hand.u_deg >= 1.0
    assert by_hand.budget[0].source == "the hand that holds it upright"
    assert on_stand.floor_slope_deg == pytest.approx(1.0, abs=1e-3)
    assert on_stand.u_deg < 0.1


def test_single_standing_carries_the_floor() -> None:
    """One standing cannot tell floor from sensor: two per cent, rectangular, leads the budget."""
    zero = find_zero([Standing(Heading.FIRST, angle_reading(0.4))], WHEELBASE)
    assert zero.method is Method.SINGLE
    assert zero.pitch.floor_slope_deg is None
    assert zero.pitch.budget[0].source == "the floor's slope"
    assert zero.pitch.u_deg > 1.2 / math.sqrt(3)


def test_typed_slope_serves_with_its_own_uncertainty() -> None:
    """A slope measured otherwise is taken off, and its uncertainty stays."""
    zero = find_zero(
        [Standing(Heading.FIRST, angle_reading(0.9))], WHEELBASE, typed_slope=TypedSlope(0.7, 0.3)
    )
    assert zero.method is Method.TYPED_SLOPE
    assert zero.pitch.zero_deg == pytest.approx(0.2)
    assert zero.pitch.floor_slope_deg == 0.7
    assert zero.pitch.budget[0].u_deg == 0.3
    assert 0.3 < zero.pitch.u_deg < 0.4


def test_typed_slope_of_a_nose_down_positive_sensor() -> None:
    """A front that stands higher lowers such a reading, so the slope is added back."""
    zero = find_zero(
        [Standing(Heading.FIRST, angle_reading(-0.9))],
        Circumstances(wheelbase_mm=1250, pitch_sign=-1),
        typed_slope=TypedSlope(0.7, 0.3),
    )
    assert zero.pitch.zero_deg == pytest.approx(-0.2)


def test_independent_readings_halve_by_the_root_of_two() -> None:
    """u(offset) = u(slope) = u / sqrt(2) for one reading each way."""
    assert Weights(1, 1).alike(0.2) == pytest.approx(0.2 / math.sqrt(2))
    assert Weights(2, 2).alike(0.2) == pytest.approx(0.1)
    assert Weights(3, 0).alike(0.3) == pytest.approx(0.3 / math.sqrt(3))


def test_stiction_is_what_practice_says() -> None:
    """5 mm on 1250 mm is 0.23 degrees at most, rectangular."""
    assert settling_u_deg(WHEELBASE) == pytest.approx(0.2292 / math.sqrt(3), abs=1e-4)


def test_standings_that_differ_widen_the_budget() -> None:
    """Repeats further apart than settling explains take the place of the assumed settling."""
    alike = [0.5, 0.6], [-0.5, -0.4]
    apart = [0.5, 2.0], [-0.5, -0.4]

    def zero(values: tuple[list[float], list[float]]) -> LevelZero:
        return find_zero(
            [
                Standing(heading, angle_reading(v))
                for heading, row in zip(Heading, values, strict=True)
                for v in row
            ],
            WHEELBASE,
        )

    assert zero(alike).pitch.u_deg < 0.2
    wide = zero(apart)
    assert wide.pitch.budget[0].source == "standings that differ"
    assert wide.pitch.dof < 4
    assert wide.pitch.u95_deg > 2.5 * wide.pitch.u_deg
    assert wide.repeat_deg == pytest.approx(1.5)
    assert wide.repeat_limit_deg < 1.0


def test_no_first_standing_is_refused() -> None:
    """Nothing is made of turned standings alone."""
    with pytest.raises(ValueError, match="no first standing"):
        find_zero([Standing(Heading.TURNED, angle_reading(0.1))], WHEELBASE)


def test_display_step_is_in_the_budget() -> None:
    """A display that shows whole degrees gives one over the root of twelve."""
    zero = find_zero(
        [Standing(Heading.FIRST, angle_reading(1.0)), Standing(Heading.TURNED, angle_reading(0.0))],
        Circumstances(wheelbase_mm=1250, step_deg=1.0),
    )
    step = next(s for s in zero.pitch.budget if s.source == "step of the display")
    assert step.u_deg == pytest.approx(1 / math.sqrt(12) / math.sqrt(2))


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
    assert share.u_deg == pytest.approx(heading_u * max(slope_deg, FLOOR_DEG) / math.sqrt(2.0))
    once = find_zero([Standing(Heading.FIRST, angle_reading(slope_deg))], WHEELBASE)
    assert not any(part.source == share.source for part in once.pitch.budget)
