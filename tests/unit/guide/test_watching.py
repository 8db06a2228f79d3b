from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from calib.errors import StoppedError
from calib.guide.recording import gauges_for
from calib.guide.watching import BIN_S, BINS, Paced, Past, Rate, View, Watching, watch
from calib.store.samples import Event, EventKind, RejectedLine, Samples
from tests.hands import ScriptedLine, SteppingClock, as_samples, make_rig, pressed


def watcher(folder: Path, seen: list[View], duration_s: float = math.inf) -> Watching:
    """A watcher of one throttle whose views are kept in ``seen``."""
    rig = make_rig(folder)
    gauges = gauges_for(rig, ["a0"], ["throttle"])
    return Watching(gauges, seen.append, duration_s, clock=SteppingClock(0.02))


def test_the_view_has_newest_value_extremes_and_rate(tmp_path: Path) -> None:
    """What a person reads off the screen is what was sent."""
    watching = watcher(tmp_path, [])
    volts = pressed(presses=2, noise_V=0.0)
    watch(ScriptedLine(volts), watching)
    view = watching.view
    reading = view.traces[0].reading
    assert (reading.low, reading.high, reading.value) == (1.05, 4.2, 1.05)
    assert view.rate_hz == pytest.approx(100.0)
    assert view.samples == len(volts)


def test_twenty_views_a_second_are_shown_however_often_the_line_speaks(tmp_path: Path) -> None:
    """The screen is not redrawn for every run of samples."""
    seen: list[View] = []
    watching = watcher(tmp_path, seen)
    for start in range(100):  # the clock goes on by 0.02 s at each: two seconds in all
        watching(as_samples(np.full(5, 1.0), start=5 * start))
    assert 30 <= len(seen) <= 41


def test_the_shortest_drop_out_leaves_its_mark() -> None:
    """One sample at 0 V in a quarter of a second of 1.05 V is seen in the last seconds."""
    volts = np.full(400, 1.05)
    volts[310] = 0.0
    past = Past()
    for start in range(0, 400, 10):
        past.look(np.arange(start, start + 10) / 100.0, volts[start : start + 10])
    assert past.bins.count(0.0) == 1


def test_the_past_is_bounded() -> None:
    """However long it runs, only the last bins are kept."""
    past = Past()
    past.look(np.arange(0.0, 500.0, BIN_S / 5), np.zeros(round(500 * 5 / BIN_S)))
    assert len(past.bins) == BINS


def test_the_rate_follows_a_logger_that_slows_down() -> None:
    """Two seconds after the change the figure is the new one."""
    rate = Rate()
    samples = 0
    for time_s in np.arange(0.0, 5.0, 0.01):
        samples += 1
        rate.look(float(time_s), samples)
    for time_s in np.arange(5.0, 8.0, 0.05):
        samples += 1
        rate.look(float(time_s), samples)
    assert rate.rate_hz == pytest.approx(20.0, rel=0.05)


def test_rejected_lines_gaps_and_restarts_are_counted(tmp_path: Path) -> None:
    """Odd things are told while one looks on."""
    watching = watcher(tmp_path, [])
    samples = as_samples(np.array([1.0, 1.0]))
    watching(
        Samples(
            time_s=samples.time_s,
            arrival_s=samples.arrival_s,
            values=samples.values,
            rows=samples.rows,
            rejected=[RejectedLine(b"?", "no number")],
            events=[
                Event(kind=EventKind.GAP, time_s=0.0, text="gap"),
                Event(kind=EventKind.RESET, time_s=0.0, text="banner"),
            ],
        )
    )
    view = watching.view
    assert (view.rejected_lines, view.gaps, view.resets) == (1, 1, 1)


def test_it_ends_after_its_time(tmp_path: Path) -> None:
    """Device time counts."""
    watching = watcher(tmp_path, [], duration_s=1.0)
    watch(ScriptedLine(pressed()), watching)
    assert watching.view.elapsed_s == pytest.approx(1.0, abs=0.1)


def test_ctrl_c_is_a_stop_not_a_crash(tmp_path: Path) -> None:
    """The exit code is that of a stop."""
    line = ScriptedLine(pressed(presses=1), fails_with=KeyboardInterrupt())
    with pytest.raises(StoppedError, match="Stopped by Ctrl-C") as stopped:
        watch(line, watcher(tmp_path, []))
    assert stopped.value.exit_code == 130


def test_a_replay_comes_as_fast_as_its_clock_ran() -> None:
    """Two seconds of log at double speed are waited for one second, and nothing is lost."""
    now_s = [0.0]

    def sleep(seconds: float) -> None:
        now_s[0] += seconds

    line = ScriptedLine(np.arange(200.0), run=200)
    paced = Paced(line, speed=2.0, clock=lambda: now_s[0], sleep=sleep)
    values = np.concatenate([samples.values[:, 0] for samples in paced.blocks()])
    assert values.tolist() == list(range(200))
    assert now_s[0] == pytest.approx(1.0, abs=0.06)
