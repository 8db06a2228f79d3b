"""What of a stay and of a return is measured where a record is broken or a stay is brief."""

from __future__ import annotations

import numpy as np
import pytest

from calib.checks.travel.two_track import TrackAgreement, track_agreement
from calib.controls.travel import measure_travel
from tests.unit.controls.test_travel_measurement import PRESS, drawn, measured


@pytest.mark.parametrize(
    ("gap", "returns"), [(460, 1), (461, 0), (480, 0), (500, 0), (501, 0), (600, 1)]
)
def test_a_return_in_which_a_reading_is_missing_is_not_timed(gap: int, returns: int) -> None:
    """From the reading behind the last one that was held to the first one at rest."""
    volts = drawn(*PRESS)
    found = measure_travel(np.arange(len(volts)) / 200.0, volts, gaps=[gap])
    assert found.hand.count == 1
    assert len(found.returns_s) == returns


@pytest.mark.parametrize(
    ("held", "kept"), [(16, 12), (23, 19), (24, 18), (31, 25), (32, 24), (60, 52)]
)
def test_an_eighth_of_a_brief_stay_is_left_out_at_either_end(held: int, kept: int) -> None:
    """And of a long one a fiftieth of a second, for the hand that comes and goes."""
    found = measured(drawn(*PRESS, (60, 1.0), (held - 1, 1.0), (40, 0.0), (200, 0.0)))
    assert found.full is not None
    assert [len(stay.readings) for stay in found.full.stays] == [193, kept]


def test_without_both_ends_there_is_no_span() -> None:
    """A press that turned round at the stop leaves the level of rest alone."""
    found = measured(drawn((60, 1.0), (40, 0.0), (200, 0.0)))
    assert found.rest is not None
    assert found.full is None
    assert found.span_V is None
    assert (found.return_median_s, found.return_max_s) == (None, None)
    assert measured(drawn(*PRESS)).span_V == pytest.approx(3.0, abs=0.001)


def test_one_reading_is_nothing_to_compare() -> None:
    """Two tracks of it neither agree nor fail."""
    one = np.array([50.0])
    found = track_agreement(np.array([0.0]), one, one + 40.0, most_pct=10.0, longest_s=0.1)
    assert found == TrackAgreement(0.0, 0.0, 0, 0.0, judged=False)
