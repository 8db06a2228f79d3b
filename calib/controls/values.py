"""The values to type in, V: where a control acts from and in full, and where no hand can be."""

from __future__ import annotations

import math
from dataclasses import dataclass

from calib.store.documents.travel import DeadBand

# Common practice, no source: the start stands at least this share of the span above rest.
FLOOR_PCT = 3.0
# Own choice: what differs from a whole step by less than this share of one is that step.
STEP_TOLERANCE = 1e-6
# Own choice, because a rail is never quite reached: an open ground leaves 4.75 to 5.0 V and an
# open supply 0 to 0.25 V on a 5 V part (two data sheets of programmable Hall sensors).
RAIL_SHARE = 0.05
# Own choice: least room between the highest plausible reading of the hand and a rail's reach for
# a threshold to stand between them, as a share of the supply.
LEAST_ROOM_SHARE = 0.02


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
        step_V: Step in which the controller takes voltages, V, above 0.

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
        start=start,
        end=end,
        dead_travel_pct=100.0 * (abs(start - rest_V) + abs(full_V - end)) / span,
        start_decided_by="limit" if by_limit else "floor",
        step=step_V,
        floor=floor,
        limit=rest_limit_V,
    )


def whole_steps(value: float, step: float, *, up: bool) -> int:
    """How many steps lead to the next whole one, up or down."""
    steps = value / step
    return math.ceil(steps - STEP_TOLERANCE) if up else math.floor(steps + STEP_TOLERANCE)


def _stepped(volts: float, step_V: float, *, up: bool) -> float:
    """Next whole step, up or down, V."""
    decimals = max(0, 3 - math.floor(math.log10(step_V)))
    return round(whole_steps(volts, step_V, up=up) * step_V, decimals)


@dataclass(frozen=True)
class FaultWindow:
    """Thresholds outside which a reading means a broken wire, V; None where there is no room.

    Attributes:
        low_V: Below this a wire is broken.
        high_V: Above this a wire is broken.
        room_low_V: Distance from the lowest plausible reading of the hand down to what a broken
            wire may read near the lower rail, V.
        room_high_V: The same at the upper rail, V.
        unreadable_V: The upper threshold that there would be, V, were it not beyond what this
            logger can read; None where it is not.
    """

    low_V: float | None
    high_V: float | None
    room_low_V: float
    room_high_V: float
    unreadable_V: float | None = None


def fault_window(
    *,
    lowest_V: float,
    highest_V: float,
    supply_V: float,
    step_V: float = 0.01,
    output_range_V: tuple[float, float] | None = None,
    most_readable_V: float | None = None,
) -> FaultWindow:
    """Fault window between the limits of the hand and the reach of the rails, V.

    Each threshold stands half way between the outermost tolerance limit of the hand and the
    reach of the rail (5 % of the supply).

    Args:
        lowest_V: Lower tolerance limit of the end that reads lower, V.
        highest_V: Upper tolerance limit of the end that reads higher, V.
        supply_V: Supply of the sensor, V.
        step_V: Step in which the controller takes voltages, V.
        output_range_V: The sensor's published output range, V; a sound sensor on another day
            may use all of it, so that the thresholds stay outside of it too. None if unknown.
        most_readable_V: Highest voltage that the logger can read, V; None if unknown.

    Returns:
        The window. What this logger cannot read, nobody has seen or can prove with it.

    Source: own choice, because half the room is equally far from both mistakes. What a broken
    wire really reads is proven only by pulling it.
    """
    reach = RAIL_SHARE * supply_V
    if output_range_V is not None:
        lowest_V = min(lowest_V, output_range_V[0])
        highest_V = max(highest_V, output_range_V[1])
    room_low, room_high = lowest_V - reach, supply_V - reach - highest_V
    least = max(LEAST_ROOM_SHARE * supply_V, 2.0 * step_V)
    low = _nearest(reach + 0.5 * room_low, step_V) if room_low >= least else None
    high = _nearest(highest_V + 0.5 * room_high, step_V) if room_high >= least else None
    unreadable = None
    if high is not None and most_readable_V is not None and high > most_readable_V:
        unreadable, high = high, None
    return FaultWindow(
        low_V=low, high_V=high, room_low_V=room_low, room_high_V=room_high, unreadable_V=unreadable
    )


def _nearest(volts: float, step_V: float) -> float:
    return round(round(volts / step_V) * step_V, 6)
