from __future__ import annotations

import pytest

from calib.controls.fault_window import fault_window


def test_thresholds_stand_half_way() -> None:
    """Each threshold is half way between the hand's limit and the reach of the rail."""
    window = fault_window(lowest_V=0.85, highest_V=4.05, supply_V=5.0)
    assert (window.low_V, window.high_V) == pytest.approx((0.55, 4.4))


def test_no_room_no_threshold() -> None:
    """Where a hand comes close to a rail's reach there is no safe threshold on that side."""
    window = fault_window(lowest_V=0.30, highest_V=4.9, supply_V=5.0)
    assert window.low_V is None
    assert window.high_V is None
    assert window.room_high_V < 0.0
