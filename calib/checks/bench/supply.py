"""The sensors' supply: too low, too high, dipping, and what it does to those that it feeds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.hands import clipped_sd
from calib.checks.bench.signals import Floats, Signal, Signals, block_means
from calib.store.documents import said
from calib.store.documents.finding import Severity

DIP_S = 0.1
"""Time that a dip lasts at least; own choice, because what is shorter is noise or a glitch."""

LEAST_RAIL_V = 2.5
"""Supply below which it is not used to undo its own changes; own choice, because no sensor works
there."""


@dataclass(frozen=True, slots=True)
class SupplyFigures:
    """What a supply did during the check.

    Attributes:
        mean_V: Median, V.
        low_V: Lowest mean over the time of a dip, V.
        high_V: Highest, V.
        dip_V: Median less lowest, beyond what the noise explains, V.
    """

    mean_V: float
    low_V: float
    high_V: float
    dip_V: float


def supply_figures(signals: Signals, rail: Signal) -> SupplyFigures:
    """Level and dips of a supply, V.

    Source: means over the shortest dip; four standard deviations of such a mean are noise.
    """
    block = signals.samples_in(DIP_S)
    grid = block_means(rail.values, block)
    if not grid.size:
        grid = rail.values
    mean_V = float(np.median(rail.values))
    noise_V = 4.0 * clipped_sd(np.diff(rail.values)) / math.sqrt(2.0 * block)
    low_V, high_V = float(grid.min()), float(grid.max())
    dip_V = max(0.0, max(mean_V - low_V, high_V - mean_V) - noise_V)
    return SupplyFigures(mean_V, low_V, high_V, dip_V)


def supply_findings(rail: Signal, figures: SupplyFigures) -> said.Findings:
    """Whether a supply is within its range and keeps still.

    Source: limits ``supply_*``.
    """
    mean_V = figures.mean_V
    low_V, high_V = rail.limit("supply_low_V"), rail.limit("supply_high_V")
    if mean_V < low_V:
        failed = mean_V < rail.limit("supply_dead_low_V")
        severity = Severity.FAIL if failed else Severity.CAUTION
        yield said.finding(severity, "supply-low", mean_V, low_V, channel=rail.name)
    elif mean_V > high_V:
        failed = mean_V > rail.limit("supply_dead_high_V")
        severity = Severity.FAIL if failed else Severity.CAUTION
        yield said.finding(severity, "supply-high", mean_V, high_V, channel=rail.name)
    dip_pct, most_pct = 100.0 * figures.dip_V / max(mean_V, 0.1), rail.limit("supply_dip_pct")
    if dip_pct > most_pct:
        failed = figures.low_V < rail.limit("supply_dead_low_V")
        severity = Severity.FAIL if failed else Severity.CAUTION
        yield said.finding(
            severity, "supply-dips", dip_pct, most_pct, channel=rail.name, seen=figures
        )


def undo_factor(signals: Signals, rail: Signal, mean_V: float) -> Floats:
    """What a ratiometric channel's readings are multiplied with to undo the supply's changes.

    Args:
        signals: The whole capture.
        rail: The supply.
        mean_V: Its median, V.

    Returns:
        Mean over the supply, smoothed over half a dip's time so that its own noise is not added;
        shape (n,).

    Source: a ratiometric output is a share of its supply.
    """
    block = signals.samples_in(0.5 * DIP_S)
    means = block_means(rail.values, block)
    if not means.size:
        return np.full(rail.values.shape, 1.0)
    smooth = np.repeat(means, block)
    smooth = np.pad(smooth, (0, len(rail.values) - len(smooth)), mode="edge")
    return mean_V / np.maximum(smooth, 0.1)
