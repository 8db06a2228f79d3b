"""Where the clocks of a line draw their lines: on either side of each."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calib.link.clock import ArrivalClock, CountClock, DeviceClock, on_a_grid
from calib.store.samples import Event, EventKind
from tests.unit.link.test_clock import run

JITTER = [10.0, 11.0] * 8
"""Sixteen steps of a logger that is not quite even, in ms: they are multiples of nothing."""


def ticks(*steps: float, start: float = 5000.0) -> list[float]:
    """Counts with these steps between them."""
    return [float(count) for count in np.cumsum([start, *steps])]


def told(*steps: float, modulus: float | None = None) -> list[tuple[EventKind, float, float]]:
    """Kind, time and duration of each event of a counter in milliseconds with these steps."""
    events = run(DeviceClock(1e-3, modulus), ticks(*steps))[1]
    return [(event.kind, round(event.time_s, 6), round(event.duration_s, 6)) for event in events]


@pytest.mark.parametrize(("step", "gap"), [(21.0, False), (21.5, True)])
def test_a_gap_is_more_than_two_usual_steps_before_and_after_the_usual_is_known(
    step: float, gap: bool
) -> None:
    """Of steps of ten and eleven the usual one is 10.5; the event has the silence's time."""
    early = told(*JITTER[:5], step, *JITTER[6:])
    assert early == ([(EventKind.GAP, 0.052, step / 1e3)] if gap else [])
    late = told(*JITTER, 10.0, step, 11.0)
    assert late == ([(EventKind.GAP, 0.178, step / 1e3)] if gap else [])


def test_the_usual_step_is_learned_from_sixteen() -> None:
    """Until then nothing is told; the last call judges what it has."""
    steps = [*JITTER[:3], 60.0, *JITTER[4:]]
    clock = DeviceClock(1e-3)
    counts = np.array(ticks(*steps))
    nowhere = np.full(len(counts), np.nan)
    clock.advance(counts[:16], nowhere[:16])
    assert clock.take_events() == []
    clock.advance(counts[16:], nowhere[16:])
    assert [event.kind for event in clock.take_events()] == [EventKind.GAP]
    brief = DeviceClock(1e-3)
    brief.advance(counts[:6], nowhere[:6])
    assert brief.take_events() == []
    assert [event.kind for event in brief.take_events(final=True)] == [EventKind.GAP]


@pytest.mark.parametrize(("odd", "told_of"), [(3, 1), (4, 0)])
def test_three_quarters_of_the_steps_are_ordinary_where_gaps_are_told(
    odd: int, told_of: int
) -> None:
    """Half a usual step and one and a half are ordinary; a gap is not, nor are shorter ones."""
    steps = [10.0] * (15 - odd) + [4.0] * odd
    steps[0], steps[1] = 5.0, 15.0
    assert len(told(*steps[:8], 60.0, *steps[8:])) == told_of


@pytest.mark.parametrize(("long", "told_of"), [(31.5, 2), (32.0, 0)])
def test_two_long_steps_that_fill_three_tenths_of_the_time_are_bursts(
    long: float, told_of: int
) -> None:
    """147 ms of ordinary steps and twice 31.5 are 210, of which 63 are three tenths."""
    assert len(told(*JITTER[:5], long, *JITTER[5:9], long, *JITTER[9:14])) == told_of


def test_the_third_long_step_of_many_ends_the_telling() -> None:
    """Three that fill more than three tenths of the time are bursts as likely; fewer are gaps."""
    assert len(told(*JITTER, *[11.0, 60.0] * 9)) == 3
    assert len(told(*JITTER, *[11.0, 60.0] * 2)) == 2
    seldom = [*[10.0, 11.0] * 10, 60.0]
    assert len(told(*JITTER, *seldom * 6)) == 6


def test_lines_left_out_of_an_even_count_are_told_each() -> None:
    """However many: every step is a multiple of the least one."""
    steps = [20.0, 40.0, 60.0, 20.0] * 12
    gaps = [each for each in told(*steps) if each[0] is EventKind.GAP]
    assert len(gaps) == 12
    assert {duration_s for _, _, duration_s in gaps} == {0.06}


@pytest.mark.parametrize(
    ("steps", "grid"),
    [([2.0, 14.0], True), ([2.0, 16.0], False), ([2.0, 4.0, 6.0], True), ([1.5, 3.0], False),
     ([2.0, 4.05], False), ([2.0, 4.01], True)],
)  # fmt: skip
def test_multiples_of_two_units_at_least_and_of_four_in_the_mean_at_most(
    steps: list[float], grid: bool
) -> None:
    """Steps of one unit are multiples of it whatever they are; bursts lie farther apart."""
    assert on_a_grid(np.array(steps)) is grid


@pytest.mark.parametrize(
    ("turned", "kind"), [(1000.0, None), (1001.0, EventKind.RESET), (2000.0, EventKind.RESET)]
)
def test_a_wrap_in_a_second_of_silence_is_plausible(turned: float, kind: EventKind | None) -> None:
    """A 16-bit counter that steps back so that a second passed; longer it started again."""
    events = told(*JITTER[:4], turned - 65536.0, *JITTER[:10], modulus=65536)
    assert [each[0] for each in events if each[0] is not EventKind.GAP] == ([kind] if kind else [])


@pytest.mark.parametrize(("turned", "reset"), [(5000.0, False), (5001.0, True)])
def test_a_slow_logger_may_be_silent_for_fifty_of_its_steps(turned: float, reset: bool) -> None:
    """Ten a second: five seconds over a wrap."""
    events = told(*[100.0] * 16, turned - 65536.0, 100.0, modulus=65536)
    assert (EventKind.RESET in [each[0] for each in events]) is reset


def test_arrival_tells_a_turn_that_no_step_back_shows() -> None:
    """A wait of more than half a turn behind a small step is a whole turn more."""
    raw = [*ticks(*JITTER), 5000.0 + 168.0 + 10.0]
    waits = [0.01 * place for place in range(17)]
    long, _ = run(DeviceClock(1e-3, 65536), raw, [*waits, 0.16 + 65.546])
    assert long[-1] - long[-2] == pytest.approx(65.546)
    short, _ = run(DeviceClock(1e-3, 65536), raw, [*waits, 0.16 + 32.0])
    assert short[-1] - short[-2] == pytest.approx(0.01)


@pytest.mark.parametrize(("back", "kind"), [(1000.0, EventKind.REPEAT), (1001.0, EventKind.RESET)])
def test_a_second_back_is_out_of_order_and_more_is_a_new_start(
    back: float, kind: EventKind
) -> None:
    """Time stands still until it has caught up; after a new start it goes on by a usual step."""
    steps = [*JITTER * 8, -back, 10.0, 11.0]
    times, events = run(DeviceClock(1e-3), ticks(*steps))
    (event,) = (event for event in events if "went back" in event.text)
    assert event.kind is kind
    assert event.time_s == pytest.approx(1.344)
    assert f"went back by {back / 1e3:.3f} s" in event.text
    after = times[-3:] - 1.344
    if kind is EventKind.REPEAT:
        assert after == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    else:
        assert after == pytest.approx([0.0105, 0.0205, 0.0315])
        assert event.duration_s == pytest.approx(0.0105)


def test_back_to_its_beginning_is_a_new_start_however_near_that_is() -> None:
    """At the count that it began with, 0.3 s ago; at a later one it is out of order."""
    for first, kind in ((5000.0, EventKind.RESET), (5001.0, EventKind.REPEAT)):
        raw = [*ticks(*JITTER), first, first + 10.0]
        events = run(DeviceClock(1e-3), raw)[1]
        assert [event.kind for event in events if "went back" in event.text] == [kind]


def test_what_is_behind_is_caught_up_step_by_step() -> None:
    """Back by 25, then three of ten: the third has five left. Back twice adds up."""
    times, _ = run(DeviceClock(1e-3), ticks(*JITTER, -25.0, 10.0, 10.0, 10.0, 10.0))
    assert times[-5:] - times[16] == pytest.approx([0.0, 0.0, 0.0, 0.005, 0.015])
    times, events = run(DeviceClock(1e-3), ticks(*JITTER, -15.0, 10.0, -10.0, 10.0, 10.0, 10.0))
    assert times[-6:] - times[16] == pytest.approx([0.0, 0.0, 0.0, 0.0, 0.005, 0.015])
    assert ["0.015 s" in event.text for event in events if "went back" in event.text] == [
        True, False,
    ]  # fmt: skip


def test_a_broken_line_without_arrival_goes_on_by_a_usual_step() -> None:
    """Nobody knows how long it was away; nothing is told of the counter."""
    clock = DeviceClock(1e-3)
    counts = np.array(ticks(*JITTER))
    clock.advance(counts, np.full(17, np.nan))
    clock.interrupt()
    times = clock.advance(np.array([7.0, 17.0]), np.full(2, np.nan))
    assert times - 0.168 == pytest.approx([0.0105, 0.0205])
    assert clock.take_events(final=True) == []


@pytest.mark.parametrize(("slept_s", "reset"), [(43_200.0, False), (43_201.0, True)])
def test_half_a_day_of_sleep_over_midnight_is_plausible(slept_s: float, reset: bool) -> None:
    """Longer, it is as likely that somebody set the clock back."""
    raw = [*(86_000.0 + np.arange(20)), 86_019.0 - 86_400.0 + slept_s]
    times, events = run(DeviceClock(1.0, wall=True), raw)
    assert (EventKind.RESET in {event.kind for event in events}) is reset
    assert times[-1] - times[-2] == pytest.approx(1.0 if reset else slept_s)


def test_a_count_since_1970_knows_no_midnight() -> None:
    """A wall clock whose first stamp is beyond a day does not start again at any."""
    raw = [*(86_400.5 + np.arange(20)), 100.0]
    assert [event.kind for event in run(DeviceClock(1.0, wall=True), raw)[1]] == [EventKind.RESET]
    day = [*(86_400.0 - 19.0 + np.arange(20)), 1.0]
    assert run(DeviceClock(1.0, wall=True), day)[0][-1] == pytest.approx(20.0)


def test_stamps_that_are_missing_are_those_before_them_in_any_read() -> None:
    """The first known one where none came before; nought where none ever came."""
    clock = DeviceClock(1e-3)
    unknown = np.full(3, np.nan)
    assert clock.advance(np.array([np.nan, 20.0, 30.0]), unknown).tolist() == [0.0, 0.0, 0.01]
    assert clock.advance(np.array([np.nan, np.nan, 45.0]), unknown).tolist() == pytest.approx(
        [0.01, 0.01, 0.025]
    )
    assert clock.advance(np.array([55.0, np.nan, 60.0]), unknown).tolist() == pytest.approx(
        [0.035, 0.035, 0.04]
    )
    assert DeviceClock(1e-3).advance(unknown, unknown).tolist() == [0.0, 0.0, 0.0]
    assert DeviceClock(1e-3).advance(np.empty(0), np.empty(0)).tolist() == []


def test_a_run_of_equal_stamps_is_told_once_and_again_after_a_new_one() -> None:
    """By the time at which it stood still."""
    steps = [*JITTER, 0.0, 0.0, 0.0, 10.0, 0.0, 11.0]
    assert told(*steps) == [(EventKind.REPEAT, 0.168, 0.0), (EventKind.REPEAT, 0.178, 0.0)]
    early = [10.0, 0.0, 0.0, *JITTER[3:]]
    assert told(*early) == [(EventKind.REPEAT, 0.01, 0.0)]


def arrived(*reads: list[float]) -> tuple[list[float], list[Event]]:
    """Times and events of lines without a clock of their own."""
    clock = ArrivalClock()
    times = [clock.advance(np.empty(0), np.array(read)) for read in reads]
    return np.concatenate(times).tolist(), clock.take_events()


def test_half_a_second_between_arrivals_is_no_gap_and_more_is_one() -> None:
    """Lines that waited share the wait; those behind a gap came all at its end."""
    times, events = arrived([1.0], [1.5, 1.5], [])
    assert (times, events) == ([0.0, 0.25, 0.5], [])
    times, events = arrived([1.0, 1.25], [1.8125, 1.8125, 2.0])
    assert times == [0.0, 0.25, 0.8125, 0.8125, 1.0]
    (gap,) = events
    assert (gap.kind, gap.time_s, gap.duration_s) == (EventKind.GAP, 0.25, 0.5625)
    assert gap.text == "0.562 s without a sample"


def test_counted_samples_are_away_for_as_long_as_arrival_says() -> None:
    """Four a second, unplugged for two seconds; where arrival is unknown nothing is added."""
    clock = CountClock(4.0)
    nothing = np.empty(0)
    assert clock.advance(np.zeros(2), np.array([7.0, 7.25])).tolist() == [0.0, 0.25]
    clock.interrupt()
    assert clock.advance(nothing, nothing).tolist() == []
    assert clock.advance(np.zeros(2), np.array([9.25, 9.5])).tolist() == [2.5, 2.75]
    assert clock.advance(np.zeros(1), np.array([9.75])).tolist() == [3.0]
    clock.interrupt()
    assert clock.advance(np.zeros(1), np.array([math.nan])).tolist() == [3.25]


def test_samples_without_any_time_are_numbered_a_hundred_a_second() -> None:
    """And that is said once, however often it is asked."""
    clock = CountClock(None)
    assert clock.advance(np.zeros(3), np.full(3, np.nan)).tolist() == [0.0, 0.01, 0.02]
    (event,) = clock.take_events()
    assert (event.kind, event.time_s) == (EventKind.NO_CLOCK, 0.0)
    assert clock.take_events(final=True) == []
