"""Stamps that go back a little, stand still or come again: time waits, and what is told of it."""

from __future__ import annotations

import numpy as np
import pytest

from calib.link.clock import CountClock, DeviceClock
from calib.store.samples import EventKind
from tests.unit.link.test_clock import run

EVEN = [100.0 + 10.0 * place for place in range(40)]
"""Stamps of 100 Hz, in ms: from 100 to 490."""


@pytest.mark.parametrize(
    ("back", "step_s", "kind"),
    [(400.0, 0.0, EventKind.REPEAT), (500.0, 0.0, EventKind.REPEAT), (501.0, 0.499, EventKind.GAP),
     (600.0, 0.4, EventKind.GAP)],
)  # fmt: skip
def test_half_a_turn_back_is_out_of_order_and_more_is_a_wrap(
    back: float, step_s: float, kind: EventKind
) -> None:
    """A counter of three digits turns in a second, as far as a stamp may be out of order."""
    raw = [100.0 + 20.0 * place for place in range(30)]
    times, events = run(DeviceClock(1e-3, 1000.0), [*raw, 680.0 - back])
    assert times[-1] - times[-2] == pytest.approx(step_s)
    assert {event.kind for event in events} == {kind}


@pytest.mark.parametrize("cuts", [(), (41,), (41, 42, 43, 44)])
def test_time_waits_until_the_latest_stamp_is_reached_again(cuts: tuple[int, ...]) -> None:
    """Over stamps that stand still and over a second one that goes back, in one read or many."""
    raw = [*EVEN, 475.0, 475.0, 485.0, 480.0, 490.0, 500.0, 510.0]
    times, events = run(DeviceClock(1e-3), raw, None, *cuts)
    assert times[-8:] - 0.39 == pytest.approx([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.01, 0.02])
    told = [event for event in events if "out of order" in event.text]
    assert [event.text[:30] for event in told] == [
        "a stamp went back by 0.015 s: ", "a stamp went back by 0.005 s: ",
    ]  # fmt: skip
    assert [event.time_s for event in told] == pytest.approx([0.39, 0.39])
    assert {event.kind for event in events} == {EventKind.REPEAT}


def test_a_stamp_before_the_first_one_is_a_new_start() -> None:
    """However small the step: there is nothing that it could be out of order with."""
    for first, kind in ((1000.0, EventKind.RESET), (999.5, EventKind.REPEAT)):
        _, events = run(DeviceClock(1e-3), [first, *np.arange(1010.0, 1200.0, 10.0), 1000.0])
        assert {event.kind for event in events} == {kind}
    later = [*EVEN, *(105.0 + 10.0 * place for place in range(60))]
    _, events = run(DeviceClock(1e-3), [*(10_000.0 + each for each in EVEN), *later])
    assert [event.kind for event in events][:2] == [EventKind.RESET, EventKind.REPEAT]
    assert [event.kind for event in events].count(EventKind.RESET) == 1
    _, events = run(DeviceClock(1e-3), [*(10_000.0 + each for each in EVEN), *EVEN, 100.0])
    assert [event.kind for event in events] == [EventKind.RESET, EventKind.RESET]


def test_a_new_start_is_placed_by_arrival_and_by_a_usual_step_where_that_is_unknown() -> None:
    """It is told at the last stamp before it, with how far the clock went back and how long."""
    raw = [*(10_000.0 + each for each in EVEN), 0.0, 10.0]
    arrival_s = [*(5.0 + 0.01 * place for place in range(40)), 7.39, 7.4]
    times, (event,) = run(DeviceClock(1e-3), raw, arrival_s)
    assert times[-2:] == pytest.approx([2.39, 2.4])
    assert event.kind is EventKind.RESET
    assert event.time_s == pytest.approx(0.39)
    assert event.duration_s == pytest.approx(2.0)
    assert event.text == "the device's clock went back by 10.490 s: it started again"
    times, (event,) = run(DeviceClock(1e-3), raw)
    assert times[-2:] == pytest.approx([0.4, 0.41])
    assert event.duration_s == pytest.approx(0.01)


def test_the_first_sample_after_a_break_of_a_line_is_placed_by_arrival_though_it_goes_on() -> None:
    """A device that was not switched off counts on; a break before the first sample is none."""
    clock = DeviceClock(1e-3, 65_536.0)
    clock.interrupt()
    stamps = np.array(EVEN)
    times = clock.advance(stamps, 5.0 + 1e-3 * stamps)
    assert times[[0, 1, -1]] == pytest.approx([0.0, 0.01, 0.39])
    clock.interrupt()
    times = clock.advance(np.array([2500.0, 2510.0]), np.array([7.49, 7.5]))
    assert times == pytest.approx([2.39, 2.4])


@pytest.mark.parametrize(("wait_s", "turns"), [(0.49, 0), (0.59, 0), (0.61, 1), (1.5, 1), (1.7, 2)])
def test_turns_that_nobody_saw_are_counted_by_arrival(wait_s: float, turns: int) -> None:
    """A step of a tenth of a turn on, after a wait of so many turns; half of one is rounded."""
    raw = [100.0 + 10.0 * place for place in range(30)]
    arrival_s = [0.01 * place for place in range(30)]
    later = [0.29 + wait_s]
    times, _ = run(DeviceClock(1e-3, 1000.0), [*raw, 490.0], [*arrival_s, *later])
    assert times[-1] - times[-2] == pytest.approx(0.1 + turns)


def test_events_come_in_the_order_of_their_times() -> None:
    """Those of one time by their kind, whichever was found first."""
    raw = [*EVEN, 490.0, 600.0, 600.0, 900.0]
    _, events = run(DeviceClock(1e-3), raw)
    assert [event.kind for event in events] == [
        EventKind.GAP, EventKind.REPEAT, EventKind.GAP, EventKind.REPEAT,
    ]  # fmt: skip
    times_s = [event.time_s for event in events]
    assert times_s == sorted(times_s) == pytest.approx([0.39, 0.39, 0.5, 0.5])


def test_a_count_of_samples_goes_on_over_reads_of_any_length() -> None:
    """At a stated rate."""
    clock = CountClock(20.0)
    nothing = np.empty(0)
    times = [clock.advance(np.zeros(n), np.full(n, 1.0)).tolist() for n in (1, 0, 2, 1)]
    assert times == [[0.0], [], [0.05, 0.1], pytest.approx([0.15])]
    assert clock.advance(nothing, nothing).tolist() == []
