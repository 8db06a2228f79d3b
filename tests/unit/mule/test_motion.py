from __future__ import annotations

import numpy as np
import pytest

from calib.mule.stage import Track, eased


def test_track_holds_before_and_after_and_eases_between() -> None:
    """A movement starts and ends where it says and is halfway at half its time."""
    track = Track(0.2)
    track.move(1.0, 2.0, 1.0)
    assert track.at(np.array([0.0, 1.0, 2.0, 3.0, 9.0])) == pytest.approx([0.2, 0.2, 0.6, 1.0, 1.0])


def test_movement_of_no_duration_is_a_step() -> None:
    """A step has its old value just before and its new one just after."""
    track = Track()
    track.move(1.0, 0.0, 5.0)
    assert track.at(np.array([0.999999, 1.000001])) == pytest.approx([0.0, 5.0], abs=1e-5)


def test_a_new_plan_replaces_the_rest_of_the_old() -> None:
    """Breakpoints later than a new plan's start are dropped."""
    track = Track()
    track.move(0.0, 10.0, 1.0)
    track.add(np.array([5.0, 6.0]), np.array([0.5, 0.0]))
    assert track.at(np.array([8.0])) == pytest.approx(0.0)
    assert track.end_s == 6.0


def test_forgetting_changes_nothing_later() -> None:
    """What lies after the mark reads as before; hours of acts leave few breakpoints."""
    track = Track()
    for second in range(100):
        track.move(float(second), 0.5, float(second % 2))
    times_s = np.linspace(97.0, 101.0, 50)
    before = track.at(times_s)
    track.forget(97.0)
    assert track.at(times_s) == pytest.approx(before)


def test_eased_is_a_share() -> None:
    """The share starts at 0, ends at 1 and never turns back."""
    share = eased(np.linspace(0, 1, 101))
    assert (share[0], share[-1]) == (0.0, 1.0)
    assert (np.diff(share) >= 0).all()
