"""Whether the logger still sends what the rig file says: columns, codes, unit, reference."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.hands import HEAD_S
from calib.checks.bench.signals import Signal, Signals
from calib.checks.limits import limit_of_all
from calib.store.conversion import to_base
from calib.store.documents import said
from calib.store.documents.check import CheckFigures
from calib.store.rig import Channel

Figures = Mapping[str, CheckFigures]
"""By channel."""

NEAR_SHARE = 0.5
"""How near the factors of other channels must be, as a share of the change; own choice."""

LEAST_READ_V = 0.2
"""Reading below which a factor says nothing; own choice."""

LEAST_CHANNELS = 3
"""Channels that must tell the same; own choice, because two may agree by chance."""

MOST_FIT = 0.8
"""Share of the channels that one explanation must fit; own choice, because one more fault may be
there."""

HALF_CHANGED = 0.5
"""Share of the channels that must be far from the record before one explanation for all is looked
for; own choice."""

FIT_SHARE = 0.03
"""How near a number must be to what an explanation foretells; own choice, because rests move by
some per cent of their own from evening to evening."""

LEAST_COUNTS = 2.0
"""Foretold numbers below which nothing is compared; own choice, because codes are rounded down."""

FARTHEST_COLUMN = 3
"""Columns by which all others may stand off; own choice."""

MOST_BITS = 8
"""Bits by which codes may be shifted; own choice."""

PLAIN_FACTOR = 1.8
"""Factor from which all numbers cannot have changed by a reference alone; own choice, because
loggers are run on 5 V or 3.3 V."""


@dataclass(frozen=True, slots=True)
class Number:
    """What a channel sent at the start, and what it must have sent on record, as received.

    Attributes:
        signal: The channel.
        now: Median of the first readings.
        then: On record.
        scale: The largest number that it may send, or the largest of its like on record.
    """

    signal: Signal
    now: float
    then: float
    scale: float

    def is_near(self, number: float, share: float) -> bool:
        """Whether a number is within a share of the scale of what this channel sent on record."""
        return abs(number - self.then) <= share * self.scale


@dataclass(frozen=True, slots=True)
class Change:
    """One explanation for all numbers: each is a factor times what it was.

    Attributes:
        factor: That factor.
        why: What was changed in the logger's program.
        bits_shifted: Whether whole bits, and not the unit.
    """

    factor: float
    why: str
    bits_shifted: bool = False


def numbers_of(signals: Signals, then: Figures) -> list[Number]:
    """Numbers at the start, hands off, against the record, in the order of their columns.

    Args:
        signals: All channels.
        then: Figures on record by channel.
    """
    head = slice(0, max(8, signals.samples_in(HEAD_S)))
    was = [
        (signal, _as_received(signal.channel, rest))
        for signal in signals.by_name.values()
        if signal.role != "switch" and not math.isnan(rest := _rest(then, signal.name))
    ]
    sizes = [(each.channel.unit, abs(number)) for each, number in was if each.last_code is None]
    found = []
    for signal, number in was:
        alike = [size for unit, size in sizes if unit == signal.channel.unit]
        scale = signal.last_code if signal.last_code is not None else max(alike)
        if math.isfinite(number) and scale:
            found.append(Number(signal, float(np.median(signal.raw[head])), number, scale))
    return sorted(found, key=lambda each: each.signal.place)


def _as_received(channel: Channel, value: float) -> float:
    """The number that the logger must have sent for a value in the base unit; NaN if unknown."""
    at_0, at_100 = to_base(channel, np.array([0.0, 100.0]))
    slope = float(at_100 - at_0) / 100.0
    if not slope:
        return math.nan
    number = (value - float(at_0)) / slope
    # A trued curve bends: once more from there.
    return number + (value - float(to_base(channel, np.array([number]))[0])) / slope


def renumbered_findings(signals: Signals, then: Figures) -> said.Findings:
    """All numbers changed at once, as they do when the logger's program was changed.

    Args:
        signals: All channels.
        then: Figures on record by channel.

    Source: limit ``renumbered_pct``; own choice of method: one explanation must fit nearly all.
    """
    numbers = numbers_of(signals, then)
    least = limit_of_all("renumbered_pct", [each.signal.channel for each in numbers]) / 100.0
    by = _columns_off(numbers) if _half_changed(numbers, least) else None
    if by is not None:
        side = "right" if by > 0 else "left"
        yield said.fail("columns-shifted", float(by), 0.0, columns=abs(by), side=side)
        return
    # What another sensor sends as numbers is not changed with the converter's codes.
    converted = [each for each in numbers if each.signal.last_code is not None] or numbers
    change = _change(converted) if _half_changed(converted, least) else None
    if change is not None:
        yield said.fail(
            "codes-shifted" if change.bits_shifted else "unit-changed",
            change.factor,
            1.0,
            why=change.why,
        )


def _half_changed(numbers: Sequence[Number], share: float) -> bool:
    """Whether half of the channels are farther from the record than a share of their scale."""
    far = sum(not each.is_near(each.now, share) for each in numbers)
    return len(numbers) >= LEAST_CHANNELS and far >= HALF_CHANGED * len(numbers)


def _columns_off(numbers: Sequence[Number]) -> int | None:
    """By how many columns all channels stand off; None where that explains nothing."""
    then = {each.signal.place: each for each in numbers}
    for by in sorted(range(-FARTHEST_COLUMN, FARTHEST_COLUMN + 1), key=abs):
        pairs = [(n.now, then[n.signal.place + by]) for n in numbers if n.signal.place + by in then]
        near = sum(other.is_near(now, FIT_SHARE) for now, other in pairs)
        if by and len(pairs) >= LEAST_CHANNELS and near >= MOST_FIT * len(pairs):
            return by
    return None


def _change(numbers: Sequence[Number]) -> Change | None:
    """The one factor that explains all numbers."""
    beyond = any(
        each.signal.last_code is not None and float(each.signal.raw.max()) > each.signal.last_code
        for each in numbers
    )
    for change in _known_changes(numbers, beyond=beyond):
        if _fits(numbers, change.factor):
            return change
    ratios = [each.now / each.then for each in numbers if abs(each.then) > LEAST_COUNTS]
    factor = float(np.median(ratios)) if ratios else 1.0
    counted = any(each.signal.last_code is not None for each in numbers)
    plain = (factor > PLAIN_FACTOR and (beyond or not counted)) or 0.0 < factor < 1.0 / PLAIN_FACTOR
    if plain and _fits(numbers, factor):
        return Change(factor, "they come in another unit")
    return None


def _known_changes(numbers: Sequence[Number], *, beyond: bool) -> Iterator[Change]:
    """Factors that a change of program makes."""
    for bits in range(1, MOST_BITS + 1):
        if beyond or _low_bits_empty(numbers, bits):
            yield Change(2.0**bits, f"their codes are shifted up by {bits} bits", bits_shifted=True)
        yield Change(2.0**-bits, f"their codes are shifted down by {bits} bits", bits_shifted=True)
    yield Change(1000.0, "they come in a thousandth of the unit")
    yield Change(0.001, "they come in a thousand times the unit")
    for signal in (each.signal for each in numbers):
        reference_V, full_scale = signal.channel.reference_V, signal.channel.full_scale
        if signal.last_code is not None and reference_V is not None and full_scale:
            volts = reference_V / full_scale
            yield Change(1000.0 * volts, "they come in millivolts instead of counts")
            yield Change(volts, "they come in volts instead of counts")
            return


def _low_bits_empty(numbers: Sequence[Number], bits: int) -> bool:
    mask = (1 << bits) - 1
    return all(
        bool(np.all(each.signal.raw.astype(np.int64) & mask == 0))
        for each in numbers
        if each.signal.last_code is not None
    )


def _fits(numbers: Sequence[Number], factor: float) -> bool:
    """Whether nearly all numbers are ``factor`` times what they were."""
    # What was rounded down to a whole number may be a whole one off.
    whole = all(float(each.now).is_integer() for each in numbers)
    told = [(each.now, factor * each.then) for each in numbers if each.then]
    told = [(now, due) for now, due in told if abs(due) > LEAST_COUNTS * whole]
    near = sum(abs(now - due) <= max(FIT_SHARE * abs(due), float(whole)) for now, due in told)
    return len(told) >= LEAST_CHANNELS and near >= MOST_FIT * len(told)


def scale_findings(
    rail: Signal, others: Sequence[Signal], now: Figures, then: Figures
) -> said.Findings:
    """The supply's reading changed, and so did channels that do not hang on it.

    Args:
        rail: The supply.
        others: Channels in volts that are fed from elsewhere.
        now: Figures by channel.
        then: Figures on record by channel.

    Source: limit ``scale_moved_pct``; a reference that moved scales every reading alike, a supply
    only those that hang on it.
    """
    change = _factor(rail.name, now, then)
    least = rail.limit("scale_moved_pct") / 100.0
    if abs(change - 1.0) < least or math.isnan(change):
        return
    factors = [_factor(other.name, now, then) for other in others]
    known = [factor for factor in factors if not math.isnan(factor)]
    if not known or any(abs(factor - change) > NEAR_SHARE * abs(change - 1.0) for factor in known):
        return
    yield said.fail("logger-scale", 100.0 * (change - 1.0), 100.0 * least, channel=rail.name)


def _factor(name: str, now: Figures, then: Figures) -> float:
    """Rest now over rest on record; NaN where either is missing or too small."""
    was = _rest(then, name)
    return _rest(now, name) / was if was >= LEAST_READ_V else math.nan


def _rest(figures: Figures, name: str) -> float:
    """Where a channel rests; NaN where that is not known."""
    known = figures.get(name)
    return math.nan if known is None or known.rest is None else known.rest.mean
