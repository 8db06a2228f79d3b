"""Which voltages a supply can put on a wire, and in which words one that it cannot is told."""

from __future__ import annotations

import numpy as np
import pytest

from calib.controls.bend import curve_through
from calib.controls.presses import count_presses
from calib.controls.supply import Supply


@pytest.mark.parametrize(
    ("volts", "holds", "words"),
    [(-0.001, False, "below 0 V"), (0.0, True, ""), (0.8, True, ""),
     (0.801, False, "above the supply (0.8 V, logged)")],
)  # fmt: skip
def test_a_wire_lies_between_ground_and_its_supply(volts: float, holds: bool, words: str) -> None:
    """Both are on it; a supply that is nearly off holds next to nothing."""
    supply = Supply(0.8, "logged")
    assert supply.holds(volts) is holds
    if words:
        assert supply.beyond(volts) == words


def test_what_nobody_states_is_five_volts() -> None:
    """And that it is assumed is said."""
    assert Supply().holds(5.0)
    assert Supply().beyond(5.1) == "above the supply (5 V, assumed)"


@pytest.mark.parametrize(("third_V", "curve"), [(2.0, False), (2.001, True)])
def test_true_volts_that_stand_still_have_no_curve(third_V: float, curve: bool) -> None:
    """They must rise from each reading to the next."""
    logger_V = np.array([1.0, 2.0, 2.5, 3.0, 4.0])
    true_V = np.array([1.0, 2.0, third_V, 3.0, 4.0])
    rows = curve_through(logger_V, true_V, np.full(5, 0.001), 0.0)
    assert (rows is not None) is curve


def test_a_control_that_is_held_to_the_last_reading_is_away_until_then() -> None:
    """Neither the press nor the release of what the record ends in is counted."""
    share = np.concatenate([np.zeros(100), np.linspace(0, 1, 30), np.ones(80),
                            np.linspace(1, 0, 12), np.zeros(100), np.linspace(0, 1, 30),
                            np.ones(60)])  # fmt: skip
    time_s = np.arange(len(share)) / 100.0
    told = count_presses(time_s, np.asarray(1.0 + 3.0 * share, dtype=np.float64))
    assert (told.count, told.half, told.released, told.starts_at_rest) == (1, 0, False, True)
    assert len(told.away_s) == 2
    assert told.away_s[1][1] == time_s[-1]
    assert told.away_s[0][1] < told.away_s[1][0] < time_s[-60]
