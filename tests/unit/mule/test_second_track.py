"""A throttle with two sensors on the simulated bench: for who asks for it, and for nobody else."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.checks.bench.judgement import judge_check
from calib.errors import UsageError
from calib.mule import faults
from calib.mule.bench import draw_bench
from calib.store.documents.finding import Severity
from tests.bench.mule_captures import capture_of, rig_for
from tests.second_track import SECOND_TRACK, planted_on_any, with_second_track


def test_the_second_track_follows_the_first_at_half_scale(tmp_path: Path) -> None:
    """One shaft, two sensors: half the volts, the same way round, and the rig file says so."""
    bench = with_second_track(draw_bench(3))
    rig = rig_for(bench, tmp_path)
    assert rig.channel("throttle").second_track == SECOND_TRACK
    assert set(rig.worked_controls()) == {"throttle"}
    capture = capture_of(bench)
    first, second = capture.values["a0"], capture.values["a1"]
    assert np.ptp(second) == pytest.approx(0.5 * np.ptp(first), rel=0.05)
    assert np.corrcoef(first, second)[0, 1] > 0.99


@pytest.mark.parametrize("make", ["quiet", "ordinary", "noisy"])
def test_a_sound_second_track_is_no_dying_sensor(make: str, tmp_path: Path) -> None:
    """Half the span passes; only that there is no record to compare with is told."""
    bench = with_second_track(draw_bench(5, make))
    document = judge_check(capture_of(bench), rig_for(bench, tmp_path), ())
    told = {each.code for each in document.findings if each.severity is not Severity.PASS}
    assert told == {"no-record"}
    assert "tracks-agree" in {each.code for each in document.findings}


def test_a_slipped_second_track_is_told_by_the_first(tmp_path: Path) -> None:
    """Both ends of its own travel are right, and in between it is elsewhere."""
    sound = with_second_track(draw_bench(5))
    bench = planted_on_any("second-track-slipped", 2).on(sound)
    document = judge_check(capture_of(bench), rig_for(sound, tmp_path), ())
    assert document.findings[0].code == "tracks-disagree"
    assert document.findings[0].channel == SECOND_TRACK


def test_no_command_gives_such_a_fault_to_a_bench_without_it() -> None:
    """Their benches have a lever there."""
    with pytest.raises(UsageError, match="no fault named"):
        faults.parse("second-track-slipped:2")
