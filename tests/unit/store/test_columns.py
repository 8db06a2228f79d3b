"""Numbers that cannot be in the unit that the rig file declares."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.errors import UsageError
from calib.store.columns import refuse_wrong_gravity, refuse_wrong_unit
from calib.store.rig import Channel, Link, Rig, RigNotes, Tilt, Time

COUNT = Channel(role="control", column="a", unit="count", full_scale=1024, reference_V=5.0)


def rig_with(channel: Channel) -> Rig:
    """A rig with one channel."""
    return Rig(
        path=Path("rig.toml"), sha256="", rig=RigNotes(), link=Link(), time=Time(),
        channels={"throttle": channel}, tilt=Tilt(),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("values", "unit"),
    [((0.21, 0.805), "share"), ((1.07, 3.62), "V"), ((21.4, 80.5), "percent")],
)
def test_counts_with_fractions_are_refused(values: tuple[float, float], unit: str) -> None:
    """A count is a whole number; the refusal names the unit that the numbers look like."""
    with pytest.raises(UsageError, match=f"have fractions.*'{unit}' by the look"):
        refuse_wrong_unit(rig_with(COUNT), "throttle", np.array(values))


def test_counts_above_full_scale_are_refused() -> None:
    """Numbers above full scale are no counts of it: millivolts, by the look of them."""
    with pytest.raises(UsageError, match=r"go above full_scale = 1024, such as 3620: 'mV'"):
        refuse_wrong_unit(rig_with(COUNT), "throttle", np.array([1070.0, 3620.0]))


def test_a_share_above_the_whole_is_refused() -> None:
    """A share of 80 is a percent, and a percent of 820 a count."""
    share = Channel(role="control", column="a", unit="share", reference_V=5.0)
    with pytest.raises(UsageError, match=r"above the whole, such as 80.5: 'percent'"):
        refuse_wrong_unit(rig_with(share), "throttle", np.array([21.4, 80.5]))
    percent = Channel(role="control", column="a", unit="percent")
    with pytest.raises(UsageError, match=r"above the whole, such as 820: 'count'"):
        refuse_wrong_unit(rig_with(percent), "throttle", np.array([210.0, 820.0]))


def test_a_garbled_line_now_and_then_is_no_unit() -> None:
    """One odd number in hundreds, and missing ones, do not speak against the unit."""
    values = np.full(500, 512.0)
    values[[3, 7]] = 512.5, np.nan
    refuse_wrong_unit(rig_with(COUNT), "throttle", values)


@pytest.mark.parametrize(
    ("length", "guess"), [(9.8, "m/s2"), (1003.0, "mg"), (16384.0, "some 16384 of them a g")]
)
def test_forces_that_are_no_g_are_named(length: float, guess: str) -> None:
    """An accelerometer whose |a| is far above one g gets the unit that it looks like."""
    axis = Channel(role="accel-x", column="a", unit="g")
    force = np.tile([0.0, 0.0, length], (20, 1))
    with pytest.raises(UsageError, match=f"at rest it shows one.*{guess}"):
        refuse_wrong_gravity(rig_with(axis), ("throttle",), force, force)
    refuse_wrong_gravity(rig_with(axis), ("throttle",), force, force / length)
