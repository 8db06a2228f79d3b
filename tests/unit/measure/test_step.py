from __future__ import annotations

import numpy as np
import pytest

from calib.measure.step import seen_code_step, seen_step


@pytest.mark.parametrize(("lsb", "decimals"), [(0.01, 2), (5.0 / 1024.0, 3), (5.0 / 256.0, 2)])
def test_a_converter_s_step_shows_through_its_decimals(lsb: float, decimals: int) -> None:
    """Volts printed in whole decimals show the converter's step, to within one last digit."""
    volts = np.linspace(0.5, 4.5, 3000)
    printed = np.round(np.floor(volts / lsb) * lsb, decimals)
    assert seen_step(printed) == pytest.approx(lsb, abs=0.5 * 10.0**-decimals)


def test_one_value_has_no_step() -> None:
    """A reading that never changes, or is missing, shows no step."""
    assert seen_step(np.full(50, 0.83)) == 0.0
    assert seen_step(np.full(5, np.nan)) == 0.0


def test_few_readings_never_make_a_step_too_fine() -> None:
    """A control that was seen at a few codes only shows a step no finer than the converter's."""
    rng = np.random.default_rng(3)
    for _ in range(50):
        printed = np.round(np.floor(rng.uniform(0.8, 4.1, 6) / 0.01) * 0.01, 2)
        assert seen_step(printed) >= 0.01 - 1e-9


def test_shifted_codes_have_a_coarser_step() -> None:
    """Twelve bits shifted into sixteen step by 16; few codes, or fractions, say nothing."""
    codes = 16.0 * np.arange(100.0, 400.0)
    assert seen_code_step(codes) == 16
    assert seen_code_step(codes / 16.0) == 1
    assert seen_code_step(codes[:5]) == 1
    assert seen_code_step(codes + 0.5) == 1


def test_what_a_far_off_number_cannot_tell_apart_is_one() -> None:
    """A thousand millionth of the largest, or of one, is rounding of the text."""
    assert seen_step(np.array([2e6, 2e6 + 1e-3, 2e6 + 1.0, 2e6 + 2.0])) == pytest.approx(
        1.0, rel=1e-3
    )
    assert seen_step(np.array([2e6, 2e6 + 3e-3, 2e6 + 1.0])) == pytest.approx(0.003, rel=1e-3)
    assert seen_step(np.array([0.1, 0.1 + 5e-10, 0.2])) == pytest.approx(0.1)
    assert seen_step(np.array([0.1, 0.1 + 2e-9, 0.2])) == pytest.approx(2e-9, rel=1e-3)


@pytest.mark.parametrize(
    ("gaps", "step"),
    [
        ([1.0, 1.5], 1.25),
        ([1.0, 1.6], 1.0),
        ([1.0, 2.5, 2.5, 2.5], 1.0),
        ([1.0, 2.5, 2.5, 2.5, 2.5], 2.2),
        ([1.0, 2.6, 2.6, 2.6, 2.6], 1.0),
        ([1.0, 1.0, 2.0, 2.0, 2.0, 2.0, 2.0, 2.0], 1.0),
        ([1.0, 1.0, 2.0, 2.0, 2.0, 2.0, 2.0, 2.0, 2.0], 16.0 / 9.0),
    ],
)
def test_gaps_that_are_one_step(gaps: list[float], step: float) -> None:
    """Up to one and a half times the narrowest; up to 2.5 where those are thrice as many."""
    assert seen_step(np.cumsum([0.0, *gaps])) == pytest.approx(step)


@pytest.mark.parametrize(("count", "step"), [(7, 1), (8, 4)])
def test_eight_codes_tell_a_common_step(count: int, step: int) -> None:
    """With fewer it may be chance; a missing reading is none of them."""
    codes = np.array([*(4.0 * np.arange(count) + 3.0), np.nan])
    assert seen_code_step(codes) == step
