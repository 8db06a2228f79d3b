"""The p-value of two one-sided tests, from SciPy's distributions."""

from __future__ import annotations

from scipy.stats import t

from calib.checks.file.moved import Shift


def p_value(found: Shift) -> float:
    """The larger p-value of the two tests that something stayed within its margin."""
    room = (found.margin + found.value, found.margin - found.value)
    return max(float(t.sf(each / found.u, found.dof)) for each in room)
