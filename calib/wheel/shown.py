"""What a display makes of the wheel's pulses: the factor between shown and true, and its rule."""

from __future__ import annotations

import math
from typing import Final

from calib.measure.uncertainty import Component, budget, rectangular_u

KMH_PER_M_S: Final = 3.6

AT_KMH: Final = (25.0, 45.0)
"""True speeds at which a wrong display is told, km/h. Own choice: the two at which rules for light
machines in Europe part."""

SATELLITE_KMH: Final = 0.36
"""Standard uncertainty of a satellite receiver's speed where none is stated, km/h: 0.1 m/s. Own
choice, twice the some cm/s that are found for receivers on open ground (Chalko 2009, from
memory)."""

R39_SHARE, R39_KMH = 0.1, 4.0
"""Shown less true is to be from 0 to a tenth of the true speed and 4 km/h more. Source: UN
Regulation No. 39, paragraph 5.3, from memory; a rule for vehicles on the road."""


def shown_over_true(
    shown: float, step: float, true: float, u_true: float, reads: int
) -> tuple[float, float]:
    """Shown over true from one pair of figures, and its standard uncertainty.

    Args:
        shown: What was shown, above 0.
        step: Step of the display, in the same unit.
        true: What was measured, above 0, in the same unit.
        u_true: Its standard uncertainty.
        reads: Readings of the display in it: 2 for the difference of two, else 1.

    Source: JCGM 100, 5.1.6: relative uncertainties of a quotient add in squares.
    """
    u_shown = math.sqrt(reads) * rectangular_u(step / 2.0)
    value = shown / true
    return value, value * math.hypot(u_shown / shown, u_true / true)


def factor_of_settings(
    old_pulses: float, old_mm: float, pulses: float, mm: float, u_mm: float
) -> tuple[float, float]:
    """Shown over true with the values that the controller has now, and its standard uncertainty.

    It takes ``old_pulses`` for a turn and a turn for ``old_mm``; what comes is ``pulses`` a turn
    of ``mm``.

    Source: arithmetic.
    """
    value = pulses / old_pulses * old_mm / mm
    return value, value * u_mm / mm


def within_r39(shown_kmh: float, true_kmh: float) -> bool:
    """Whether a speedometer may show so much. Source: UN Regulation No. 39."""
    return 0.0 <= shown_kmh - true_kmh <= R39_SHARE * true_kmh + R39_KMH


def folds_from_kmh(rate_hz: float, pulses_a_turn: float, mm: float) -> float:
    """Speed from which a level column that is read so often hides pulses, km/h.

    Source: the sampling theorem: half the rate.
    """
    return rate_hz / 2.0 / pulses_a_turn * mm / 1000.0 * KMH_PER_M_S


def pulses_a_metre(
    pulses: float, mm: float, u_mm: float, *, loose_pulses: float = 0.0
) -> tuple[float, float]:
    """Pulses a metre and their standard uncertainty.

    Args:
        pulses: Pulses over a way: of one turn, or a longer one.
        mm: The way, mm.
        u_mm: Its standard uncertainty.
        loose_pulses: Half-width within which the pulses may be more or fewer.
    """
    metres = mm / 1000.0
    value = pulses / metres
    parts = [
        Component("way", value * u_mm / mm, "B"),
        Component("ends", rectangular_u(loose_pulses) / metres, "B"),
    ]
    return value, budget(parts).u
