"""Dead band: where drive takes up and where full drive is reached, in V."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

# Common practice, no source: the start stands at least this share of the span above rest.
FLOOR_PCT = 3.0
# Own choice: what differs from a whole step by less than this share of one is that step.
STEP_TOLERANCE = 1e-6

DecidedBy = Literal["limit", "floor"]


@dataclass(frozen=True)
class DeadBand:
    """Dead band of a control.

    Attributes:
        start_V: "Drive takes up at", V, on the rest side.
        end_V: "Full drive from", V, on the full side.
        dead_travel_pct: Share of the span given up at both ends, per cent.
        start_decided_by: Whether the tolerance limit or the floor set the start.
        floor_V: Level that the floor alone asks for, V.
        limit_V: Level that the limit (with its allowance) alone asks for, V.
    """

    start_V: float
    end_V: float
    dead_travel_pct: float
    start_decided_by: DecidedBy
    floor_V: float
    limit_V: float


def dead_band(
    *,
    rest_V: float,
    full_V: float,
    rest_limit_V: float,
    full_limit_V: float,
    floor_pct: float = FLOOR_PCT,
    step_V: float = 0.01,
) -> DeadBand | None:
    """Dead band in the controller's step, V; rounding goes into the travel at both ends.

    Args:
        rest_V: Mean rest level, V.
        full_V: Mean level at full travel, V; lower than rest for a reversed control.
        rest_limit_V: Tolerance limit of rest on the side of the travel, V.
        full_limit_V: Tolerance limit of full travel on the side of the travel, V.
        floor_pct: Least distance of the start from rest, per cent of the span.
        step_V: Step in which the controller takes voltages, V; 0 for none.

    Returns:
        The dead band, or None where the limits leave no travel between them.

    Source: floor of 3 %: common practice, no source. Shape: design of this project.
    """
    sign = 1.0 if full_V >= rest_V else -1.0
    span = abs(full_V - rest_V)
    floor = rest_V + sign * span * floor_pct / 100.0
    by_limit = sign * rest_limit_V > sign * floor
    start = _stepped(rest_limit_V if by_limit else floor, step_V, up=sign > 0)
    end = _stepped(full_limit_V, step_V, up=sign < 0)
    if span <= 0.0 or sign * (end - start) <= 0.0:
        return None
    return DeadBand(
        start_V=start,
        end_V=end,
        dead_travel_pct=100.0 * (abs(start - rest_V) + abs(full_V - end)) / span,
        start_decided_by="limit" if by_limit else "floor",
        floor_V=floor,
        limit_V=rest_limit_V,
    )


def _stepped(volts: float, step_V: float, *, up: bool) -> float:
    """Next whole step, up or down, V."""
    if step_V <= 0.0:
        return volts
    steps = volts / step_V
    whole = math.ceil(steps - STEP_TOLERANCE) if up else math.floor(steps + STEP_TOLERANCE)
    decimals = max(0, 3 - math.floor(math.log10(step_V)))
    return round(whole * step_V, decimals)
