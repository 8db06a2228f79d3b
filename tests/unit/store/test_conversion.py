"""From numbers as received to base units: shares, curves, signs."""

from __future__ import annotations

import numpy as np
import pytest

from calib.store.conversion import base_unit, rails, step, to_base
from calib.store.rig import Channel, Scale

CURVED = Scale(
    gain=1.0, offset_V=0.0, u_gain=0.001, u_offset_V=0.001, cov=0.0, date="2026-11-25",
    from_V=1.0, to_V=3.0, curve=((1.0, 1.0, 0.002), (2.0, 2.2, 0.002), (3.0, 3.0, 0.002)),
)  # fmt: skip


def test_a_share_of_full_scale_has_no_half_count() -> None:
    """Percent and share of a stated whole become volts without the half count of a converter."""
    half = np.array([50.0])
    percent = Channel(role="control", column="a", unit="percent", reference_V=5.0)
    share = Channel(role="control", column="a", unit="share", reference_V=5.0, divider=2.0)
    assert base_unit(percent) == base_unit(share) == "V"
    assert to_base(percent, half) == pytest.approx([2.5], abs=1e-12)
    assert to_base(share, half / 100.0) == pytest.approx([5.0], abs=1e-12)
    assert step(percent) is None


def test_a_share_without_volts_stays_a_share() -> None:
    """Without reference_V a percent is a percent, and a share is a percent of the whole."""
    percent = Channel(role="control", column="a", unit="percent")
    share = Channel(role="control", column="a", unit="share")
    assert base_unit(percent) == base_unit(share) == "%"
    assert to_base(percent, np.array([12.5])) == pytest.approx([12.5])
    assert to_base(share, np.array([0.125])) == pytest.approx([12.5])


def test_a_curve_is_followed_and_goes_on_straight() -> None:
    """Between two rows the curve is straight; beyond its ends the last piece goes on."""
    channel = Channel(role="control", column="a", unit="V", scale=CURVED)
    read = to_base(channel, np.array([0.5, 1.0, 1.5, 2.5, 3.0, 3.5]))
    assert read == pytest.approx([0.4, 1.0, 1.6, 2.6, 3.0, 3.4])


def test_rails_are_on_the_curve() -> None:
    """The ends that a converter can give are those that the curve makes of them."""
    channel = Channel(
        role="control", column="a", unit="count", full_scale=8, reference_V=4.0, scale=CURVED
    )
    assert rails(channel) == pytest.approx(tuple(to_base(channel, np.array([0.0, 7.0]))))


def test_an_axis_may_count_the_other_way() -> None:
    """The sign of an accelerometer's axis turns the reading over, in counts and in g."""
    counts = Channel(
        role="accel-z", column="z", unit="count", counts_per_g=16384, zero_count=100, sign=-1
    )
    assert to_base(counts, np.array([-16284.0])) == pytest.approx([1.0])
    assert step(counts) == pytest.approx(1.0 / 16384)
    metric = Channel(role="accel-z", column="z", unit="m/s2", sign=-1)
    assert to_base(metric, np.array([-9.80665])) == pytest.approx([1.0])
