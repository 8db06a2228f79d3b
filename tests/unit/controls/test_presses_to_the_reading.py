"""What a hand did, to the reading: ways without noise, drawn at 200 Hz, where each end is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.presses import Place, Presses, count_presses

Floats = NDArray[np.float64]
Leg = tuple[int, float]
RATE_HZ = 200.0
HOLD, AWAY = (200, 1.0), (200, 0.0)
PRESS: tuple[Leg, ...] = ((60, 1.0), HOLD, (40, 0.0), AWAY)


def way(*legs: Leg, start: float = 0.0) -> Floats:
    """Shares of the travel: 200 readings at the start, then (readings, share at their end).

    A leap is a leg of no readings. The last digit flickers, or the levels themselves would be
    taken for the converter's steps.
    """
    parts, at = [np.full(200, start)], start
    for readings, share in legs:
        parts.append(at + (share - at) * np.arange(1, readings + 1) / max(readings, 1))
        at = share
    shares = np.concatenate(parts)
    return shares + 1e-5 * np.tile([1.0, -1.0], len(shares))[: len(shares)]


def told(
    shares: Floats, *, rest_V: float = 1.0, span_V: float = 3.0, time_s: Floats | None = None
) -> Presses:
    """What is counted of it."""
    if time_s is None:
        time_s = np.arange(len(shares)) / RATE_HZ
    return count_presses(time_s, rest_V + span_V * shares)


def stays(presses: Presses, place: Place | None = None) -> list[tuple[int, int]]:
    """First and one past the last reading of each stay."""
    return [(each.first, each.stop) for each in presses.stays if place in (None, each.place)]


@pytest.mark.parametrize(("rest_V", "span_V"), [(1.0, 3.0), (4.0, -3.0)])
def test_one_press_to_the_reading(rest_V: float, span_V: float) -> None:
    """Rest to the last reading at rest, full from the first to the last there, rest to the end."""
    found = told(way(*PRESS), rest_V=rest_V, span_V=span_V)
    assert [stay.place for stay in found.stays] == [Place.REST, Place.FULL, Place.REST]
    assert stays(found) == [(0, 200), (259, 460), (499, 700)]
    times_s = [(stay.start_s, stay.end_s) for stay in found.stays]
    assert times_s == [(0.0, 0.995), (1.295, 2.295), (2.495, 3.495)]
    (press,) = found.presses
    assert (press.leave_s, press.full_s, press.let_go_s, press.back_s) == (
        0.995, 1.295, 2.295, 2.495,
    )  # fmt: skip
    assert press.back_s - press.let_go_s == pytest.approx(0.2)
    assert (found.count, found.half, found.unheld, found.worked) == (1, 0, 0, True)
    assert (found.released, found.starts_at_rest) == (True, True)
    assert (found.rest_V, found.travel_V) == pytest.approx((rest_V, span_V), abs=1e-4)
    assert found.reversed is (span_V < 0.0)
    assert found.reached == pytest.approx([1.0], abs=1e-4)


def test_one_press_in_blocks() -> None:
    """At a kilohertz five readings make one point, and a stay ends with the last of them."""
    shares = np.repeat(way(*PRESS), 5)
    found = told(shares, time_s=np.arange(len(shares)) / 1000.0)
    assert stays(found) == [(0, 1000), (1295, 2300), (2495, 3500)]
    assert found.presses[0].let_go_s == 2.295


def test_a_control_that_never_moved() -> None:
    """One stay from first to last, and nothing else."""
    found = told(way((100, 0.0)))
    assert (found.presses, found.half, found.unheld, found.reached) == ((), 0, 0, ())
    assert (found.worked, found.reversed, found.breaks) == (False, False, ())
    assert found.rest_V == pytest.approx(1.0, abs=1e-4)
    assert found.travel_V == 0.0
    assert [(s.place, s.first, s.stop, s.start_s, s.end_s) for s in found.stays] == [
        (Place.REST, 0, 300, 0.0, 1.495)
    ]


def test_nothing_at_all_is_no_stay() -> None:
    """Nothing, and nothing but missing readings."""
    for volts in (np.empty(0), np.full(300, np.nan)):
        found = count_presses(np.arange(len(volts)) / RATE_HZ, volts)
        assert (found.stays, found.worked, found.released, found.rest_V) == ((), False, False, None)


@pytest.mark.parametrize(("span_V", "worked"), [(0.148, False), (0.152, True)])
def test_fifteen_hundredths_of_a_volt_are_the_least_travel(span_V: float, worked: bool) -> None:
    """No hand control in use has less."""
    found = told(way(*PRESS), span_V=span_V)
    assert found.worked is worked
    assert found.count == int(worked)


@pytest.mark.parametrize(("travel", "worked"), [(6.35, False), (6.65, True)])
def test_twelve_deviations_of_the_noise_that_is_left_are_the_least_travel(
    travel: float, worked: bool
) -> None:
    """A zigzag of ±e has second differences of 4·e; of a mean of 20 a part of 1/√20 may be left.

    By hand: 12·4/(0.6745·√6)/√20 = 6.497 times e.
    """
    zigzag = np.tile([1.0, -1.0], 350)
    assert told(travel * way(*PRESS) + zigzag, span_V=0.05).worked is worked


@pytest.mark.parametrize(("share", "half", "count"), [(0.84, 1, 1), (0.86, 0, 2)])
def test_a_press_goes_to_eighty_five_hundredths(share: float, half: int, count: int) -> None:
    """What is let go before is half a press, with how far it went."""
    found = told(way(*PRESS, (60, share), (200, share), (40, 0.0), AWAY))
    assert (found.count, found.half, found.unheld) == (count, half, 0)
    assert found.reached == pytest.approx([1.0, share], abs=1e-4)
    assert len(stays(found, Place.FULL)) == count
    assert len(stays(found, Place.REST)) == 3


@pytest.mark.parametrize(("share", "half"), [(0.24, 0), (0.26, 1)])
def test_a_thumb_goes_no_farther_than_a_quarter(share: float, half: int) -> None:
    """It parts no rest, and is no half press."""
    found = told(way(*PRESS, (60, share), (200, share), (40, 0.0), AWAY))
    assert (found.half, len(found.reached), len(stays(found, Place.REST))) == (
        half,
        1 + half,
        2 + half,
    )


@pytest.mark.parametrize(("readings", "unheld"), [(9, 1), (10, 0)])
def test_how_long_a_hold_is(readings: int, unheld: int) -> None:
    """At 200 Hz ten readings at the stop are a twentieth of a second; nine turn round there."""
    found = told(way(*PRESS, (10, 1.0), (readings - 1, 1.0), (10, 0.0), AWAY))
    assert (found.count, found.unheld, found.half) == (2 - unheld, unheld, 0)
    if not unheld:
        assert stays(found, Place.FULL)[1] == (709, 719)
    else:
        assert found.reached[1] == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(("readings", "unheld"), [(2, 1), (3, 0)])
def test_a_hold_has_three_readings(readings: int, unheld: int) -> None:
    """At 50 Hz two readings are long enough and too few."""
    shares = way(*PRESS, (3, 1.0), (readings - 1, 1.0), (3, 0.0), AWAY)
    found = told(shares, time_s=np.arange(len(shares)) / 50.0)
    assert (found.count, found.unheld) == (2 - unheld, unheld)


@pytest.mark.parametrize(("readings", "rests"), [(30, 2), (32, 3)])
def test_how_long_a_rest_is(readings: int, rests: int) -> None:
    """It is a level from 0.16 s on, to within a point at either end; shorter it parts presses."""
    found = told(way(*PRESS[:3], (readings - 1, 0.0), *PRESS))
    assert (found.count, len(stays(found, Place.REST))) == (2, rests)
    first, second = found.presses
    last_at_rest = 500 + readings - 2
    if rests == 3:
        assert stays(found, Place.REST)[1] == (499, last_at_rest + 1)
    assert second.let_go_s - second.full_s == pytest.approx(1.0)
    assert second.full_s == (last_at_rest + 60) / RATE_HZ
    assert first.back_s <= second.leave_s


def test_without_a_plateau_a_press_leaves_and_comes_back_at_the_edge_of_rest() -> None:
    """Where nothing stands still the last point within 15 % of rest, and the first one, serve."""
    tap: tuple[Leg, ...] = ((21, 1.0), (40, 1.0), (21, 0.0))
    found = told(way(*PRESS, *tap, (8, 0.0), *tap, AWAY))
    assert found.count == 3
    _, first, second = found.presses
    # 700 readings, up in 21, held for 40, down in 21: 3/21 is at home, 4/21 is not
    assert first.back_s == (699 + 21 + 40 + 18) / RATE_HZ
    assert second.leave_s == (699 + 21 + 40 + 21 + 8 + 3) / RATE_HZ
    assert first.leave_s == 699 / RATE_HZ


def test_a_capture_that_begins_in_the_hand_takes_its_rest_from_the_end() -> None:
    """Half way at first says nothing, wherever the control is for most of the time.

    What begins within 15 % of an end is taken to rest there.
    """
    legs = ((20, 0.0), (60, 0.0), (60, 1.0), (600, 1.0), (40, 0.0), (30, 0.0))
    found = told(way(*legs, start=0.5))
    assert (found.reversed, found.starts_at_rest, found.count) == (False, False, 1)
    assert found.rest_V == pytest.approx(1.0, abs=1e-3)
    assert told(way(*legs, start=0.86)).reversed
    assert not told(way(*legs, start=0.84)).reversed
    ended = ((40, 1.0), (60, 1.0), (60, 0.0), (600, 0.0), (40, 1.0), (30, 1.0))
    assert told(way(*ended, start=0.5)).reversed
    assert not told(way(*ended, start=0.14)).reversed


def test_three_readings_do_not_make_a_beginning() -> None:
    """A tenth of a second tells where rest is; three odd readings before it do not."""
    shares = way((60, 1.0), (300, 1.0))
    shares[:3] = 0.5
    found = told(shares)
    assert (found.reversed, found.released) == (False, False)
    assert found.rest_V == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize(("readings", "travel_V"), [(10, 3.0), (11, 3.3)])
@pytest.mark.parametrize("reverse", [False, True])
def test_an_end_of_the_travel_is_held_for_a_twentieth_of_a_second(
    readings: int, travel_V: float, reverse: bool
) -> None:
    """Ten steps of 5 ms, eleven readings; what swings beyond for less is no end."""
    shares = way(*PRESS)
    shares[300 : 300 + readings] += 0.1
    if reverse:
        found = told(shares, rest_V=4.0, span_V=-3.0)
        assert found.travel_V == pytest.approx(-travel_V, abs=1e-3)
    else:
        assert told(shares).travel_V == pytest.approx(travel_V, abs=1e-3)


def leapt(
    first: int, count: int, by: float = 0.6, *, slope: float = 0.0, home: float = 0.0
) -> Floats:
    """A press and a long rest with an excursion of some readings in that rest."""
    shares = way(*PRESS, (300, 0.0))
    shares[first : first + count] += by + slope * np.arange(count)
    shares[first + count :] += home
    return shares


@pytest.mark.parametrize("count", [6, 20, 100])
@pytest.mark.parametrize("by", [0.6, -0.3])
def test_a_leap_and_the_leap_back_are_a_break(count: int, by: float) -> None:
    """From the last point before it to the first one behind it; either way."""
    found = told(leapt(750, count, by))
    assert found.breaks == (slice(749, 750 + count),)
    assert (found.count, found.half) == (1, 0)
    blocks = np.repeat(leapt(750, count, by), 5)
    found = told(blocks, time_s=np.arange(len(blocks)) / 1000.0)
    assert found.breaks == (slice(5 * 749, 5 * (750 + count)),)


def test_one_break_after_the_other() -> None:
    """Each is told, and a leap that is not taken back in between hides none."""
    shares = leapt(720, 20)
    shares[800:830] += 0.5
    shares[900:940] -= 0.3
    assert told(shares).breaks == (slice(719, 740), slice(799, 830), slice(899, 940))
    shares = way((0, 0.5), (100, 0.5), (0, 0.9), (30, 0.9), (0, 0.5), (100, 0.5), (60, 1.0), HOLD,
                 (40, 0.0), AWAY)  # fmt: skip
    assert told(shares).breaks == (slice(299, 330),)


@pytest.mark.parametrize(("by", "count"), [(0.19, 0), (0.21, 1)])
def test_a_leap_crosses_a_fifth_of_the_range(by: float, count: int) -> None:
    """Less may be a hand."""
    assert len(told(leapt(750, 30, by)).breaks) == count
    assert len(told(leapt(750, 30, by), span_V=-3.0, rest_V=4.0).breaks) == count


@pytest.mark.parametrize(("slope", "count"), [(0.024, 1), (0.026, 0)])
def test_a_leap_is_from_standing_to_standing(slope: float, count: int) -> None:
    """What goes on by a twentieth of the range within the time of a leap is a hand on its way."""
    assert len(told(leapt(750, 12, 0.3, slope=slope)).breaks) == count


@pytest.mark.parametrize(("home", "count"), [(0.097, 1), (0.103, 0)])
def test_a_leap_back_ends_near_where_the_first_began(home: float, count: int) -> None:
    """Within a tenth of the range; farther off nobody knows what it was."""
    assert len(told(leapt(750, 30, home=home)).breaks) == count


@pytest.mark.parametrize(("late_s", "count"), [(0.013, 1), (0.016, 0)])
def test_a_leap_over_a_hole_in_the_record_is_none(late_s: float, count: int) -> None:
    """Two points of 5 ms and what is missing between them are at most twice 12 ms."""
    shares = leapt(750, 30)
    time_s = np.arange(len(shares)) / RATE_HZ
    time_s[750:] += late_s
    assert len(told(shares, time_s=time_s).breaks) == count


@pytest.mark.parametrize(("rate_hz", "count"), [(50.0, 1), (48.0, 0)])
def test_a_logger_slower_than_fifty_readings_a_second_sees_no_leaps(
    rate_hz: float, count: int
) -> None:
    """From one reading to the next it may be a hand."""
    shares = leapt(750, 30)
    assert len(told(shares, time_s=np.arange(len(shares)) / rate_hz).breaks) == count


def test_a_stay_takes_in_what_it_needs_to_last_a_fifth_of_a_second() -> None:
    """Thirty readings at the stop are too few, with those within 1.5 % they are enough.

    What is within 3 % only is the way there.
    """
    stages: tuple[Leg, ...] = (
        (60, 0.975),
        (20, 0.975),
        (2, 0.987),
        (20, 0.987),
        (2, 1.0),
        (30, 1.0),
    )
    found = told(way(*PRESS, *stages, (40, 0.0), AWAY))
    assert stays(found, Place.FULL)[1] == (699 + 60 + 20 + 2, 700 + sum(leg[0] for leg in stages))
    enough = (*stages[:-1], (45, 1.0))
    found = told(way(*PRESS, *enough, (40, 0.0), AWAY))
    assert stays(found, Place.FULL)[1][0] == 699 + 60 + 20 + 2 + 20 + 2


@pytest.mark.parametrize(("sunk_to", "last"), [(0.957, 859 + 10 + 100), (0.952, 859 + 2)])
def test_what_stands_within_forty_five_thousandths_is_the_same_stay(
    sunk_to: float, last: int
) -> None:
    """A hand that sinks so far and stands there is in the stay; farther it has left the stop.

    Two of the ten readings in which it sinks by 4.8 % are within 1 %.
    """
    legs = ((60, 1.0), (100, 1.0), (10, sunk_to), (100, sunk_to), (40, 0.0), AWAY)
    found = told(way(*PRESS, *legs))
    assert stays(found, Place.FULL)[1] == (759, last + 1)


@pytest.mark.parametrize(("readings", "last"), [(20, 999), (21, 859)])
def test_a_dip_shorter_than_a_tenth_of_a_second_parts_no_stay(readings: int, last: int) -> None:
    """Twenty points of 5 ms are bridged, one more is not."""
    shares = way(*PRESS, (60, 1.0), (240, 1.0), (40, 0.0), AWAY)
    shares[860 : 860 + readings] = 0.9
    assert stays(told(shares), Place.FULL)[1] == (759, last + 1)


@pytest.mark.parametrize(("rings", "first"), [(40, 538), (51, 549), (52, 499), (60, 499)])
def test_a_rebound_is_over_within_a_quarter_of_a_second(rings: int, first: int) -> None:
    """What rings on arrival and then stands begins there; what rings for longer is in the stay.

    Fifty points of 5 ms; the last reading that rings goes with what stands behind it, where the
    one before it stood on the other side.
    """
    shares = way(*PRESS)
    shares[500 : 500 + rings] += np.tile([0.008] * 3 + [-0.008] * 2, 12)[:rings]
    found = told(shares)
    assert stays(found, Place.REST)[1] == (first, 700)


def test_letting_go_is_later_than_the_stay_where_a_hand_sinks_slowly() -> None:
    """A hand sinks to nine tenths at less than 15 % of the travel a second, and then lets go."""
    found = told(way(*PRESS, (60, 1.0), (100, 1.0), (160, 0.9), (40, 0.0), AWAY))
    press = found.presses[1]
    assert press.let_go_s == pytest.approx((699 + 60 + 100 + 160 - 9) / RATE_HZ, abs=0.011)
    assert stays(found, Place.FULL)[1][1] < 699 + 60 + 100 + 100
    found = told(way(*PRESS, (60, 1.0), (100, 1.0), (100, 0.9), (40, 0.0), AWAY))
    assert found.presses[1].let_go_s == pytest.approx(859 / RATE_HZ, abs=0.055)


@pytest.mark.parametrize(
    ("sunk", "readings", "stop"), [(0.018, 300, 700 + 60 + 20 + 300), (0.02, 200, 894)]
)
def test_what_creeps_by_more_than_a_hundredth_a_second_does_not_stand(
    sunk: float, readings: int, stop: int
) -> None:
    """A hand that sinks by 1.2 % a second stands at full travel all the while; at 2 % it goes.

    By hand, from the first third of such a plateau to its last: 0.8 % for each second of it, and
    1.3 %. What goes is at the stop while it is within 1 % and three deviations of the noise, which
    is 114 readings; a zigzag of 0.02 % has a deviation of 4 times that by 0.6745 and the root of 6.
    """
    shares = way(*PRESS, (60, 1.0), (20, 1.0), (readings, 1.0 - sunk), (40, 0.0), AWAY)
    shares += 2e-4 * np.tile([1.0, -1.0], len(shares))[: len(shares)]
    begin, end = stays(told(shares), Place.FULL)[1]
    assert abs(begin - 759) <= 2
    assert abs(end - stop) <= 3


def test_a_tap_in_the_first_second_is_let_go_when_its_hold_ends() -> None:
    """Nothing of it is slow: no tenth of a second before it counts, nor any time of its own."""
    tap: tuple[Leg, ...] = ((10, 1.0), (9, 1.0), (10, 0.0), AWAY)
    (press,) = told(way(*tap)[140:]).presses
    assert (press.full_s, press.let_go_s) == (69 / RATE_HZ, 78 / RATE_HZ)


@pytest.mark.parametrize(
    ("readings", "beyond", "count"), [(41, 0.03, 1), (39, 0.03, 0), (39, 0.008, 1)]
)
def test_a_brief_stay_with_something_beyond_it_turned_round_there(
    readings: int, beyond: float, count: int
) -> None:
    """A fifth of a second is long enough, whatever swings out by more than a hundredth in it."""
    shares = way(*PRESS, (10, 1.0), (readings - 1, 1.0), (10, 0.0), AWAY)
    shares[725:730] += beyond
    found = told(shares)
    assert (found.count, found.unheld) == (1 + count, 1 - count)
