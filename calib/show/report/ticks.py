"""Where an axis has its ticks, and what stands at them: figures, decades, dates."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

Tick = tuple[float, str]
"""A place on the axis, and its words."""

FEW_DECADES = 20.0
"""Own choice: below this ratio a logarithmic axis has too few whole decades to be read by."""

_MINUTE, _HOUR, _DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
_STEPS = (
    *(count * _MINUTE for count in (1, 5, 15)),
    *(count * _HOUR for count in (1, 3, 6)),
    *(count * _DAY for count in (1, 2, 7, 14)),
)
_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120)
"""Steps of a calendar, shortest first; own choice."""


def figures(low: float, high: float, most: int) -> list[Tick]:
    """At most ``most`` round figures from ``low`` to ``high``, 1, 2 or 5 of a decade apart."""
    least = (high - low) / most
    decade = 10.0 ** math.floor(math.log10(least))
    step = next(each * decade for each in (1, 2, 5, 10) if each * decade >= least)
    decimals = max(-math.floor(math.log10(step) + 1e-9), 0)
    return [
        (count * step, f"{count * step:.{decimals}f}")
        for count in range(math.ceil(low / step), math.floor(high / step) + 1)
    ]


def decades(low: float, high: float) -> list[Tick]:
    """Whole decades from ``low`` to ``high``, both above 0; 2 and 5 of each where there are few."""
    inner = (1, 2, 5) if high < FEW_DECADES * low else (1,)
    exponents = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    places = (count * 10.0**exponent for exponent in exponents for count in inner)
    return [(place, f"{place:g}") for place in places if low <= place <= high]


def dates(low: datetime, high: datetime, most: int) -> tuple[list[Tick], str]:
    """At most ``most`` round times between two, both without offset, and what they share.

    Returns:
        Ticks at seconds since 1970, and the part of the date that stands at none of them.
    """
    span = high - low
    for step in _STEPS:
        if span <= most * step:
            short = step < _DAY
            first = datetime.combine(low.date(), datetime.min.time())
            count = -((first - low) // step) if step < _DAY else 1
            times = [first + each * step for each in range(count, count + most + 1)]
            said = "%H:%M" if short else "%m-%d"
            shared = f"{low:%Y-%m-%d}" if short else f"{low:%Y}"
            return [(_seconds(each), f"{each:{said}}") for each in times if each <= high], shared
    months = next((each for each in _MONTHS if span <= most * each * 30 * _DAY), _MONTHS[-1])
    said = "%Y-%m" if months < 12 else "%Y"
    first_month = -(-(low.year * 12 + low.month) // months) * months
    numbers = range(first_month, high.year * 12 + high.month, months)
    times = [datetime(each // 12, each % 12 + 1, 1) for each in numbers]  # noqa: DTZ001
    return [(_seconds(each), f"{each:{said}}") for each in times], ""


def _seconds(time: datetime) -> float:
    return time.replace(tzinfo=UTC).timestamp()
