"""The one level of one stay, and what moved inside it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from calib.measure.plateaus import LSB_FACTOR, white_sd

Floats = NDArray[np.float64]

# Own choice: a stay is looked at in pieces of this length, five in a period of 12 Hz.
PIECE_S = 0.015
# Own choice: what stays within this share of the travel stands still, as it does within so many
# standard deviations of the fast noise and a flicker of the converter.
MOVES_SHARE = 0.003
NOISE_SDS = 8.0
# Own choice: share of a stay that moves whose readings make its level, the nearest to the travel.
INNER_SHARE = 0.25
LEAST_PIECES = 4
LEAST_READINGS = 5


@dataclass(frozen=True)
class StayLevel:
    """What one stay says of one end of the travel.

    Attributes:
        readings: Readings that make its level, V, shape (n,).
        outer_V: Where it stood farthest from the travel, V: its mean where it stood still.
        sunk_V: How far it went towards the travel from its first third to its last, V; negative
            where it went the other way, and 0 where it stood still.
        tremble_V: Half its swing about that way, V; 0 where it stood still.
    """

    readings: Floats = field(repr=False)
    outer_V: float
    sunk_V: float = 0.0
    tremble_V: float = 0.0


def stay_level(
    readings: Floats, *, inward: int, span_V: float, rate_hz: float, lsb_V: float
) -> StayLevel:
    """The level of one stay, on the safe side where it moves inside.

    A stay that stands still gives all its readings. In one that moves (a spring that settles, a
    hand that sinks or trembles, a thumb that is laid on) the quarter nearest the travel makes the
    level, at both ends. At rest that keeps the start above where the control really stood with
    the hand off, so nothing drives; at full travel it keeps the end below what the hand really
    held, so full drive, or full braking, is reached by this hand. It is one level whatever its
    shape: a stay never counts for more than one release, and what it does inside is told beside
    it and not pooled with the noise of the line.

    Args:
        readings: Readings of the stay, without glitches, V, shape (n,), n at least 1.
        inward: +1 where the travel lies above this end, -1 where it lies below.
        span_V: Span of the travel, V.
        rate_hz: Readings a second.
        lsb_V: Step of the converter, V; 0 where unknown.

    Returns:
        The readings of its level and the figures of what moved.

    Source: own choice, because a limit that is wrong on the travel's side takes travel and one
    that is wrong on the other side gives drive with the hand off, or never the whole of it.
    """
    piece = max(1, round(PIECE_S * rate_hz))
    whole = len(readings) // piece
    if whole < LEAST_PIECES:
        return StayLevel(readings, float(readings.mean()))
    pieces = readings[: whole * piece].reshape(whole, piece)
    way = pieces.mean(axis=1)
    noise_V = white_sd(readings) / float(np.sqrt(piece))
    swing_V = float(np.subtract(*np.quantile(way, [0.98, 0.02])))
    if swing_V <= max(MOVES_SHARE * span_V, NOISE_SDS * noise_V, LSB_FACTOR * lsb_V):
        return StayLevel(readings, float(readings.mean()))
    third = max(1, whole // 3)
    sunk_V = float(np.median(way[-third:]) - np.median(way[:third]))
    straight = np.linspace(-0.75, 0.75, whole) * sunk_V
    low, high = np.quantile(way - straight, [0.05, 0.95])
    count = max(round(INNER_SHARE * whole), -(-LEAST_READINGS // piece))
    order = np.argsort(-inward * way, kind="stable")
    return StayLevel(
        pieces[np.sort(order[:count])].ravel(),
        float(way[order[-count:]].mean()),
        inward * sunk_V,
        0.5 * float(high - low),
    )
