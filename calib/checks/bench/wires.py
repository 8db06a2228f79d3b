"""A control that did not answer: which wire, told from where its signal stands."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from calib.checks.bench.converter import Standstill
from calib.checks.bench.hands import Hand
from calib.checks.file.moved import NOMINAL_SUPPLY_V
from calib.checks.limits import limit
from calib.store.documents import said
from calib.store.documents.finding import Finding


def silent_finding(
    hand: Hand,
    *,
    supply_V: float | None,
    still: Standstill,
    noise_ratio: float | None,
    hums: bool,
    then_rest_V: float | None,
) -> Finding:
    """What a control that never went through its travel points to.

    Args:
        hand: The control.
        supply_V: Its supply, V; None where it is not logged.
        still: Its longest run of equal readings.
        noise_ratio: Its noise over that on record; None without one.
        hums: Whether it hums.
        then_rest_V: Its rest on record, V at today's supply; None without one.

    Source: limits ``wire_at_ground_pct`` and ``wire_at_supply_pct``.
    """
    top_V = NOMINAL_SUPPLY_V if supply_V is None else supply_V
    level_V = float(np.median(hand.signal.values))
    pct = 100.0 * level_V / max(top_V, 0.1)
    low, high = (
        limit("wire_at_ground_pct", hand.signal.channel),
        limit("wire_at_supply_pct", hand.signal.channel),
    )
    if hums:
        return _open(hand, level_V, "it hums")
    if pct < low:
        return _at_ground(hand, level_V, low / 100.0 * top_V)
    if pct > high:
        return _at_supply(hand, level_V, high / 100.0 * top_V)
    if math.isnan(still.repeats_elsewhere) and still.run_s > limit("frozen_s", hand.signal.channel):
        return _constant(hand, level_V, still)
    off = then_rest_V is not None and abs(level_V - then_rest_V) > 0.1 * max(hand.span_V, 0.1)
    noisy = noise_ratio is not None and noise_ratio > limit("noise_ratio", hand.signal.channel)
    if off or noisy:
        why = "it stands where it never rested" if off else "it is noisy"
        return _open(hand, level_V, why)
    return said.unknown("no-answer", level_V, channel=hand.name)


def too_soon_finding(hand: Hand, needed_s: float) -> Finding:
    """That a control was worked before anyone could see where it rests."""
    return said.unknown("rest-too-short", None, needed_s, channel=hand.name)


def _at_ground(hand: Hand, level_V: float, limit_V: float) -> Finding:
    return said.fail("signal-at-ground", level_V, limit_V, channel=hand.name)


def _at_supply(hand: Hand, level_V: float, limit_V: float) -> Finding:
    return said.fail("signal-at-supply", level_V, limit_V, channel=hand.name)


def _open(hand: Hand, level_V: float, why: str) -> Finding:
    return said.fail("signal-open/bench", level_V, channel=hand.name, why=why)


def _constant(hand: Hand, level_V: float, still: Standstill) -> Finding:
    return said.fail(
        "frozen/bench",
        still.run_s,
        limit("frozen_s", hand.signal.channel),
        channel=hand.name,
        count=still.count,
        level_V=level_V,
    )


def half_finding(hand: Hand) -> Finding:
    """Presses that were let go too early to count."""
    return said.unknown("half-pressed", float(hand.half), channel=hand.name)


def short_span_findings(hand: Hand, span_V: float, supply_V: float | None) -> Iterator[Finding]:
    """A span too short for a 5 V control, in volts at 5 V.

    Source: limit ``span_low_V``.
    """
    at_5_V = span_V * NOMINAL_SUPPLY_V / supply_V if supply_V else span_V
    least_V = limit("span_low_V", hand.signal.channel)
    if at_5_V >= least_V:
        return
    yield said.caution("span-short", at_5_V, least_V, channel=hand.name, span_V=span_V)
