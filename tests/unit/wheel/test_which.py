from __future__ import annotations

import numpy as np
import pytest

from calib.wheel.counting import WheelColumn, find_wheel
from tests.wheel_files import counts, hand, levels, ring

REST = -900
"""Readings of the second after the wheel was turned."""


def columns() -> dict[str, np.ndarray]:
    """Ten turns of six magnets, and what else a logger sends meanwhile."""
    time_s, turns = hand(10.0)
    level = levels(ring(6), turns)
    rng = np.random.default_rng(2)
    return {
        "level": level,
        "hall": 20.0 + 980.0 * level + rng.integers(0, 3, len(level)),
        "count": counts(ring(6), turns),
        "clock": np.arange(len(level), dtype=np.float64),
        "still": 512.0 + rng.integers(0, 2, len(level)),
        "drift": np.floor(300.0 + 3.0 * time_s / time_s[-1]),
        "lever": np.round(500.0 + 300.0 * np.sin(0.8 * np.maximum(0.0, time_s - 1.0))),
        "away": np.full(len(level), np.nan),
    }


@pytest.mark.parametrize(("name", "unit"), [("level", "level"), ("hall", "level"),
                                            ("count", "pulses")])  # fmt: skip
def test_pulses_tell_the_wheels_column(name: str, unit: str) -> None:
    """A switch's level, a sensor's volts in counts, a running count: each by itself."""
    sent = {key: values for key, values in columns().items()
            if key == name or key not in ("level", "hall", "count")}  # fmt: skip
    rows = np.column_stack(list(sent.values()))
    (found,) = find_wheel(rows[:REST], rows[REST:], (list(sent).index("clock"),))
    assert (list(sent)[found.index], found.unit) == (name, unit)
    assert found.pulses == pytest.approx(60, abs=1)


def test_a_count_comes_before_the_level_that_it_counts() -> None:
    """Both are found, and the one that hides nothing stands first."""
    sent = columns()
    rows = np.column_stack([sent["level"], sent["count"]])
    assert [each.unit for each in find_wheel(rows[:REST], rows[REST:], ())] == ["pulses", "level"]


def test_a_nudge_is_no_wheel() -> None:
    """Fewer than five pulses say nothing, and neither does a column that counts at rest."""
    count = np.repeat([0.0, 1.0, 2.0, 3.0], 300)
    found: list[WheelColumn] = find_wheel(count[:-100, None], count[-100:, None], ())
    assert found == []
    counting = np.arange(1000.0)
    assert find_wheel(counting[:REST, None], counting[REST:, None], ()) == []
