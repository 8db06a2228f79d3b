"""What the hands did, by exact readings: the start, presses, who leads, and what stood beside."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from calib.checks.bench.hands import (
    Ends,
    Hand,
    at_rest,
    clipped_sd,
    ends_of,
    read_hand,
    shift,
    works_of,
)
from calib.checks.bench.signals import Signals
from calib.controls.presses import Press
from calib.measure.plateaus import white_sd
from calib.store.documents.check import CheckFigures, CheckLevel
from calib.store.rig import Channel
from tests.unit.checks.bench.evening import presses
from tests.unit.checks.bench.waves import (
    Floats,
    flat,
    ramp,
    signals_of_all,
    signals_of_one,
    volts_signal,
)


def _read(
    volts: Floats, expected: Ends | None = None, rate_hz: float = 100.0, step: float = 0.0
) -> Hand:
    signal = replace(volts_signal(volts), step=step)
    return read_hand(signals_of_one(signal, rate_hz), signal, None, expected)


@pytest.mark.parametrize(
    ("rate_hz", "readings"), [(2.0, 8), (5.0, 8), (6.0, 9), (10.0, 15), (100.0, 150)]
)
def test_the_start_is_a_second_and_a_half_and_eight_readings_at_least(
    rate_hz: float, readings: int
) -> None:
    """Half of it at 1 V and half at 1.25 V: the middle of both is where it stood."""
    volts = flat(1.0, 400.0 / rate_hz, rate_hz)
    volts[: readings // 2] = 1.25
    volts[(readings + 1) // 2 : readings] = 1.5
    volts[readings:] = 1.0
    volts[readings // 2 : (readings + 1) // 2] = 1.375
    volts[-60:-30] = 101.0
    hand = _read(volts, Ends(1.0, 101.0), rate_hz)
    assert hand.head_V == 1.375
    volts[readings - 1] = 1.0
    assert _read(volts, Ends(1.0, 101.0), rate_hz).head_V < 1.375


def _soon(rest_s: float, lasts_s: float, rate_hz: float, by_V: float = 1.0) -> Floats:
    """Rest at 1 V, then held that much farther from it, then rest again, ten seconds in all."""
    parts = [flat(1.0, rest_s, rate_hz), flat(1.0 + by_V, lasts_s, rate_hz)]
    volts = np.concatenate(parts)
    return np.concatenate([volts, np.full(round(10.0 * rate_hz) - len(volts), 1.0)])


@pytest.mark.parametrize(
    ("lasts_s", "rate_hz", "head_V"),
    [(1.2, 100.0, 1.0), (0.9, 100.0, 2.0), (1.2, 20.0, 1.0), (1.2, 10.0, 2.0)],
)
def test_the_start_ends_before_a_hand_that_stays_away_to_its_end(
    lasts_s: float, rate_hz: float, head_V: float
) -> None:
    """What comes back within 1.5 s is a drop-out; at 10 Hz a tenth of a second is one reading."""
    expected = Ends(1.0, 101.0)
    assert _read(_soon(0.5, lasts_s, rate_hz), expected, rate_hz).head_V == head_V
    down = _read(_soon(0.5, lasts_s, rate_hz, -1.0), expected, rate_hz)
    assert down.head_V == 2.0 - head_V


@pytest.mark.parametrize(
    ("rest_s", "kept"),
    [(0.3, 30), (0.4, 30), (0.5, 40), (0.8, 70), (0.85, 70), (1.2, 110)],
)
def test_the_start_ends_one_mean_before_the_first_that_is_away(rest_s: float, kept: int) -> None:
    """That mean may hold the beginning of the way; three tenths of a second are always used."""
    volts = _soon(rest_s, 3.0, 100.0)
    volts[: kept // 2] = 1.0 + 1.0 / 128.0
    head_V = _read(volts, Ends(1.0, 101.0)).head_V
    assert head_V == 1.0 + 0.5 / 128.0


@pytest.mark.parametrize(("by_V", "head_V"), [(0.25, 1.25), (0.5, 1.0)])
def test_the_start_ends_where_a_hand_moves_it_by_three_hundredths_of_all_its_way(
    by_V: float, head_V: float
) -> None:
    """It goes 12 V in all, of which that is 0.36 V: less shows no hand."""
    volts = _soon(0.5, 3.0, 100.0, by_V)
    volts[600:700] = 13.0
    assert _read(volts, Ends(1.0, 13.0)).head_V == head_V


@pytest.mark.parametrize("noise_V", [0.0, 0.02, 0.03, 0.05, 0.07, 0.2])
@pytest.mark.parametrize("span_V", [3.0, 1.5])
def test_a_rest_is_asked_for_until_its_noise_is_averaged_to_three_hundredths_of_the_travel(
    noise_V: float, span_V: float
) -> None:
    """From 0.3 s to 1.5 s: six standard deviations of a mean over it are then 3 % of the span."""
    parts = [ramp(1.0, 4.0, 0.4, 100.0), flat(4.0, 2.0, 100.0), ramp(4.0, 1.0, 0.4, 100.0),
             flat(1.0, 2.0, 100.0)]  # fmt: skip
    volts = np.concatenate([flat(1.0, 0.2, 100.0), *parts, *parts, *parts])
    volts += noise_V * np.resize([1.0, -1.0], len(volts))
    hand = _read(volts, Ends(1.0, 1.0 + span_V))
    readings = (6.0 * white_sd(volts) / (0.03 * span_V)) ** 2
    assert len(hand.presses) >= 2
    assert hand.needs_rest_s == pytest.approx(min(max(readings / 100.0, 0.3), 1.5))


@pytest.mark.parametrize(("away_V", "told"), [(0.08, False), (0.1, True), (-0.08, False),
                                              (-0.1, True)])  # fmt: skip
def test_a_control_was_worked_at_once_where_its_first_means_differ_by_that_much(
    away_V: float, told: bool
) -> None:
    """Three hundredths of 3 V are 0.09 V, up or down."""
    volts = presses(1.0, 4.0, (4.0, 8.0))
    volts[:15] -= away_V
    volts[15:20] -= away_V / 2.0
    assert (_read(volts, Ends(1.0, 4.0)).needs_rest_s is not None) is told


@pytest.mark.parametrize(
    ("reach_V", "span_V", "pressed"),
    [(0.5, 3.0, True), (0.484375, 3.0, False), (0.5, 1.0, True), (0.25, 0.5, True),
     (0.234375, 0.5, False), (-0.5, 3.0, True), (-0.484375, 3.0, False)],
)  # fmt: skip
def test_with_a_record_a_press_moves_by_half_a_volt_or_half_of_its_span(
    reach_V: float, span_V: float, pressed: bool
) -> None:
    """What moves by less was not worked at all: it is at rest, all the time and at the end."""
    volts = presses(2.0, 2.0 + reach_V, (4.0, 8.0, 12.0))
    volts[1900:] = 2.0 + reach_V
    hand = _read(volts, Ends(2.0, 2.0 + np.copysign(span_V, reach_V)))
    assert len(hand.presses) == (3 if pressed else 0)
    assert hand.released is not pressed
    assert hand.half == (1 if pressed else 0)
    if not pressed:
        assert [(run.first, run.stop) for run in hand.rests] == [(0, 1999)]


def test_without_a_record_a_span_is_what_it_went_and_its_way_where_it_went() -> None:
    """By means of a tenth of a second; with one it is that of the record, never negative."""
    up, down = presses(1.0, 3.0, (4.0, 8.0)), presses(3.0, 1.0, (4.0, 8.0))
    assert (_read(up).span_V, _read(down).span_V) == (2.0, 2.0)
    assert _read(up, Ends(1.0, 4.5)).span_V == 3.5
    assert _read(up, Ends(4.5, 1.0)).span_V == 3.5
    brief = flat(1.0, 20.0, 100.0)
    brief[500:505] = 2.0
    assert _read(brief).span_V == 0.5


@pytest.mark.parametrize(
    ("rest_V", "full_V", "glitch_V", "pulls"),
    [(1.0, 2.25, 3.5, True), (1.0, 2.25, -1.5, False), (1.0, 2.75, 3.5, True),
     (1.0, 2.75, -1.5, False)],
)  # fmt: skip
def test_a_control_that_went_less_than_half_its_span_keeps_the_way_on_record(
    rest_V: float, full_V: float, glitch_V: float, pulls: bool
) -> None:
    """With a span of 3 V on record that is 1.5 V; beyond it its own way counts, here the same."""
    volts = presses(rest_V, full_V, (4.0, 8.0))
    volts[1500] = glitch_V
    hand = _read(volts, Ends(1.0, 4.0))
    assert [each.into_travel for each in hand.drop_outs] == [pulls]


@pytest.mark.parametrize(("now_V", "pulls"), [(1.375, False), (1.5, True), (1.625, True)])
def test_a_control_that_turned_round_shows_it_from_half_its_span_on(
    now_V: float, pulls: bool
) -> None:
    """It falls by so much, and rose by 3 V on record: an excursion down would have pulled."""
    volts = presses(3.0, 3.0 - now_V, (4.0, 8.0))
    volts[1500] = 0.5
    drops = _read(volts, Ends(3.0, 6.0)).drop_outs
    assert [each.into_travel for each in drops if each.run.first == 1500] == [pulls]


def test_a_control_that_goes_as_far_both_ways_reads_higher_when_pressed() -> None:
    """Without a record, and with nothing to choose between."""
    volts = flat(3.0, 20.0, 100.0)
    volts[600:700], volts[1200:1300] = 4.0, 2.0
    volts[1600] = 6.0
    drops = _read(volts).drop_outs
    assert [each.into_travel for each in drops if each.run.first == 1600] == [True]


@pytest.mark.parametrize(
    ("values", "sd"),
    [([], 0.0), ([2.0], 0.0), ([2.0, math.nan], 0.0), ([1.0, 3.0], 1.0),
     ([1.0, 3.0, math.nan], 1.0), ([2.0] * 20, 0.0)],
)  # fmt: skip
def test_a_spread_needs_two_readings(values: list[float], sd: float) -> None:
    """Of one there is none; what is no reading does not count."""
    assert clipped_sd(np.array(values)) == sd


def _held_hand(
    signals: Signals, name: str, *held: tuple[float, float, float, float], span_V: float = 4.0
) -> Hand:
    """A control whose presses are given by their four times."""
    signal = signals.by_name[name]
    hand = read_hand(signals, signal, None, Ends(1.0, 1.0 + span_V))
    return replace(hand, presses=tuple(Press(*times) for times in held), volts=signal.values)


def _two(first: Floats, second: Floats) -> Signals:
    return signals_of_all([volts_signal(first, "throttle"), volts_signal(second, "regen")], 100.0)


def test_a_movement_is_that_of_the_hold_against_half_a_second_on_each_side() -> None:
    """From 0.06 s inside the hold; from 0.5 to 0.05 s before it left, and 0.2 to 0.7 s after."""
    volts = np.full(1500, 1.0)
    volts[506:794] = 1.0625
    for first, stop in ((400, 449), (496, 505), (795, 919), (971, 1100)):
        volts[first:stop] = 3.0
    signals = _two(volts, volts)
    hand = _held_hand(signals, "throttle", (5.0, 5.0, 8.0, 9.0))
    (work,) = works_of(signals, [hand])
    assert work.leader == "throttle"
    assert work.moved_V == {"throttle": 0.0625}
    for place in (451, 493, 922, 968):
        other = volts.copy()
        other[place] += 1.0
        (work,) = works_of(signals, [replace(hand, volts=other)])
        assert work.moved_V["throttle"] < 0.0625 - 0.005
    for place in (508, 792):
        other = volts.copy()
        other[place] += 1.0
        (work,) = works_of(signals, [replace(hand, volts=other)])
        assert work.moved_V["throttle"] > 0.0625 + 0.003


def test_of_a_short_hold_a_fifth_is_cut_off_each_end() -> None:
    """A tenth of a second leaves six readings in its middle."""
    volts = np.full(1500, 1.0)
    volts[503:507] = 1.0625
    volts[501], volts[508] = 3.0, 3.0
    signals = _two(volts, volts)
    hand = _held_hand(signals, "throttle", (4.5, 5.0, 5.1, 5.5))
    (work,) = works_of(signals, [hand])
    assert work.moved_V["throttle"] == pytest.approx(0.0625 * 4.0 / 6.0, abs=0.003)


def test_a_press_with_nothing_beside_it_moved_nobody_knows_how_far() -> None:
    """It counts as nought, and the control is still the one that led."""
    volts = np.full(100, 1.0)
    signals = _two(volts, volts)
    hand = _held_hand(signals, "throttle", (0.0, 0.2, 0.8, 1.0))
    (work,) = works_of(signals, [hand])
    assert (work.leader, work.moved_V) == ("throttle", {"throttle": 0.0})


@pytest.mark.parametrize(("full_s", "count"), [(7.9, 1), (8.0, 2), (9.0, 2)])
def test_presses_are_one_work_where_one_is_reached_before_the_other_is_let_go(
    full_s: float, count: int
) -> None:
    """From when the first was let go on, the second is a work of its own."""
    volts = np.full(1500, 1.0)
    signals = _two(volts, volts)
    hands = [
        _held_hand(signals, "regen", (7.0, full_s, 10.0, 11.0)),
        _held_hand(signals, "throttle", (5.0, 6.0, 8.0, 8.5)),
    ]
    works = works_of(signals, hands)
    assert len(works) == count
    assert [work.leader for work in works] == ["throttle", "regen"][:count]


@pytest.mark.parametrize(
    ("first_span_V", "leader"), [(0.14, "throttle"), (0.1, "regen"), (4.0, "regen")]
)
def test_who_moved_farthest_of_its_own_span_leads(first_span_V: float, leader: str) -> None:
    """A span below 0.15 V is taken for that: with 0.1 V one leads by two thirds of it and no more.

    The throttle moves by 0.14 V or all of its span, the lever by 0.8 V of one.
    """
    throttle, lever = np.full(1500, 1.0), np.full(1500, 1.0)
    throttle[600:800] += min(first_span_V, 0.14)
    lever[600:800] += 0.8
    signals = _two(throttle, lever)
    hands = [
        _held_hand(signals, "throttle", (5.5, 6.0, 8.0, 8.5), span_V=first_span_V),
        _held_hand(signals, "regen", (5.5, 6.1, 8.0, 8.5), span_V=1.0),
    ]
    (work,) = works_of(signals, hands)
    assert work.leader == leader


def test_a_second_track_never_leads() -> None:
    """Nobody works it for itself, however much farther it moves than the first."""
    first = Channel(role="control", column="a0", unit="V", second_track="second")
    throttle, second = np.full(1500, 1.0), np.full(1500, 1.0)
    throttle[600:800] += 1.0
    second[600:800] += 4.0
    signals = signals_of_all(
        [volts_signal(throttle, channel=first), volts_signal(second, "second")], 100.0
    )
    hands = [_held_hand(signals, name, (5.5, 6.0, 8.0, 8.5)) for name in ("second", "throttle")]
    (work,) = works_of(signals, hands)
    assert work.leader == "throttle"


def test_a_shift_is_against_what_is_known_beside_it() -> None:
    """The mean of both sides, or of the one that is known; of none it is not known."""
    values = np.concatenate([np.full(100, 1.0), np.full(100, 4.0), np.full(100, 2.0)])
    signals = _two(values, values)
    sides = ((0.0, 1.0), (2.0, 3.0))
    assert shift(signals, values, (1.0, 2.0), sides) == 2.5
    assert shift(signals, values, (1.0, 2.0), (*sides, (5.0, 6.0))) == 2.5
    assert shift(signals, values, (1.0, 2.0), (sides[1], (5.0, 6.0))) == 2.0
    assert math.isnan(shift(signals, values, (1.0, 2.0), ((5.0, 6.0),)))
    assert math.isnan(shift(signals, values, (5.0, 6.0), sides))


def test_a_control_is_at_rest_but_for_a_tenth_of_a_second_before_it_is_worked_and_two_after() -> (
    None
):
    """Of every control: where one of them is worked, the whole is not at rest."""
    volts = np.full(1500, 1.0)
    signals = _two(volts, volts)
    first = replace(_held_hand(signals, "throttle"), away_s=((3.0, 4.0),))
    second = replace(_held_hand(signals, "regen"), away_s=((6.0, 7.0), (9.0, 9.5)))
    worked = np.flatnonzero(~at_rest(signals, [first, second])).tolist()
    assert worked == [*range(290, 420), *range(590, 720), *range(890, 970)]


def test_ends_need_rest_and_full_travel_both() -> None:
    """With the supply at which they were so."""
    low = CheckLevel(mean=1.0, sd=0.0, u=0.0, stays=1)
    high = CheckLevel(mean=4.0, sd=0.0, u=0.0, stays=1)
    figures = CheckFigures(unit="V", rest=low, full=high, supply_V=4.5)
    ends = ends_of(figures)
    assert ends == Ends(1.0, 4.0, 4.5)
    assert ends is not None
    assert ends.span_V == 3.0
    assert ends.share(np.array([1.0, 2.5, 4.0, 5.5])).tolist() == [0.0, 0.5, 1.0, 1.5]
    assert ends_of(None) is None
    assert ends_of(CheckFigures(unit="V", rest=low)) is None
    assert ends_of(CheckFigures(unit="V", full=high)) is None


def test_readings_are_taken_as_if_the_supply_had_stood_still() -> None:
    """Multiplied with what undoes its changes, each for itself."""
    volts = presses(1.0, 4.0, (4.0, 8.0))
    factor = np.where(np.arange(len(volts)) < 600, 0.5, 2.0)
    signal = volts_signal(volts / factor)
    hand = read_hand(signals_of_one(signal, 100.0), signal, factor, None)
    assert hand.volts.tolist() == volts.tolist()
    assert len(hand.presses) == 2


def test_what_drops_out_while_something_else_is_worked_is_spared() -> None:
    """It may have been moved by that; the other is still a drop-out."""
    volts = flat(1.0, 20.0, 100.0)
    volts[500:505] = volts[1500:1505] = -1.0
    spared = np.zeros(len(volts), dtype=np.bool_)
    spared[:1000] = True
    signal = volts_signal(volts)
    hand = read_hand(signals_of_one(signal, 100.0), signal, None, Ends(1.0, 4.0), spared=spared)
    assert [each.run.first for each in hand.drop_outs] == [1500]


@pytest.mark.parametrize(("count", "head_V"), [(140, 2.0), (150, 1.0)])
def test_a_capture_that_is_shorter_than_the_start_is_all_start(count: int, head_V: float) -> None:
    """At 100 Hz of less than 150 readings: what a hand did in it cannot be told."""
    volts = np.full(count, 2.0)
    volts[:50] = 1.0
    assert _read(volts, Ends(1.0, 4.0)).head_V == head_V


def test_eight_readings_of_a_start_are_always_used() -> None:
    """At 20 Hz three tenths of a second are fewer: four at 1 V and four a little above it."""
    volts = np.full(400, 3.0)
    volts[:4], volts[4:8] = 1.0, 1.03125
    volts[100:] = 1.0
    assert _read(volts, Ends(1.0, 4.0), 20.0).head_V == 1.015625


def test_three_hundredths_of_all_its_way_themselves_are_no_hand() -> None:
    """Of 6.25 V that is 0.1875 V: neither where it first goes, nor where it stays."""
    volts = np.full(800, 1.0)
    volts[24:64], volts[64:120] = 1.1875, 2.0
    volts[400:480] = 7.25
    assert _read(volts, Ends(1.0, 7.25), 80.0).head_V == 1.1875
    volts[24:40], volts[40:120] = 2.0, 1.1875
    assert _read(volts, Ends(1.0, 7.25), 80.0).head_V == 1.1875


@pytest.mark.parametrize(("away_V", "told"), [(0.1875, False), (0.203125, True)])
def test_nor_were_they_worked_at_once(away_V: float, told: bool) -> None:
    """The first mean of a tenth of a second against that of the third."""
    share = np.interp(np.arange(800), [300, 324, 404, 412], [0.0, 1.0, 1.0, 0.0])
    volts = 1.0 + 6.25 * share
    volts[:8] -= away_V
    hand = _read(volts, Ends(1.0, 7.25), 80.0)
    assert hand.presses
    assert (hand.needs_rest_s is not None) is told


@pytest.mark.parametrize(("count", "span_V"), [(19, 1.0), (20, 0.1), (40, 0.1)])
def test_a_span_is_seen_in_means_where_there_are_two(count: int, span_V: float) -> None:
    """At 100 Hz of ten readings each; in a shorter capture each reading counts."""
    volts = np.full(count, 1.0)
    volts[-15] = 2.0
    assert _read(volts).span_V == pytest.approx(span_V)


@pytest.mark.parametrize(("glitch_V", "dropped"), [(0.25, False), (0.34375, True)])
@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize("worked", [True, False])
def test_an_excursion_away_from_the_travel_is_a_tenth_of_the_span(
    glitch_V: float, dropped: bool, way: float, worked: bool
) -> None:
    """Of 3 V that is 0.3 V, whichever way it is pressed and whether it answers or not."""
    volts = presses(2.5, 2.5 + 2.0 * way, (4.0, 8.0) if worked else ())
    volts[1500:1503] -= glitch_V * way
    hand = _read(volts, Ends(2.5, 2.5 + 3.0 * way))
    assert [each.run.first for each in hand.drop_outs] == ([1500] if dropped else [])
