from __future__ import annotations

import numpy as np
import pytest

from calib.link.detect.numbers import Column, columns_of, guess_full_scale, guess_unit


def _column(low: float, high: float, name: str = "c0", *, whole: bool = True) -> Column:
    middle = (low + high) / 2 if whole else low + 0.123
    (column,) = columns_of(
        np.array([[low], [np.floor(middle) if whole else middle], [high]]), [name], {}
    )
    return column


@pytest.mark.parametrize(
    ("low", "high", "whole", "unit"),
    [(180, 850, True, "count"), (0, 4095, True, "count"), (0.81, 4.2, False, "V"),
     (-0.05, 5.1, False, "V")],
)  # fmt: skip
def test_counts_and_volts_are_told(low: float, high: float, whole: bool, unit: str) -> None:
    """Whole numbers below 4096 look like counts, decimals up to 6 like volts."""
    guess = guess_unit(_column(low, high, whole=whole))
    assert (guess.unit, guess.by_name) == (unit, False)


@pytest.mark.parametrize(
    ("low", "high", "whole"), [(0, 40000, True), (-300, 300, True), (1.5, 48.2, False)]
)
def test_what_cannot_be_told_is_not_guessed(low: float, high: float, whole: bool) -> None:
    """Wide counts, signed counts and larger decimals have no unit until somebody says it."""
    assert guess_unit(_column(low, high, whole=whole)).unit is None


def test_a_name_tells_more_than_the_numbers() -> None:
    """Millivolts look like counts; only the name can tell."""
    guess = guess_unit(_column(500, 3900, "throttle_mV"))
    assert (guess.unit, guess.by_name) == ("mV", True)


@pytest.mark.parametrize(
    ("highest", "codes"), [(850, 1024), (1023, 1024), (1024, 4096), (4096, None)]
)
def test_full_scale_is_the_least_usual_one_above(highest: float, codes: int | None) -> None:
    """The count of codes is above the highest count, and none is guessed above 4096."""
    assert guess_full_scale(highest) == codes
