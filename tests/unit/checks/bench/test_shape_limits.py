"""The way in and the way back of a press, reading by reading, at both sides of each choice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calib.checks.bench.hands import Ends, Hand, read_hand
from calib.checks.bench.shape import (
    Return,
    Spot,
    flats,
    largest_reversal,
    return_findings,
    returns,
    reversals,
    sets_off_late,
    spot_findings,
)
from calib.checks.bench.signals import Signals
from calib.controls.presses import Press
from calib.store.documents.finding import Severity
from calib.store.rig import Channel
from tests.unit.checks.bench.waves import Floats, signals_of_one, volts_signal

ENDS = Ends(0.0, 1.0)
RATE_HZ = 100.0


def _hand(
    volts: Floats, *presses: Press, sd_V: float = 0.0, rate_hz: float = RATE_HZ, **limits: float
) -> tuple[Signals, Hand]:
    """A control from 0 V to 1 V whose presses are given, with the noise of its readings."""
    channel = Channel(role="control", column="a0", unit="V", limits=limits)
    signal = volts_signal(volts, channel=channel)
    signals = signals_of_one(signal, rate_hz)
    still = replace(signal, values=np.zeros(len(volts)))
    hand = read_hand(signals, still, None, ENDS)
    return signals, replace(hand, volts=volts, presses=presses, head_sd_V=sd_V)


def _back(
    *way: float,
    sd_V: float = 0.0,
    rate_hz: float = RATE_HZ,
    before_s: float = 8.0,
    after: Floats | None = None,
) -> Return:
    """How a control comes back: held for a second, then the way, then at rest."""
    count = round(rate_hz)
    tail = np.zeros(10 * count) if after is None else after
    volts = np.concatenate([np.zeros(count), np.ones(count), way, tail])
    press = Press(1.0, 1.0, 2.0, before_s)
    signals, hand = _hand(volts, press, sd_V=sd_V, rate_hz=rate_hz)
    (found,) = returns(signals, hand, ENDS)
    return found


@pytest.mark.parametrize(
    ("way", "readings"),
    [
        ([0.8, 0.6, 0.4, 0.2], 5),
        ([0.97, 0.6, 0.4, 0.2], 4),
        ([0.969, 0.6, 0.4, 0.2], 5),
        ([0.8, 0.99, 0.4, 0.2], 3),
        ([0.8, 0.6, 0.4, 0.05], 4),
        ([0.8, 0.6, 0.4, 0.051], 5),
        ([], 1),
    ],
)
def test_a_return_is_timed_from_the_last_reading_held_to_the_first_at_home(
    way: list[float], readings: int
) -> None:
    """Held within three hundredths of the stop, home within five of rest, at them themselves."""
    assert _back(*way).time_s == pytest.approx(readings / 100.0)


@pytest.mark.parametrize(("stays", "readings"), [(24, 36), (25, 5)])
def test_a_control_is_home_where_it_stays_for_a_quarter_of_a_second(
    stays: int, readings: int
) -> None:
    """A spring that lets it swing does so several times in it."""
    way = [0.8, 0.6, 0.4, 0.2, *[0.04] * stays, *[0.3] * 7]
    assert _back(*way).time_s == pytest.approx(readings / 100.0)


def test_what_never_comes_home_comes_back_where_it_was_last_away() -> None:
    """Half a second after it was let go the capture ends, and its last 0.05 s are left out."""
    after = np.resize([0.5, 0.0], 50)
    assert _back(after=after).time_s == pytest.approx(0.46)


@pytest.mark.parametrize(("level", "timed"), [(0.9, False), (1.0, True)])
def test_a_press_that_was_never_at_full_travel_or_never_away_has_no_return(
    level: float, timed: bool
) -> None:
    """There is nothing to time."""
    volts = np.concatenate([np.zeros(100), np.full(100, level), np.zeros(200)])
    signals, hand = _hand(volts, Press(1.0, 1.0, 2.0, 2.0))
    (found,) = returns(signals, hand, ENDS)
    assert (found.time_s > 0.0) is timed
    signals, hand = _hand(np.zeros(400), Press(1.0, 1.0, 2.0, 2.0))
    assert returns(signals, hand, ENDS) == [Return()]
    assert Return() == Return(time_s=0.0, hang_s=0.0, hang_at=0.0)


@pytest.mark.parametrize(
    ("sd_V", "way", "readings"),
    [
        (0.01, [0.8, 0.6, 0.055, 0.055], 5),
        (0.02, [0.8, 0.6, 0.055, 0.055], 3),
        (0.02, [0.96, 0.6, 0.2, 0.2], 4),
        (0.017, [0.96, 0.6, 0.2, 0.2], 5),
        (0.03, [0.95, 0.6, 0.4, 0.16], 4),
        (0.03, [0.89, 0.6, 0.4, 0.2], 5),
        (0.03, [0.91, 0.6, 0.4, 0.2], 4),
    ],
)
def test_noise_widens_where_a_control_is_held_and_home(
    sd_V: float, way: list[float], readings: int
) -> None:
    """Five standard deviations of a reading; at the stop what they are beyond the band of rest."""
    assert _back(*way, sd_V=sd_V).time_s == pytest.approx(readings / 100.0)


def test_noise_is_that_of_a_mean_of_a_hundredth_of_a_second() -> None:
    """Of four readings at 400 Hz it is half; of a control of 2 V again half of that."""
    way = np.repeat([0.8, 0.6, 0.06, 0.06], 4)
    for sd_V, steps in ((0.022, 5), (0.028, 3)):
        assert _back(*way, sd_V=sd_V, rate_hz=400.0).time_s == pytest.approx(steps / 100.0)
    share = np.concatenate([np.ones(100), [0.8, 0.6, 0.06, 0.06], np.zeros(900)])
    volts = 2.0 * np.concatenate([np.zeros(100), share])
    for sd_V, steps in ((0.022, 5), (0.028, 3)):
        signals, hand = _hand(volts, Press(1.0, 1.0, 2.0, 3.0), sd_V=sd_V)
        (found,) = returns(signals, hand, Ends(0.0, 2.0))
        assert found.time_s == pytest.approx(steps / 100.0)


@pytest.mark.parametrize(
    ("way", "hang_s", "hang_at"),
    [
        ([0.8, 0.4, 0.4, 0.4, 0.4, 0.2], 0.03, 0.4),
        ([0.8, 0.4, 0.404, 0.4, 0.4, 0.2], 0.01, 0.4),
        ([0.8, 0.4, 0.4039, 0.4, 0.4, 0.2], 0.03, 0.4),
        ([0.95, 0.95, 0.95, 0.95, 0.3, 0.3], 0.01, 0.3),
        ([0.9, 0.9, 0.9, 0.9, 0.3, 0.3], 0.01, 0.3),
        ([0.89, 0.89, 0.89, 0.89, 0.3, 0.3], 0.03, 0.89),
        ([0.8, 0.6, 0.4, 0.2], 0.0, 0.0),
        ([0.8, 0.7, 0.7, 0.3, 0.3, 0.3, 0.1], 0.02, 0.3),
    ],
)
def test_a_control_hangs_where_it_moves_by_less_than_four_thousandths_a_reading(
    way: list[float], hang_s: float, hang_at: float
) -> None:
    """Below nine tenths of its travel, the longest time of all, and where that was."""
    found = _back(*way)
    assert found.hang_s == pytest.approx(hang_s)
    assert found.hang_at == pytest.approx(hang_at, abs=0.005)


def test_noise_makes_nothing_of_a_tremble_on_the_way_back() -> None:
    """Five standard deviations stand still."""
    way = [0.8, 0.4, 0.43, 0.4, 0.43, 0.2]
    assert _back(*way, sd_V=0.005).hang_s == 0.0
    assert _back(*way, sd_V=0.007).hang_s == pytest.approx(0.03)


@pytest.mark.parametrize(("leave_s", "readings"), [(2.06, 3), (2.25, 21), (5.0, 31)])
def test_a_return_is_looked_at_until_the_next_press_of_any_control(
    leave_s: float, readings: int
) -> None:
    """A twentieth of a second before it leaves; what was pressed before it ends nothing."""
    way = np.linspace(0.9, 0.06, 30)
    volts = np.concatenate([np.zeros(100), np.ones(100), way, np.zeros(1000)])
    for mine in (True, False):
        first = Press(1.0, 1.0, 2.0, 2.3)
        other = Press(leave_s, leave_s + 0.1, leave_s + 0.2, leave_s + 0.3)
        early = Press(0.2, 0.3, 0.4, 0.5)
        signals, hand = _hand(volts, *((first, other) if mine else (first,)))
        found = returns(signals, hand, ENDS, (early,) if mine else (early, other))
        assert found[0].time_s == pytest.approx(readings / 100.0)


@pytest.mark.parametrize(("back_s", "seen_s"), [(2.0, 8.0), (2.5, 8.5)])
def test_a_return_is_looked_at_for_eight_seconds_after_it_seems_to_be_back(
    back_s: float, seen_s: float
) -> None:
    """It may hang near rest for long, where nobody would press again."""
    volts = np.concatenate([np.zeros(100), np.ones(100), np.full(2000, 0.3)])
    signals, hand = _hand(volts, Press(1.0, 1.0, 2.0, back_s))
    (found,) = returns(signals, hand, ENDS)
    assert found.time_s == pytest.approx(seen_s, abs=0.015)


@pytest.mark.parametrize(
    ("way", "code", "severity", "limit"),
    [
        (Return(0.25, 0.0, 0.0), None, None, None),
        (Return(0.28125, 0.0, 0.0), "return-slow", Severity.CAUTION, 0.25),
        (Return(2.0, 0.0, 0.0), "return-slow", Severity.CAUTION, 0.25),
        (Return(2.03125, 0.0, 0.0), "return-slow", Severity.FAIL, 2.0),
        (Return(0.28125, 0.15, 0.5), "sticks", Severity.CAUTION, 0.25),
        (Return(0.28125, 0.149, 0.5), "return-slow", Severity.CAUTION, 0.25),
        (Return(1.25, 0.375, 0.5), "sticks", Severity.CAUTION, 0.25),
        (Return(1.25, 0.37, 0.5), "return-slow", Severity.CAUTION, 0.25),
        (Return(2.5, 0.75, 0.25), "sticks", Severity.FAIL, 2.0),
    ],
)
def test_a_slow_return_sticks_where_it_hung_for_three_tenths_of_it(
    way: Return, code: str | None, severity: Severity | None, limit: float | None
) -> None:
    """And for 0.15 s at least; by the user's limits of a quarter of a second and of two."""
    _, hand = _hand(np.zeros(400), return_slow_s=0.25, return_fail_s=2.0)
    found = list(return_findings(hand, [Return(0.1), way, Return(0.2)]))
    assert [(each.code, each.severity, each.value, each.limit) for each in found] == (
        [] if code is None else [(code, severity, way.time_s, limit)]
    )
    if code == "sticks":
        assert f"{100.0 * way.hang_at:.0f} %" in found[0].text
    assert list(return_findings(hand, [])) == []


@pytest.mark.parametrize(
    ("share", "size", "at"),
    [
        ([], 0.0, 0.0),
        ([0.5], 0.0, 0.0),
        ([0.5, 0.25], 0.25, 0.5),
        ([0.5, np.nan, 0.25], 0.25, 0.5),
        ([0.0, 0.75, 0.5, 0.875, 0.5, 1.0], 0.375, 0.875),
        ([0.0, 0.5, 1.0], 0.0, 0.0),
    ],
)
def test_a_fall_is_told_from_the_highest_before_it(
    share: list[float], size: float, at: float
) -> None:
    """The largest of several, and where it began."""
    assert largest_reversal(np.array(share, dtype=np.float64)) == Spot(size, at)


def _fall(
    share: list[float], *, sd_V: float = 0.0, head: list[float] | None = None, span_V: float = 1.0
) -> Spot:
    """The largest fall on the way in at 100 Hz, after three seconds of rest."""
    rest = np.resize([0.0] if head is None else head, 300)
    volts = span_V * np.concatenate([rest, share, np.ones(200)])
    press = Press(3.05, 2.98 + len(share) / 100.0, 6.0, 6.5)
    signals, hand = _hand(volts, press, sd_V=sd_V)
    (found,) = reversals(signals, hand, Ends(0.0, span_V))
    return found


DENT = [0.0, 0.1, 0.2, *[0.5] * 9, *[0.25] * 9, 0.6, 0.7, 0.8, 0.9, 1.0, 1.0, 1.0]


@pytest.mark.parametrize(
    ("sd_V", "span_V", "size"),
    [
        (0.0, 1.0, 0.25),
        (0.02, 1.0, 0.25 - 4.0 * 2.0**0.5 * 0.02 / 3.0**0.5),
        (0.02, 2.0, 0.25 - 4.0 * 2.0**0.5 * 0.01 / 3.0**0.5),
        (0.02, -2.0, 0.25 - 4.0 * 2.0**0.5 * 0.01 / 3.0**0.5),
        (0.2, 1.0, 0.0),
    ],
)
def test_a_fall_is_what_four_deviations_of_a_mean_each_way_do_not_explain(
    sd_V: float, span_V: float, size: float
) -> None:
    """Over three readings where it lasts; never less than nothing."""
    found = _fall(DENT, sd_V=sd_V, span_V=span_V)
    assert found.size == pytest.approx(size)
    assert found.at == pytest.approx(0.5)


def test_a_brief_fall_is_seen_in_single_readings() -> None:
    """A quick hand passes it in one of them."""
    share = [0.0, 0.1, 0.2, 0.3, 0.5, 0.25, 0.6, 0.7, 0.8, 0.9, 1.0, 1.0, 1.0]
    assert _fall(share).size == pytest.approx(0.25)
    assert _fall(share, sd_V=0.02).size == pytest.approx(0.25 - 4.0 * 2.0**0.5 * 0.02)


def test_what_the_rest_falls_back_by_is_noise_and_half_as_much_again() -> None:
    """Before the first press: 0.02 in single readings, and less in means of three."""
    share = [0.0, 0.1, 0.2, 0.3, 0.5, 0.25, 0.6, 0.7, 0.8, 0.9, 1.0, 1.0, 1.0]
    assert _fall(share, head=[0.0, 0.04, 0.04]).size == pytest.approx(0.25 - 1.5 * 0.04)
    assert _fall(DENT, head=[0.0, 0.04, 0.04]).size == pytest.approx(0.25)


@pytest.mark.parametrize(("falls_to", "size"), [(0.92, 0.08), (0.85, 0.0)])
def test_what_falls_after_a_press_arrived_is_a_hand_that_wavers(
    falls_to: float, size: float
) -> None:
    """From nine tenths of the travel on; the last time that it was there ends the way."""
    share = [0.0, 0.2, 0.4, 0.6, 0.8, 1.0, *[falls_to] * 3]
    assert _fall(share).size == pytest.approx(size)


def test_a_press_that_never_arrives_is_looked_at_as_a_whole() -> None:
    """What falls before it is let go falls."""
    assert _fall([0.0, 0.2, 0.4, 0.6, 0.8, 0.8, 0.5, 0.5, 0.5]).size == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("spots", "severity", "same", "at_pct"),
    [
        ([Spot(0.0625, 0.25)], None, 0, 0),
        ([Spot(0.0703125, 0.25)], Severity.CAUTION, 1, 25),
        ([Spot(0.125, 0.25)], Severity.CAUTION, 1, 25),
        ([Spot(0.1328125, 0.25)], "falls", 1, 25),
        ([Spot(0.0703125, 0.0), Spot(0.078125, 0.15)], Severity.FAIL, 2, 15),
        ([Spot(0.0703125, 0.0), Spot(0.078125, 0.16)], Severity.CAUTION, 1, 16),
        (
            [Spot(0.078125, 0.5), Spot(0.0703125, 0.25), Spot(0.0703125, 0.375)],
            Severity.FAIL,
            2,
            50,
        ),
        ([Spot(0.078125, 0.5), Spot(0.0625, 0.5)], Severity.CAUTION, 1, 50),
    ],
)
def test_a_spot_fails_where_two_presses_show_it_at_one_place(
    spots: list[Spot], severity: Severity | str | None, same: int, at_pct: int
) -> None:
    """Within 0.15 of the travel, beyond the user's 6.25 %; a fall of twice that fails by itself."""
    _, hand = _hand(np.zeros(400), step_pct=6.25, flat_pct=6.25)
    worst = max(spots, key=lambda each: each.size)
    for falls, code in ((True, "travel-step"), (False, "flat-spot")):
        found = list(spot_findings(hand, spots if falls else [], [] if falls else spots))
        if severity is None:
            assert found == []
            continue
        judged = severity if severity != "falls" else Severity.FAIL if falls else Severity.CAUTION
        assert [(each.code, each.severity, each.value, each.limit) for each in found] == [
            (code, judged, 100.0 * worst.size, 6.25)
        ]
        assert f"{at_pct} %" in found[0].text
        assert f"{same} of {len(spots)} press" in found[0].text


def _flat(share: list[float], sd_V: float = 0.0) -> list[Spot]:
    """Flat spots of one press whose readings at 100 Hz are given."""
    volts = np.concatenate([np.zeros(300), share, np.ones(200)])
    press = Press(3.0, 3.0 + (len(share) - 0.5) / 100.0, 6.0, 6.5)
    signals, hand = _hand(volts, press, sd_V=sd_V)
    return flats(signals, hand, ENDS)


def _way(first: int, count: int, step: float = 0.03, start: float = 0.0) -> list[float]:
    """A steady way in with so many equal readings from one of them on."""
    before = [start + step * place for place in range(first)]
    still = [start + step * first] * count
    top = start + step * first
    after = [top + step * (place + 1) for place in range(int((1.0 - top) / step + 1e-9))]
    return [*before, *still, *after]


@pytest.mark.parametrize(("count", "size"), [(2, 0.0), (3, 0.06), (4, 0.09), (9, 0.24)])
def test_a_flat_is_what_the_hand_went_on_by_while_the_signal_stood(count: int, size: float) -> None:
    """By its speed beside it; two readings alone may be one that came late."""
    (found,) = _flat(_way(12, count))
    assert found.size == pytest.approx(size)
    assert found.at == pytest.approx(0.36 if size else 0.0)


@pytest.mark.parametrize(
    ("first", "start", "known"),
    [(4, 0.0, True), (3, 0.0, False), (4, -0.04, False), (4, -0.039, True)],
)
def test_a_flat_begins_four_readings_and_eight_hundredths_into_the_travel(
    first: int, start: float, known: bool
) -> None:
    """Nearer to rest the hand itself stands still."""
    (found,) = _flat(_way(first, 5, start=start))
    assert (found.size > 0.1) is known


@pytest.mark.parametrize(
    ("top", "after", "known"),
    [(0.9, 4, True), (0.9, 3, False), (0.9199, 4, True), (0.9201, 4, False)],
)
def test_a_flat_ends_four_readings_and_eight_hundredths_before_the_stop(
    top: float, after: int, known: bool
) -> None:
    """There the hand stands still as well."""
    before = [top - 0.03 * place for place in range(24, 0, -1)]
    way = [*before, *[top] * 5, *[top + 0.03 * (place + 1) for place in range(after)]]
    (found,) = _flat(way)
    assert (found.size > 0.1) is known


@pytest.mark.parametrize(
    ("speeds", "size"),
    [
        ((0.04, 0.02, 0.04, 0.04), 0.08),
        ((0.04, 0.0175, 0.04, 0.04), 0.0),
        ((0.04, 0.04, 0.02, 0.04), 0.08),
        ((0.04, 0.04, 0.0175, 0.04), 0.0),
        ((0.04, 0.03, 0.02, 0.04), 0.08),
        ((0.02, 0.04, 0.03, 0.02), 0.12),
    ],
)
def test_a_hand_that_pauses_slows_down_first(
    speeds: tuple[float, float, float, float], size: float
) -> None:
    """By more than half of its speed in two readings; and the slower side counts.

    Speeds a reading: farther off before, just before, just after, farther off after.
    """
    far_before, before, after, far_after = speeds
    steps = [*[far_before] * 7, before, before, 0.0, 0.0, 0.0, 0.0, after, after, *[far_after] * 9]
    (found,) = _flat([0.1, *(0.1 + np.cumsum(steps)).tolist()])
    assert found.size == pytest.approx(size)


def test_of_several_flats_the_largest_is_told_and_where_it_begins() -> None:
    """And none where a reading is missing."""
    steps = [*[0.03] * 8, *[0.0] * 3, *[0.03] * 6, *[0.0] * 6, *[0.03] * 8]
    way = [0.1, *(0.1 + np.cumsum(steps)).tolist()]
    (found,) = _flat(way)
    assert found == Spot(pytest.approx(0.18), pytest.approx(0.1 + 14 * 0.03))  # type: ignore[arg-type]
    way[3] = np.nan
    assert _flat(way) == [Spot()]


@pytest.mark.parametrize(("readings", "sd_V", "looked_at"), [
    (12, 0.0, 1), (11, 0.0, 0), (48, 0.0095, 1), (47, 0.0095, 0), (24, 0.0065, 1), (23, 0.0065, 0),
    (12, 0.0045, 1),
])  # fmt: skip
def test_noise_asks_for_more_readings_a_mean_and_for_twelve_means(
    readings: int, sd_V: float, looked_at: int
) -> None:
    """Six deviations of a mean must be three hundredths of the travel: of 9.5 mV it takes four."""
    assert len(_flat(np.linspace(0.0, 1.0, readings).tolist(), sd_V)) == looked_at


def test_a_slow_press_is_looked_at_in_forty_means() -> None:
    """In four seconds at 100 Hz of ten readings each: a step in them is seen, nothing finer."""
    way = np.concatenate([np.linspace(0.0, 0.5, 200), np.full(50, 0.5), np.linspace(0.5, 1.0, 150)])
    (found,) = _flat(way.tolist())
    assert found.size == pytest.approx(0.1, abs=0.03)
    stairs = np.repeat(np.linspace(0.0, 1.0, 40), 10)
    assert _flat(stairs.tolist()) == [Spot()]


@pytest.mark.parametrize(("readings", "late"), [(5, True), (4, False)])
def test_a_way_in_is_timed_where_its_last_part_took_five_readings(
    readings: int, late: bool
) -> None:
    """From 80 to 95 % of the travel; in fewer nobody sees how its beginning was left out."""
    end = np.linspace(0.8, 0.95, readings, endpoint=False)
    volts = np.concatenate([np.zeros(300), [0.5], end, np.ones(200)])
    signals, hand = _hand(volts, Press(3.0, 3.2, 5.0, 5.5))
    assert sets_off_late(signals, hand, ENDS) is late


def test_of_several_presses_the_slowest_shows_whether_it_set_off_late() -> None:
    """A quick hand leaves out the start by itself."""
    late = np.concatenate([[0.3], np.linspace(0.5, 1.0, 30)])
    even = np.linspace(0.0, 1.0, 60)
    rest, held = np.zeros(200), np.ones(100)
    volts = np.concatenate([rest, late, held, rest, even, held, rest])
    first = Press(2.0, 2.31, 3.2, 3.4)
    second = Press(5.31, 5.91, 6.8, 7.0)
    signals, hand = _hand(volts, first, second)
    assert not sets_off_late(signals, hand, ENDS)
    assert sets_off_late(signals, replace(hand, presses=(first,)), ENDS)


@pytest.mark.parametrize(("at", "size"), [(297, 0.0), (301, 0.25)])
def test_a_way_in_begins_a_twentieth_of_a_second_before_it_left(at: int, size: float) -> None:
    """What trembled earlier was at rest."""
    volts = np.concatenate([np.zeros(306), np.linspace(0.1, 1.0, 10), np.ones(200)])
    volts[at] = 0.25
    signals, hand = _hand(volts, Press(3.05, 3.16, 5.0, 5.5))
    (found,) = reversals(signals, hand, ENDS)
    assert found.size == pytest.approx(size)


def test_the_last_reading_at_the_stop_is_part_of_the_way() -> None:
    """A hand that sinks by eight hundredths in it fell."""
    assert _fall([0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 0.92]).size == pytest.approx(0.08)


def test_a_steady_noisy_press_has_no_flat_spot() -> None:
    """Means of four readings move by 0.04, and by less than 0.0285 they would stand still."""
    assert _flat(np.linspace(0.0, 1.0, 100).tolist(), 0.0095) == [Spot()]


def test_half_of_the_speed_farther_off_is_no_pause() -> None:
    """Before as after: at that speed itself the hand went on."""
    for near in ((1.0, 2.0), (2.0, 1.0)):
        speeds = [*[2.0] * 9, *[near[0]] * 2, *[0.0] * 4, *[near[1]] * 2, *[2.0] * 9]
        way = 0.125 + np.cumsum([0.0, *speeds]) / 64.0
        (found,) = _flat(way.tolist())
        assert found.size == 0.0625


@pytest.mark.parametrize("turned", [False, True])
def test_the_slowest_press_counts_whichever_comes_first(turned: bool) -> None:
    """Of an even one and a quick one that set off late."""
    quick = np.concatenate([[0.3], np.linspace(0.5, 1.0, 30)])
    ways = [quick, np.linspace(0.0, 1.0, 60)]
    rest, held = np.zeros(200), np.ones(100)
    parts, presses, at = [rest], [], 2.0
    for way in ways[::-1] if turned else ways:
        parts += [way, held, rest]
        full_s = at + len(way) / 100.0
        presses.append(Press(at, full_s, full_s + 0.9, full_s + 1.1))
        at = full_s + 3.0
    signals, hand = _hand(np.concatenate(parts), *presses)
    assert not sets_off_late(signals, hand, ENDS)


def test_what_was_pressed_more_than_a_second_before_is_no_part_of_a_way_in() -> None:
    """It went to full travel, and came home 1.2 s before the next press set off late."""
    late = np.concatenate([[0.3], np.linspace(0.5, 1.0, 30)])
    volts = np.concatenate([np.zeros(100), np.ones(100), np.zeros(120), late, np.ones(200)])
    signals, hand = _hand(volts, Press(3.2, 3.51, 5.0, 5.2))
    assert sets_off_late(signals, hand, ENDS)


def test_the_next_of_several_presses_ends_a_return() -> None:
    """And not the one after it."""
    way = np.linspace(0.9, 0.06, 30)
    volts = np.concatenate([np.zeros(100), np.ones(100), way, np.zeros(1000)])
    signals, hand = _hand(volts, Press(1.0, 1.0, 2.0, 2.3))
    others = [Press(at, at + 0.1, at + 0.2, at + 0.3) for at in (7.0, 2.25, 4.0)]
    (found,) = returns(signals, hand, ENDS, others)
    assert found.time_s == pytest.approx(0.21)
