"""Fault window: voltages that a hand never makes and that a broken wire should."""

from __future__ import annotations

from dataclasses import dataclass

# Own choice, because a rail is never quite reached: an open ground leaves 4.75 to 5.0 V and an
# open supply 0 to 0.25 V on a 5 V part (two data sheets of programmable Hall sensors).
RAIL_SHARE = 0.05
# Own choice: least room between the highest plausible reading of the hand and a rail's reach for
# a threshold to stand between them, as a share of the supply.
LEAST_ROOM_SHARE = 0.02


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
        low_V=low,
        high_V=high,
        room_low_V=room_low,
        room_high_V=room_high,
        unreadable_V=unreadable,
    )


def _nearest(volts: float, step_V: float) -> float:
    return round(round(volts / step_V) * step_V, 6) if step_V > 0.0 else volts
