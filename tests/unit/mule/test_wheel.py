from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calib.errors import UsageError
from calib.mule import faults, hands
from calib.mule.bench import CHANNELS, Bench, draw_bench
from calib.mule.rigfile import columns_of, rig_text
from calib.mule.sampler import Sampler
from calib.mule.stage import Stage
from calib.mule.wheel import Tyre, Wheel, draw_ring

MAGNETS = 6


def bench(unit: str = "level", kind: str = "quiet") -> Bench:
    """A bench with a wheel of six magnets."""
    ring = draw_ring(np.random.default_rng(4), MAGNETS, uneven=0.03)
    wheel = Wheel(ring, "pulses" if unit == "pulses" else "level")
    return replace(draw_bench(3, kind), wheel=wheel)


def column(of: Bench) -> np.ndarray:
    """The wheel's column while it is turned ten times."""
    stage = Stage(of)
    hands.wheel(stage)
    return Sampler(stage).block(round(stage.cursor_s * of.logger.rate_hz)).counts[:, -1]


def rises(level: np.ndarray) -> int:
    """How often it rises."""
    return int((np.diff(level) > 0).sum())


def test_a_bench_without_a_wheel_sends_what_it_always_sent() -> None:
    """One column more, and only where a sensor is wired."""
    plain = draw_bench(3)
    assert columns_of(plain) == columns_of(replace(plain, wheel=None))
    assert columns_of(bench())[-1] == "wheel"
    assert Sampler(Stage(plain)).block(5).counts.shape == (5, len(CHANNELS))
    assert "[channels.wheel]" not in rig_text(plain, "/dev/null")


def test_ten_turns_of_six_magnets_are_sixty_pulses() -> None:
    """As levels and as a count, within the one that a hand's stop may cost."""
    assert rises(column(bench())) == pytest.approx(60, abs=1)
    assert column(bench("pulses"))[-1] == pytest.approx(60, abs=1)


@settings(max_examples=10, deadline=None)
@given(st.lists(st.integers(1, 900), min_size=1, max_size=6))
def test_any_split_into_blocks_gives_the_same_numbers(sizes: list[int]) -> None:
    """A reed that bounces too: the device's small blocks and one large one are the same."""
    of = faults.planted("reed-bounces", kinds=faults.ALL_KINDS).on(bench("pulses", "ordinary"))

    def sampler() -> Sampler:
        stage = Stage(of)
        hands.wheel(stage)
        return Sampler(stage)

    whole = sampler().block(sum(sizes)).counts
    parts = sampler()
    assert np.array_equal(whole, np.concatenate([parts.block(size).counts for size in sizes]))


def test_each_fault_does_what_it_says() -> None:
    """Fewer pulses, narrower, twice as many, more changes, none, a lower wrap, a falling count."""

    def with_fault(kind: str, unit: str = "level") -> np.ndarray:
        return column(faults.planted(kind, kinds=faults.ALL_KINDS).on(bench(unit)))

    sound = column(bench())
    assert rises(with_fault("magnet-missing")) == pytest.approx(50, abs=1)
    assert with_fault("magnet-weak").sum() < 0.95 * sound.sum()
    assert rises(with_fault("pulses-double")) == pytest.approx(120, abs=2)
    assert rises(with_fault("reed-bounces")) > 90
    assert set(with_fault("level-stuck").tolist()) == {1}
    assert with_fault("count-wraps").max() <= 63
    falling = with_fault("turned-back", "pulses")
    assert (65536 - falling[-1]) % 65536 == pytest.approx(60, abs=1)


def test_a_wheel_fault_needs_a_wheel() -> None:
    """And is no kind of a bench that may have none."""
    with pytest.raises(UsageError, match="no wheel sensor"):
        faults.planted("magnet-weak", kinds=faults.ALL_KINDS).on(draw_bench(3))
    with pytest.raises(UsageError, match="no fault named"):
        faults.parse("magnet-weak")


def test_a_tyre_under_a_rider_rolls_less_far() -> None:
    """By a third of what it sags, all the way round."""
    tyre = Tyre(300.0, 12.0, 6.0)
    assert tyre.circumference_mm(seated=False) == pytest.approx(2.0 * math.pi * 296.0)
    shorter = tyre.circumference_mm(seated=False) - tyre.circumference_mm(seated=True)
    assert shorter == pytest.approx(4.0 * math.pi)
