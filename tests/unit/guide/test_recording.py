from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.errors import NoDataError, UsageError
from calib.guide.capturing import capture_until
from calib.guide.recording import Recording, gauge_for, gauges_for
from calib.store.capture import read_capture
from tests.hands import (
    NOON,
    NotingPerson,
    ScriptedLine,
    SteppingClock,
    as_samples,
    make_rig,
    pressed,
)


def test_a_recording_ends_after_its_time(tmp_path: Path) -> None:
    """Device time counts, so a fast replay ends at the same sample as a live line."""
    rig = make_rig(tmp_path)
    gauges = gauges_for(rig, ["a0"], ["throttle"])
    observer = Recording(NotingPerson(), gauges, duration_s=2.0, clock=SteppingClock())
    line = ScriptedLine(pressed())
    path = capture_until(line, rig, tmp_path, observer, command="record", now=NOON)
    assert read_capture(path).time_s[-1] == pytest.approx(2.0, abs=0.1)


def test_a_gauge_keeps_the_extremes_and_knows_its_age(tmp_path: Path) -> None:
    """A line that has gone silent must look silent."""
    gauge = gauge_for(make_rig(tmp_path), ["a0"], "throttle")
    gauge.look(as_samples(np.array([1.0, 4.0, 2.0])), now_s=10.0)
    later = gauge.look(as_samples(np.empty(0)), now_s=12.5)
    assert (later.low, later.value, later.high) == (1.0, 2.0, 4.0)
    assert later.age_s == pytest.approx(2.5)


def test_a_channel_that_the_line_does_not_carry_is_refused(tmp_path: Path) -> None:
    """The hint names what the logger does send."""
    with pytest.raises(UsageError, match="it sends: b0, b1"):
        gauge_for(make_rig(tmp_path), ["b0", "b1"], "throttle")


def test_a_line_without_a_sample_is_no_capture(tmp_path: Path) -> None:
    """Nothing decodable came: exit code 3, and the file with the rejected lines is named."""
    rig = make_rig(tmp_path)
    observer = Recording(NotingPerson(), [], clock=SteppingClock())
    line = ScriptedLine(np.empty(0))
    with pytest.raises(NoDataError, match="before one sample") as ended:
        capture_until(line, rig, tmp_path, observer, command="record", now=NOON)
    assert ended.value.exit_code == 3
