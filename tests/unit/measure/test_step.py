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
