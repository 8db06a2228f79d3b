"""Dead bands against common practice, plateaus against independent libraries and recordings."""

from __future__ import annotations

import csv
import itertools
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.checks.travel.two_track import refresh_rows, track_agreement
from calib.controls.travel import measure_travel
from calib.measure.plateaus import find_plateaus
from tests.bench.hands import Hand, work
from tests.hands import COUNT_RIG, as_capture, make_rig, pressed
from tests.tools import OPEN_DATA, require_library


@pytest.mark.parametrize(("rest_V", "full_V", "start_V"), [(0.86, 3.9, 0.95), (0.83, 3.9, 0.93)])
def test_dead_band_of_common_practice(
    tmp_path: Path, rest_V: float, full_V: float, start_V: float
) -> None:
    """A quiet 10-bit logger, known to 1 %, comes within 0.02 V of both starts.

    The end is full travel less at most 0.10 V.

    Source: common practice, no source.
    """
    rig = make_rig(tmp_path, COUNT_RIG)
    counts = np.floor(pressed(rest_V=rest_V, full_V=full_V) * 1024.0 / 5.0)
    document = judge_travel(
        as_capture(tmp_path, rig, counts), rig, "throttle", TravelSettings(), ()
    )
    band = document.dead_band
    assert band is not None
    assert band.start == pytest.approx(start_V, abs=0.02)
    assert full_V - 0.10 <= band.end <= full_V


def test_plateau_borders_agree_with_a_change_point_library() -> None:
    """Between the same two levels our borders lie within 30 ms of an independent search's.

    Source: the package ruptures (dynamic programming with a known number of changes).
    """
    ruptures = require_library("ruptures")
    worked = work(
        Hand(presses=2, rate_hz=100.0, move_s=(0.08, 0.1), hold_s=(0.4, 0.8), linear=True),
        np.random.default_rng(61),
    )
    found = find_plateaus(worked.time_s, worked.volts, lsb=0.005).found
    changes = ruptures.Dynp(model="l2", min_size=5, jump=1).fit(worked.volts).predict(n_bkps=4)
    assert len(found) == 5
    middles = [0.5 * (before.stop + after.first) for before, after in itertools.pairwise(found)]
    # The library puts one change into the middle of each movement.
    assert np.abs(np.array(middles) - np.array(changes[:-1])).max() <= 0.03 * 100.0


def test_plateaus_of_a_runner() -> None:
    """The stages of a recorded run are found as plateaus of the smoothed pace, all but a few.

    Source: Turing Change Point Dataset, run_log, with the app's own stage changes (MIT licence).
    """
    rows = _recording("run_log/run_log.csv")
    pace = np.array([float(row["Pace"]) for row in rows])
    # Pace is a jittery quotient: a running median of nine readings is what a person would look at.
    padded = np.pad(pace, 4, mode="edge")
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(padded, 9), axis=1)
    # Its clock is read as if it were ten times a second, because our windows are made for hands.
    found = find_plateaus(np.arange(len(smooth)) / 50.0, smooth).found
    changes = [60, 96, 114, 174, 204, 240, 258, 317]
    crossing = [
        (plateau.first, plateau.stop, change)
        for plateau in found
        for change in changes
        if plateau.first + 3 < change < plateau.stop - 3
    ]
    fast = [plateau for plateau in found if plateau.level < 11.0]
    assert not crossing
    assert len({sum(change <= p.first + 3 for change in changes) for p in fast}) >= 4


def test_two_tracks_of_a_car_pedal() -> None:
    """Forward-filled tracks read one after the other agree, and are called too slow for 100 ms.

    Read row by row they seem up to 55 % apart, though both only wait for their turn.
    Source: Automotive OBD-II Dataset, KIT 2023, DOI 10.35097/1130 (CC BY 4.0).
    """
    rows = _recording("pedal_two_track/recording.csv")
    names = [f"Accelerator Pedal Position {track} [%]" for track in ("D", "E")]
    full = [row for row in rows if all(row[name] for name in names)]
    time_s = np.array([_seconds(row["Time"]) for row in full])
    first, second = (np.array([float(row[name]) for row in full]) for name in names)
    assert np.abs(first - second).max() > 50.0
    assert (refresh_rows(first), refresh_rows(second)) == (10, 10)
    agreement = track_agreement(time_s, first, second, most_pct=10.0, longest_s=0.1)
    assert not agreement.judged
    assert agreement.skew_s == pytest.approx(0.9, abs=0.1)
    assert agreement.failures == 0
    # A flick between two refreshes is seen by one track only, for one refresh.
    assert agreement.longest_s < agreement.skew_s + 0.1


@pytest.mark.parametrize(("track", "mode_pct"), [("D", 14.1), ("E", 14.5)])
def test_a_driven_pedal_rests_where_it_mostly_is(track: str, mode_pct: float) -> None:
    """A quarter of an hour of traffic: rest near the most frequent reading, no drop-out.

    Most of its presses are half ones, and they are told apart from the few that go farthest.
    Source: as `test_two_tracks_of_a_car_pedal`, the mode from the recording's own description.
    """
    name = f"Accelerator Pedal Position {track} [%]"
    rows = [row for row in _recording("pedal_two_track/recording.csv") if row[name]]
    time_s = np.array([_seconds(row["Time"]) for row in rows])
    found = measure_travel(time_s, np.array([float(row[name]) for row in rows]) / 20.0)
    assert found.rest is not None
    assert 20.0 * found.rest.mean == pytest.approx(mode_pct, abs=1.2)
    assert (found.hand.reversed, found.dropouts, found.hand.plateaus.fast_enough) == (
        False,
        0,
        False,
    )
    assert found.hand.half > 5 * found.hand.count > 0


def _seconds(clock: str) -> float:
    moment = datetime.strptime(clock, "%H:%M:%S.%f")  # noqa: DTZ007 - a time of day has no zone
    return moment.hour * 3600.0 + moment.minute * 60.0 + moment.second + moment.microsecond / 1e6


def _recording(name: str) -> list[dict[str, str]]:
    path = OPEN_DATA / name
    if not path.is_file():
        pytest.skip(f"the open recording {name} is not beside the project")
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))
