"""What kind of numbers a column holds: counts or volts, and the likely full scale."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

COUNTS = (1024, 4096)
"""Codes of converters that are told by their highest count alone: 10 and 12 bits, the common ones
of bare microcontrollers. A wider one may be signed, scaled or have a reference of its own, so its
scale is asked for."""

USUAL_REFERENCE_V = {1024: 5.0, 4096: 3.3}
"""Supply, and so reference, of boards with such a converter; common practice, no source."""

MOST_V = 6.0
"""Volts above which numbers with decimals are not taken for volts: own choice; a sensor that is
fed from 5 V gives no more."""

LEAST_V = -0.2
"""Volts below which they are not: own choice, noise around nought."""

_NAMED_UNIT = re.compile(r"(?:^|[_\s(\[])(mV|V|deg|rad|mg|g)\W*$")

NumberUnit = Literal["count", "V", "mV", "deg", "rad", "g", "mg"]


@dataclass(frozen=True, slots=True)
class Column:
    """What was seen of one column.

    Attributes:
        index: Its place, from 0.
        name: As the logger named it, or ``c`` and its place; untrusted.
        whole: Only whole numbers came.
        low: Lowest number.
        high: Highest number.
        unit: That stands behind its numbers, untrusted; empty where none does.
    """

    index: int
    name: str
    whole: bool
    low: float
    high: float
    unit: str = ""


_OTHER_SPELLING = {
    "\u00b0": "deg", "degree": "deg", "degrees": "deg", "volt": "V", "volts": "V", "m/s^2": "m/s2",
    "m/s\u00b2": "m/s2", "counts": "count", "cnt": "count", "cnts": "count", "LSB": "count",
    "%": "percent", "dps": "deg/s", "\u00b0C": "degC", "\u00b0F": "degF",
}  # fmt: skip


def columns_of(
    values: NDArray[np.float64], names: Iterable[str], units: Mapping[int, str]
) -> tuple[Column, ...]:
    """What was seen of each column.

    Args:
        values: Numbers as received, shape (n, columns), n at least 1; NaN where missing.
        names: Of the columns.
        units: That stand behind the numbers, by place.
    """
    seen = []
    for index, name in enumerate(names):
        there = values[:, index][np.isfinite(values[:, index])]
        whole = bool(np.all(there == np.round(there)))
        low, high = (float(there.min()), float(there.max())) if len(there) else (0.0, 0.0)
        unit = units.get(index, "")
        seen.append(Column(index, name, whole, low, high, _OTHER_SPELLING.get(unit, unit)))
    return tuple(seen)


@dataclass(frozen=True, slots=True)
class UnitGuess:
    """What the numbers of a voltage channel seem to be; never certain.

    Attributes:
        unit: ``count``, ``V`` or ``mV``; None where nothing speaks for any.
        why: What speaks for it, for the person.
        by_name: The column's own name says so.
    """

    unit: NumberUnit | None
    why: str
    by_name: bool = False


def guess_unit(column: Column) -> UnitGuess:
    """What the numbers of a column that carries a voltage seem to be."""
    named = _NAMED_UNIT.search(f" {column.unit}") or _NAMED_UNIT.search(column.name)
    if named is not None:
        unit: NumberUnit = named[1]  # type: ignore[assignment]
        return UnitGuess(unit, "the column's name says so", by_name=True)
    if column.whole and column.low >= 0 and column.high < COUNTS[-1]:
        return UnitGuess("count", f"whole numbers, {column.low:.0f} to {column.high:.0f}")
    if not column.whole and column.low >= LEAST_V and column.high <= MOST_V:
        return UnitGuess("V", f"numbers with decimals, {column.low:.3g} to {column.high:.3g}")
    return UnitGuess(None, f"numbers from {column.low:.4g} to {column.high:.4g}")


def guess_full_scale(highest: float) -> int | None:
    """The least usual count of codes above the highest count seen; None where none is."""
    return next((codes for codes in COUNTS if highest < codes), None)
