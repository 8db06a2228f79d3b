"""A control that did not answer: which wire, told from where its signal stands."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from calib.checks.bench.converter import Standstill
from calib.checks.bench.hands import Hand
from calib.checks.file.moved import NOMINAL_SUPPLY_V
from calib.checks.limits import limit
from calib.store.documents.finding import Finding, Severity


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
    return Finding(
        code="no-answer",
        severity=Severity.UNKNOWN,
        text=f"{hand.name} never went to full travel and back; it stands at {level_V:.2f} V.",
        value=level_V,
        unit="V",
        action="Work it all the way, hold it for a second and let go. If you did, measure its "
        "signal wire from end to end in ohms.",
        channel=hand.name,
    )


def too_soon_finding(hand: Hand, needed_s: float) -> Finding:
    """That a control was worked before anyone could see where it rests."""
    return Finding(
        code="rest-too-short",
        severity=Severity.UNKNOWN,
        text=f"{hand.name} moves within the first {needed_s:.1f} s: where it rests, and how "
        "quietly, cannot be said.",
        limit=needed_s,
        unit="s",
        action=f"Leave it alone for {needed_s:.1f} s at least, then work it, and check again.",
        channel=hand.name,
    )


def _at_ground(hand: Hand, level_V: float, limit_V: float) -> Finding:
    return Finding(
        code="signal-at-ground",
        severity=Severity.FAIL,
        text=f"{hand.name} stands at {level_V:.2f} V and does not answer: its signal is shorted to "
        "ground, or open where a resistor pulls it down, or its sensor has no 5 V.",
        value=level_V,
        limit=limit_V,
        unit="V",
        action="Meter 5 V at the sensor's own pins; then unplug and measure signal to ground.",
        channel=hand.name,
    )


def _at_supply(hand: Hand, level_V: float, limit_V: float) -> Finding:
    return Finding(
        code="signal-at-supply",
        severity=Severity.FAIL,
        text=f"{hand.name} stands at {level_V:.2f} V and does not answer: its sensor has lost its "
        "ground, or its signal is shorted to 5 V, or open where a resistor pulls it up.",
        value=level_V,
        limit=limit_V,
        unit="V",
        action="Measure the sensor's ground pin to the logger's ground in ohms; then unplug and "
        "measure signal to 5 V.",
        channel=hand.name,
    )


def _open(hand: Hand, level_V: float, why: str) -> Finding:
    return Finding(
        code="signal-open",
        severity=Severity.FAIL,
        text=f"{hand.name} does not answer and stands at {level_V:.2f} V; {why}: its signal wire "
        "is open and the input floats.",
        value=level_V,
        unit="V",
        action=f"Measure the signal wire of {hand.name} from sensor to logger in ohms.",
        channel=hand.name,
    )


def _constant(hand: Hand, level_V: float, still: Standstill) -> Finding:
    return Finding(
        code="frozen",
        severity=Severity.FAIL,
        text=f"{hand.name} gave {still.count} equal readings of {level_V:.3f} V and does not "
        "answer: the logger repeats an old value.",
        value=still.run_s,
        limit=limit("frozen_s", hand.signal.channel),
        unit="s",
        action="Restart the logger; if it comes back, look at its program and its bus.",
        channel=hand.name,
    )


def half_finding(hand: Hand) -> Finding:
    """Presses that were let go too early to count."""
    return Finding(
        code="half-pressed",
        severity=Severity.UNKNOWN,
        text=f"{hand.name} moved, but was never held at full travel and let go ({hand.half} half "
        "presses).",
        value=float(hand.half),
        action="Work it all the way, hold it for a second, let go; check again.",
        channel=hand.name,
    )


def short_span_findings(hand: Hand, span_V: float, supply_V: float | None) -> Iterator[Finding]:
    """A span too short for a 5 V control, in volts at 5 V.

    Source: limit ``span_low_V``.
    """
    at_5_V = span_V * NOMINAL_SUPPLY_V / supply_V if supply_V else span_V
    least_V = limit("span_low_V", hand.signal.channel)
    if at_5_V >= least_V:
        return
    yield Finding(
        code="span-short",
        severity=Severity.CAUTION,
        text=f"{hand.name} spans only {span_V:.2f} V: a loose or cracked magnet, a dying sensor, "
        "or a stop that is reached too early.",
        value=at_5_V,
        limit=least_V,
        unit="V",
        action="Open the control and look at magnet and stop; do not zero the fault away.",
        channel=hand.name,
    )
