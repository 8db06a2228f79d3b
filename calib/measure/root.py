"""Where a function crosses nothing."""

from __future__ import annotations

import math
from collections.abc import Callable

_ALIKE = 1e-15


def root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a function crosses 0 between two places at which it has opposite signs.

    Source: Ridders, IEEE Trans. Circuits Syst. 26 (1979), from memory.
    """
    at_low, at_high = function(low), function(high)
    found = low if at_low == 0.0 else high
    while at_low * at_high < 0.0:
        middle = 0.5 * (low + high)
        at_middle = function(middle)
        bend = math.copysign(math.sqrt(at_middle**2 - at_low * at_high), at_low)
        before, found = found, middle + (middle - low) * at_middle / bend
        if abs(found - before) <= _ALIKE * abs(found) or middle in (low, high):
            break
        at_found = function(found)
        for place, value in sorted([(middle, at_middle), (found, at_found)]):
            if at_low * value > 0.0:
                low, at_low = place, value
            else:
                high, at_high = place, value
                break
    return found
