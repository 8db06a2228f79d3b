"""What the logger's converter gets wrong: frozen, clipped, a stuck bit, a channel that copies."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.checks.bench.signals import Floats, Signal
from calib.measure.step import seen_code_step
from calib.store.columns import what_is_odd
from calib.store.documents import said
from calib.store.documents.finding import Severity

Integers = NDArray[np.int64]

LEAST_EQUAL = 20
"""Equal readings in a row below which nothing is called frozen; own choice."""

CHANCE = 1e-9
"""Chance of a run of equal readings below which it is no chance; own choice, because a minute at
1 kHz offers some ten thousand runs on ten channels."""

MOST_REPEATS = 0.98
"""Own choice: where more readings than this share repeat the one before, a long run of equal ones
says nothing."""


@dataclass(frozen=True, slots=True)
class Standstill:
    """The longest run of equal readings of a channel.

    Attributes:
        run_s: How long it lasts, s.
        count: Readings in it.
        repeats_elsewhere: Share of readings elsewhere that repeat the one before; NaN where there
            is nothing else.
    """

    run_s: float
    count: int
    repeats_elsewhere: float


def standstill(raw: Floats, rate_hz: float) -> Standstill:
    """Longest run of equal readings of a channel, in s.

    Args:
        raw: Numbers as received, shape (n,).
        rate_hz: Rate of readings, Hz.

    Source: own choice of method.
    """
    same = raw[1:] == raw[:-1]
    changes = np.flatnonzero(~same)
    longest = int(np.diff(changes, prepend=-1, append=len(same)).max())
    others = len(same) - longest
    repeats = (len(same) - changes.size) - (longest - 1)
    elsewhere = repeats / others if others >= LEAST_EQUAL else math.nan
    return Standstill(longest / rate_hz if rate_hz > 0.0 else 0.0, longest, elsewhere)


def is_frozen(signal: Signal, still: Standstill, then_repeats: float | None) -> bool:
    """Whether a reading stands still where its own noise should move it.

    Args:
        signal: The channel.
        still: Its longest run of equal readings.
        then_repeats: Share of readings that repeated the one before, on record.

    Source: own choice, because n independent repeats of probability p have the chance p**n.
    """
    known = [p for p in (then_repeats, still.repeats_elsewhere) if p is not None and p == p]
    if not known or still.count < LEAST_EQUAL or min(known) > MOST_REPEATS:
        return False
    if still.run_s < signal.limit("frozen_s") or _at_an_end(signal):
        return False
    return bool(max(min(known), 0.01) ** still.count <= CHANCE)


def _at_an_end(signal: Signal) -> bool:
    """Whether a channel mostly stands at the converter's first or last code."""
    return signal.last_code is not None and float(np.median(signal.raw)) in (0.0, signal.last_code)


WAY_PARTS = 32
"""Parts of the way between the lowest and the highest code; own choice."""

WAY_SHARE = 0.75
"""Share of the parts that a bit leaves over which must have been passed: a signal that jumps
between two levels passes none of them; own choice."""


def stuck_bit(raw: Floats, *, least_range: float) -> tuple[int, int] | None:
    """The highest bit that never changes although the reading moves across both its values.

    Of low bits none is named that has no changing one below it: they are a coarser step.

    Args:
        raw: Codes as received, shape (n,).
        least_range: Range of codes below which nothing is looked at.

    Returns:
        The bit's number, 0 for the lowest, and its value.

    Source: own choice, because of m readings on the move the share that must fall on codes with
    the missing value is known, and so the chance that none did; limits ``WAY_PARTS`` and
    ``WAY_SHARE``.
    """
    if len(raw) < 2 or not np.equal(np.floor(raw), raw).all() or raw.min() < 0:
        return None
    codes = raw.astype(np.int64)
    low, high = int(codes.min()), int(codes.max())
    if high - low < least_range:
        return None
    moving = int(np.count_nonzero(np.abs(np.diff(codes)) > (high - low) / 200.0))
    ones, zeros = int(np.bitwise_or.reduce(codes)), int(np.bitwise_or.reduce(~codes))
    between = np.arange(low + 1, high)
    # Low bits that all stand still are a coarser step: a converter's bits shifted left.
    lowest = seen_code_step(raw).bit_length() - 1
    for bit in range((high - low).bit_length() - 1, lowest - 1, -1):
        seen_one, seen_zero = bool(ones >> bit & 1), bool(zeros >> bit & 1)
        if seen_one and seen_zero:
            continue
        left = (between >> bit & 1) == seen_one
        by_chance = float(np.mean(left)) ** moving
        if left.any() and by_chance < CHANCE and _passed(codes, between[left]):
            return bit, int(seen_one)
    return None


def _passed(codes: Integers, way: Integers) -> bool:
    """Whether readings lie all along the codes of a way, and not at its ends alone."""
    borders = np.linspace(codes.min(), codes.max(), WAY_PARTS + 1)
    on_way, seen = np.histogram(way, borders)[0] > 0, np.histogram(codes, borders)[0] > 0
    return float(np.mean(seen[on_way])) >= WAY_SHARE


def stuck_bit_findings(signal: Signal) -> said.Findings:
    """A bit of the converter that never changes. Source: as ``stuck_bit``."""
    if signal.last_code is None:
        return
    stuck = stuck_bit(signal.raw, least_range=signal.last_code / 64)
    if stuck is None:
        return
    bit, value = stuck
    size = signal.step * (1 << bit)
    yield said.fail(
        "stuck-bit", size, 0.0, channel=signal.name, unit=signal.unit, bit=bit, stuck_at=value
    )


def clipped_pct(signal: Signal, plateau_raw: Floats) -> float:
    """Share of a plateau's readings at the converter's first or last code, in per cent."""
    if signal.last_code is None or not len(plateau_raw):
        return 0.0
    return 100.0 * float(np.mean((plateau_raw >= signal.last_code) | (plateau_raw <= 0.0)))


def is_clipped(signal: Signal, plateau_raw: Floats) -> bool:
    """Whether the converter cuts a plateau off. Source: limit ``clipped_pct``."""
    return clipped_pct(signal, plateau_raw) >= signal.limit("clipped_pct")


def clipped_findings(
    signal: Signal, plateau_raw: Floats, *, where: str, severity: Severity = Severity.FAIL
) -> said.Findings:
    """Readings of a plateau that stand at the converter's last code.

    Args:
        signal: The channel.
        plateau_raw: Codes of the plateau, shape (n,).
        where: "at full travel", "all the time".
        severity: How bad it is.
    """
    pct, most_pct = clipped_pct(signal, plateau_raw), signal.limit("clipped_pct")
    if pct >= most_pct:
        yield said.finding(severity, "clips", pct, most_pct, channel=signal.name, where=where)


def pinned_findings(signal: Signal) -> said.Findings:
    """A channel that stands at the converter's first or last code all the time.

    Source: own choice: what nobody works rests somewhere within the range.
    """
    if not _at_an_end(signal):
        return
    low = float(np.median(signal.raw)) <= 0.0
    yield said.fail(
        "signal-at-ground/pinned" if low else "signal-at-supply/pinned",
        float(np.median(signal.values)),
        channel=signal.name,
        unit=signal.unit,
    )


COPY_POINTS = 4000
"""Readings on which two channels are compared; own choice, because it bounds the cost."""


def copies(first: Signal, second: Signal) -> bool:
    """Whether two channels give the same codes all the time although they move.

    Args:
        first: One channel.
        second: The other.

    Source: own choice: a multiplexer that does not switch gives the same voltage twice, so that
    the difference is noise alone, however far the reading moves.
    """
    if first.last_code is None or second.last_code is None or first.last_code != second.last_code:
        return False
    stride = max(1, len(first.raw) // COPY_POINTS)
    a, b = first.raw[::stride], second.raw[::stride]
    moved = float(np.quantile(a, 0.98) - np.quantile(a, 0.02))
    if moved < first.last_code / 16:
        return False
    apart = b - a
    typical = float(np.quantile(np.abs(apart), 0.9))
    noise = float(np.std(apart))
    return typical < 0.02 * moved + 1.0 and noise < 0.02 * moved + 1.0


def unit_findings(signal: Signal) -> said.Findings:
    """Numbers that the unit in the rig file cannot give. Source: as ``what_is_odd``."""
    odd = what_is_odd(signal.channel, signal.raw[np.isfinite(signal.raw)])
    if odd is not None:
        what, example, unit = odd
        declared = signal.channel.unit
        yield said.fail(
            "unit", example, channel=signal.name, unit=unit, declared=declared, what=what
        )
