from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from calib.checks.file.moved import Mean, Moved, shift
from tests.two_tests import p_value


def test_a_small_sure_shift_is_equivalent() -> None:
    """An interval wholly within the margin passes, whichever way it moved."""
    for value in (0.01, -0.01):
        found = shift(Mean(value, 0.001, 5.0), Mean(0.0, 0.001, 5.0), margin=0.03)
        assert found.moved is Moved.EQUIVALENT
        assert p_value(found) < 0.05


def test_a_large_sure_shift_is_outside() -> None:
    """An interval wholly beyond the margin fails."""
    found = shift(Mean(0.10, 0.001, 5.0), Mean(0.0, 0.001, 5.0), margin=0.03)
    assert found.moved is Moved.OUTSIDE
    assert p_value(found) > 0.95


def test_an_unsure_measurement_is_never_equivalent() -> None:
    """No significant difference is not equivalence: a wide interval stays undecided."""
    found = shift(Mean(0.0, 0.05, 3.0), Mean(0.0, 0.05, 3.0), margin=0.03)
    assert found.moved is Moved.UNDECIDED


def test_without_any_uncertainty_the_value_alone_decides() -> None:
    """Perfect knowledge leaves nothing undecided."""
    exact, zero = Mean(0.02, 0.0, math.inf), Mean(0.0, 0.0, math.inf)
    assert shift(exact, zero, margin=0.03).moved is Moved.EQUIVALENT
    assert shift(exact, zero, margin=0.01).moved is Moved.OUTSIDE


@given(st.floats(-1.0, 1.0), st.floats(1e-6, 0.3), st.floats(2.0, 100.0), st.floats(1e-3, 0.5))
def test_verdict_interval_and_p_value_agree(
    value: float, u: float, dof: float, margin: float
) -> None:
    """Equivalent exactly when p is below 5 %, and when the interval lies within the margin."""
    found = shift(Mean(value, u, dof), Mean(0.0, 0.0, math.inf), margin=margin)
    if abs(p_value(found) - 0.05) > 1e-9:
        assert (found.moved is Moved.EQUIVALENT) == (p_value(found) < 0.05)
    if found.moved is Moved.OUTSIDE:
        assert value - found.half_width > margin or value + found.half_width < -margin
