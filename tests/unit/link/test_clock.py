from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from calib.link.clock import EVENTS_NOTED, ArrivalClock, CountClock, DeviceClock, on_a_grid
from calib.store.samples import Event, EventKind


def run(
    clock: DeviceClock, raw: list[float], arrival_s: list[float] | None = None, *cuts: int
) -> tuple[NDArray[np.float64], list[Event]]:
    """Times and events of counts given in pieces."""
    counts = np.array(raw, dtype=np.float64)
    waits = np.full(len(raw), np.nan) if arrival_s is None else np.array(arrival_s)
    edges = [0, *sorted(min(cut, len(raw)) for cut in cuts), len(raw)]
    times = [clock.advance(counts[a:b], waits[a:b]) for a, b in itertools.pairwise(edges)]
    return np.concatenate(times), clock.take_events(final=True)


def test_time_starts_at_the_first_sample_in_seconds() -> None:
    """Counts become seconds from the first one."""
    times, events = run(DeviceClock(1e-3), [5000, 5010, 5020])
    assert times.tolist() == pytest.approx([0, 0.01, 0.02])
    assert events == []


@pytest.mark.parametrize(("modulus", "unit_s"), [(2.0**16, 1e-3), (2.0**32, 1e-3), (2.0**32, 1e-6)])
def test_a_counter_that_wraps_is_undone(modulus: float, unit_s: float) -> None:
    """A 16- or 32-bit counter passes its end as if it had none."""
    raw = [(modulus - 45 + 10 * place) % modulus for place in range(40)]
    times, events = run(DeviceClock(unit_s, modulus), raw)
    assert times == pytest.approx(10 * unit_s * np.arange(40))
    assert events == []


def test_turns_missed_in_a_long_silence_are_counted_by_arrival() -> None:
    """A 16-bit millisecond counter turns in 65.5 s; over 200 s arrival says how often."""
    raw = [float(10 * place) for place in range(20)]
    arrival = [0.01 * place for place in range(20)]
    later = (190 + 200_000) % 65536
    times, events = run(
        DeviceClock(1e-3, 65536), [*raw, later, later + 10], [*arrival, 200.21, 200.22]
    )
    assert times[-2] - times[-3] == pytest.approx(200.0)
    assert [event.kind for event in events] == [EventKind.GAP]


def test_a_step_back_without_a_wrap_is_a_reset_and_is_never_joined() -> None:
    """A device that starts again is told, and the new stretch comes after the old by arrival."""
    raw = [*range(1000, 1200, 10), *range(0, 100, 10)]
    arrival = [0.01 * place for place in range(20)] + [2.0 + 0.01 * place for place in range(10)]
    times, events = run(DeviceClock(1e-3, 2.0**32), [float(x) for x in raw], arrival)
    assert [event.kind for event in events] == [EventKind.RESET]  # its silence is no gap besides
    resets = events
    assert "went back by 1.190 s" in resets[0].text
    assert times[20] - times[19] == pytest.approx(1.81)
    assert (np.diff(times) > 0).all()


def test_gaps_are_told_even_before_the_usual_step_is_known() -> None:
    """A gap among the first samples is found once the usual step is."""
    raw = [0.0, 10, 20, 70, *range(80, 400, 10)]
    _, events = run(DeviceClock(1e-3), raw)
    (gap,) = events
    assert gap.kind is EventKind.GAP
    assert (gap.time_s, gap.duration_s) == pytest.approx((0.02, 0.05))


def test_a_step_of_two_is_no_gap() -> None:
    """Exactly twice the usual step is not above it."""
    raw = [*np.arange(0, 300, 10.0), 310.0, 320.0]
    assert run(DeviceClock(1e-3), raw)[1] == []


def test_a_run_of_repeats_is_one_event() -> None:
    """A clock that stands still is told once, not at every sample."""
    raw = [*np.arange(0, 300, 10.0), *[290.0] * 50, *np.arange(300, 400, 10.0)]
    _, events = run(DeviceClock(1e-3), raw, None, 35, 60)
    assert [event.kind for event in events] == [EventKind.REPEAT]


def test_a_broken_line_is_bridged_by_arrival() -> None:
    """After unplugging, the time between is what the computer saw pass."""
    clock = DeviceClock(1e-3)
    clock.advance(np.arange(0, 300, 10.0), np.linspace(0, 0.29, 30))
    clock.interrupt()
    times = clock.advance(np.array([5.0, 15.0]), np.array([4.29, 4.30]))
    assert times.tolist() == pytest.approx([4.29, 4.30])


def test_a_mad_clock_cannot_fill_memory_and_is_counted() -> None:
    """Events kept one by one are bounded; the last stands for all others, so that none is lost."""
    raw = [float(place % 2) * 5000 for place in range(4 * EVENTS_NOTED)]
    _, events = run(DeviceClock(1e-3), raw)
    assert len(events) == EVENTS_NOTED + 1
    assert events[-1].text.endswith("more of this kind")
    resets = [event.count for event in events if event.kind is EventKind.RESET]
    assert sum(resets) == 2 * EVENTS_NOTED - 1


def test_a_small_step_back_is_out_of_order_and_no_new_start() -> None:
    """A host that sets its clock back by some milliseconds makes time stand still, not jump."""
    raw = [1000.0, 1010, 1020, 1030, 1024, 1034, 1044, 1054, *range(1064, 1400, 10)]
    times, events = run(DeviceClock(1e-3), raw)
    assert {event.kind for event in events} == {EventKind.REPEAT}
    assert "out of order" in events[0].text
    assert times[:7] == pytest.approx([0, 0.01, 0.02, 0.03, 0.03, 0.034, 0.044])


def test_midnight_is_no_new_start() -> None:
    """A time of day goes on past midnight, even where nothing was sent for some minutes."""
    raw = [86_399.5, 86_399.75, 0.0, 0.25, 300.25, 300.5]
    times, events = run(DeviceClock(1.0, wall=True), raw)
    assert times.tolist() == pytest.approx([0, 0.25, 0.5, 0.75, 300.75, 301.0])
    assert EventKind.RESET not in {event.kind for event in events}


def test_a_wall_clock_that_is_set_back_is_told() -> None:
    """An hour back, as in autumn, is no midnight: the stretches are joined by one usual step."""
    raw = [3600.0 * 3 + 0.1 * n for n in range(30)] + [3600.0 * 2 + 0.1 * n for n in range(30)]
    times, events = run(DeviceClock(1.0, wall=True), raw)
    assert [event.kind for event in events] == [EventKind.RESET]
    assert "set back" in events[0].text
    assert np.diff(times) == pytest.approx(np.full(59, 0.1))


def test_a_missing_stamp_is_that_of_the_sample_before() -> None:
    """A row without its time is a row all the same."""
    times, _ = run(DeviceClock(1e-3), [np.nan, 10, np.nan, 30, 40])
    assert times.tolist() == pytest.approx([0, 0, 0, 0.02, 0.03])


def test_bursts_are_not_told_as_gaps_while_they_come() -> None:
    """Stamps in bursts of four are ragged: whoever looks on hears of no gap, nor of repeats."""
    stamps = np.repeat(40.0 * np.arange(50), 4) + np.tile([0.0, 0.5, 1.0, 1.5], 50)
    assert run(DeviceClock(1e-3), stamps.tolist())[1] == []


def test_samples_at_a_stated_rate_are_counted() -> None:
    """At 50 Hz the sixth sample is a tenth of a second in; without a rate, that is said once."""
    stated, unknown = CountClock(50.0), CountClock(None)
    nothing = np.full(6, np.nan)
    assert stated.advance(nothing, nothing)[-1] == pytest.approx(0.1)
    assert stated.take_events() == []
    unknown.advance(nothing, nothing)
    assert [event.kind for event in unknown.take_events()] == [EventKind.NO_CLOCK]
    assert unknown.take_events(final=True) == []


STEPS = st.lists(
    st.sampled_from([10.0] * 12 + [0.0, 30.0, -500.0, 65000.0, -65526.0]), min_size=1, max_size=80
)


@given(STEPS, st.lists(st.integers(0, 80), max_size=8))
def test_any_split_gives_the_same_times_and_events(steps: list[float], cuts: list[int]) -> None:
    """Where the reads fall changes neither a time nor an event."""
    raw = [float(value % 65536) for value in np.cumsum(steps)]
    arrival = (0.01 * np.arange(len(raw))).tolist()
    whole = run(DeviceClock(1e-3, 65536), raw, arrival)
    parts = run(DeviceClock(1e-3, 65536), raw, arrival, *cuts)
    assert parts[0] == pytest.approx(whole[0], abs=1e-9)
    assert [(event.kind, event.text) for event in parts[1]] == [
        (event.kind, event.text) for event in whole[1]
    ]
    assert [event.time_s for event in parts[1]] == pytest.approx(
        [event.time_s for event in whole[1]], abs=1e-9
    )
    assert (np.diff(whole[0]) >= 0).all()


def test_lines_of_one_read_are_spread_over_the_wait() -> None:
    """Without a device clock, a burst of lines did not all happen at its end."""
    times = ArrivalClock().advance(np.empty(0), np.array([1.0, 1.1, 1.1, 1.2]))
    assert times.tolist() == pytest.approx([0, 0.05, 0.1, 0.2])


def test_a_wait_in_arrival_is_a_gap() -> None:
    """Half a second without a line is told."""
    clock = ArrivalClock()
    clock.advance(np.empty(0), np.array([1.0, 1.1]))
    clock.advance(np.empty(0), np.array([2.0, 2.0]))
    (gap,) = clock.take_events()
    assert gap.kind is EventKind.GAP
    assert gap.duration_s == pytest.approx(0.9)


def test_lines_left_out_of_an_even_count_are_gaps_and_no_bursts() -> None:
    """A board that is asked for more than its line carries drops lines, and its times stay even."""
    assert on_a_grid(np.array([2.0, 4.0, 2.0, 6.0, 4.0, 2.0, 8.0]))
    assert not on_a_grid(np.array([9.0, 10.0, 11.0, 10.0]))  # jitter
    assert not on_a_grid(np.array([1.0, 1.0, 38.0, 1.0, 1.0]))  # bursts, in whole milliseconds
    assert not on_a_grid(np.array([2.0, 38.0, 2.0, 38.0]))  # the same, farther apart inside
