"""The step in which readings come, seen in the readings themselves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Own choice: readings looked at; a sample of them keeps an hour at 1 kHz cheap.
SAMPLE = 20_000
# What differs by rounding of the decimal text only does not differ.
SAME_SHARE = 1e-9
# Own choice: gaps up to this many times the least one are one step, rounded to decimals.
ONE_STEP = 1.5
# Own choice: where gaps of twice the least are this many times as frequent, the least ones are the
# rounding of a step to decimals nearly as coarse as it (8 bits in hundredths of a volt).
RARE = 3
# Own choice: with fewer different codes a common factor may be chance (one in 2⁷ for eight).
LEAST_CODES = 8


def seen_step(values: Floats) -> float:
    """Step of readings that are rounded to decimals, in their unit; 0 where none is seen.

    The mean of the gaps between neighbouring readings that are no wider than one and a half times
    the narrowest: a converter's step of 4.88 mV printed in whole millivolts shows gaps of 4 and
    5 mV, one of 19.5 mV in hundredths seldom 10 and mostly 20. Few different readings give too
    wide a step, never too narrow a one.

    Args:
        values: Readings, shape (n,); NaN means missing.

    Source: own choice of method.
    """
    some = values[:: max(1, len(values) // SAMPLE)]
    some = some[np.isfinite(some)]
    gaps = np.diff(np.unique(some))
    gaps = gaps[gaps > SAME_SHARE * max(1.0, float(np.abs(some).max(initial=0.0)))]
    if not gaps.size:
        return 0.0
    narrow = gaps <= ONE_STEP * gaps.min()
    twice = gaps <= 2.5 * gaps.min()
    rounded_down = np.count_nonzero(twice & ~narrow) > RARE * np.count_nonzero(narrow)
    return float(gaps[twice if rounded_down else narrow].mean())


def seen_code_step(codes: Floats) -> int:
    """Step of whole codes: 16 where 12 bits were shifted left by 4, and 1 where none is seen.

    Args:
        codes: Codes as received, shape (n,); NaN means missing.

    Source: greatest common divisor of the differences between the codes.
    """
    different = np.unique(codes[:: max(1, len(codes) // SAMPLE)])
    different = different[np.isfinite(different)]
    if len(different) < LEAST_CODES or not np.equal(np.floor(different), different).all():
        return 1
    return int(np.gcd.reduce(np.diff(different).astype(np.int64)))
