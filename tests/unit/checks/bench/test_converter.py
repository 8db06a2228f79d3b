from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.converter import (
    clipped_findings,
    copies,
    is_frozen,
    standstill,
    stuck_bit,
)
from tests.unit.checks.bench.waves import Floats, counted_signal, noise


def _swept(count: int = 4000, seed: int = 1) -> Floats:
    """Counts of a control that is worked up and down with a little noise."""
    sweep = 500.0 + 350.0 * np.sin(np.linspace(0.0, 40.0, count))
    return np.floor(sweep + noise(count, 0.8, seed))


def test_the_longest_run_of_equal_readings_is_timed() -> None:
    """Fifty equal readings at 100 Hz are half a second."""
    raw = np.concatenate([np.arange(100.0), np.full(50, 7.0), np.arange(100.0)])
    still = standstill(raw, 100.0)
    assert still.count == 50
    assert still.run_s == pytest.approx(0.5)
    assert still.repeats_elsewhere == 0.0


def test_a_flickering_reading_that_stops_is_frozen() -> None:
    """Three seconds without a change, where every other reading changes, is no chance."""
    raw = np.concatenate([np.floor(200 + noise(2000, 0.8)), np.full(300, 201.0)])
    signal = counted_signal(raw)
    still = standstill(raw, 100.0)
    assert is_frozen(signal, still, None)
    assert still.run_s == pytest.approx(3.0, abs=0.1)


def test_a_reading_that_seldom_flickers_is_not_called_frozen() -> None:
    """Where the noise is far below one code, standing still is what a sound reading does."""
    raw = np.full(3000, 200.0)
    raw[::500] = 201.0
    assert not is_frozen(counted_signal(raw), standstill(raw, 100.0), 0.999)


def test_a_reading_that_never_changed_is_frozen_against_its_record() -> None:
    """Frozen from the first sample shows only against what the record says of its flicker."""
    raw = np.full(3000, 200.0)
    signal = counted_signal(raw)
    assert not is_frozen(signal, standstill(raw, 100.0), None)
    assert is_frozen(signal, standstill(raw, 100.0), 0.5)


def test_a_reading_at_the_converter_s_end_is_not_frozen() -> None:
    """There nothing can move: that is clipping or a short, not an old value."""
    raw = np.full(3000, 1023.0)
    assert not is_frozen(counted_signal(raw), standstill(raw, 100.0), 0.5)


@pytest.mark.parametrize(("bit", "value"), [(8, 0), (7, 1), (5, 0), (4, 1)])
def test_a_stuck_bit_is_named_with_its_value(bit: int, value: int) -> None:
    """Whatever bit is stuck at whatever value, that one is named."""
    codes = _swept().astype(np.int64)
    mask = 1 << bit
    spoilt = (codes & ~mask) | (mask if value else 0)
    found = stuck_bit(spoilt.astype(np.float64), least_range=16)
    assert found == (bit, value)


def test_a_sound_sweep_and_a_still_reading_have_no_stuck_bit() -> None:
    """Neither a full sweep nor a reading that never leaves a few codes is accused."""
    assert stuck_bit(_swept(), least_range=16) is None
    assert stuck_bit(np.floor(300 + noise(4000, 0.7)), least_range=16) is None


@pytest.mark.parametrize(("low", "high", "sd"), [(283, 313, 0.6), (0, 335, 8.0)])
def test_a_signal_that_jumps_between_two_levels_has_no_stuck_bit(
    low: float, high: float, sd: float
) -> None:
    """Hum at half the rate of readings leaves out the codes between its levels, not one bit."""
    hum = np.maximum(np.floor(np.tile([low, high], 2000) + noise(4000, sd)), 0.0)
    assert stuck_bit(hum, least_range=16) is None


def test_a_reading_in_volts_has_no_bits() -> None:
    """Fractions are no codes."""
    assert stuck_bit(_swept() + 0.25, least_range=16) is None


def test_a_plateau_at_the_last_code_clips() -> None:
    """Full travel at the converter's end is told with its share."""
    finding = next(
        clipped_findings(counted_signal(_swept()), np.full(100, 1023.0), where="at full travel"),
        None,
    )
    assert finding is not None
    assert finding.value == 100.0
    assert (
        next(clipped_findings(counted_signal(_swept()), np.full(100, 900.0), where="there"), None)
        is None
    )


def test_two_inputs_that_copy_are_told_from_two_that_move_alike() -> None:
    """The same voltage read twice differs by noise alone; half of it does not."""
    first = counted_signal(_swept(seed=1), "throttle")
    second = counted_signal(_swept(seed=2), "regen")
    assert copies(first, second)
    half = counted_signal(np.floor(_swept() * 0.93), "regen")
    assert not copies(first, half)


def test_two_still_inputs_are_not_said_to_copy() -> None:
    """Two rests at the same level prove nothing."""
    first = counted_signal(np.floor(200 + noise(4000, 0.7, 1)))
    second = counted_signal(np.floor(200 + noise(4000, 0.7, 2)))
    assert not copies(first, second)


def test_bits_shifted_left_are_a_coarser_step() -> None:
    """Ten bits shifted into sixteen have no stuck bit; one stuck above them still is."""
    shifted = 64.0 * _swept()
    assert stuck_bit(shifted, least_range=1024) is None
    stuck = (shifted.astype(np.int64) & ~(1 << 10)).astype(np.float64)
    found = stuck_bit(stuck, least_range=1024)
    assert found is not None
    assert found[0] == 10
