"""The controller's own volts: what it shows of the same wire, against what the logger reads."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from calib.measure.uncertainty import Component, rectangular_u

# Own choice: two scales disagree when they are farther apart than this many standard
# uncertainties of their difference.
DISAGREE_U = 2.5
# A display rounds, or it cuts digits off; nothing says which. What it shows may lie half a step
# above the truth or a whole step below it: the middle is a quarter of a step up, within three
# quarters of one.
DISPLAY_MIDDLE, DISPLAY_HALF_WIDTH = 0.25, 0.75


@dataclass(frozen=True)
class ShownEnd:
    """One end of the travel in both volts.

    Attributes:
        mean_V: Its mean in the logger's volts.
        shown_V: The same in the controller's volts.
        u_V: How far the level that was shown may have been from the mean one: the standard
            deviation from press to press, in the logger's volts.
    """

    mean_V: float
    shown_V: float
    u_V: float


@dataclass(frozen=True)
class ShownScale:
    """Straight line from the logger's volts to the controller's.

    Attributes:
        rest: Rest, as the display lets one say.
        full: Full travel, likewise.
        u_shown_V: Standard uncertainty of a shown value.
    """

    rest: ShownEnd
    full: ShownEnd
    u_shown_V: float

    @property
    def gain(self) -> float:
        """Controller's volts a logger's volt, no unit."""
        return (self.full.shown_V - self.rest.shown_V) / (self.full.mean_V - self.rest.mean_V)

    def shown(self, volts: float) -> float:
        """A voltage of the logger's in the controller's volts, V."""
        return self.rest.shown_V + self.gain * (volts - self.rest.mean_V)

    def u_at(self, volts: float) -> float:
        """Standard uncertainty of a mapped voltage, V.

        Source: JCGM 100, eq. (10), for the straight line through two points.
        """
        share = (volts - self.rest.mean_V) / (self.full.mean_V - self.rest.mean_V)
        at_rest = math.hypot(self.u_shown_V, self.gain * self.rest.u_V)
        at_full = math.hypot(self.u_shown_V, self.gain * self.full.u_V)
        return math.hypot((1.0 - share) * at_rest, share * at_full)

    def display_component(self, volts: float) -> Component:
        """The display's share of a level's uncertainty, in the logger's volts."""
        return Component("controller's display", self.u_at(volts) / abs(self.gain), "B")


@dataclass(frozen=True)
class Disagreement:
    """Where the two scales are farther apart than both can explain.

    Attributes:
        at: "rest" or "full travel".
        difference_V: Controller's volts less logger's.
        allowed_V: What both scales can explain.
    """

    at: str
    difference_V: float
    allowed_V: float


def shown_scale(rest: ShownEnd, full: ShownEnd, *, step_V: float) -> ShownScale | None:
    """The map to the controller's volts, or None where the shown values cannot belong to it.

    Args:
        rest: Rest, as it was read off the display.
        full: Full travel, likewise.
        step_V: Step of the controller's display, V.

    Returns:
        The map; None where the shown values stand still or run the other way.

    Source: JCGM 100, 4.3.7 for a display of which only the bounds are known (F.2.2.1 with the
    bounds of one that may cut off, see `DISPLAY_HALF_WIDTH`).
    """
    if (full.mean_V - rest.mean_V) * (full.shown_V - rest.shown_V) <= 0.0:
        return None
    rest, full = (
        replace(end, shown_V=end.shown_V + DISPLAY_MIDDLE * step_V) for end in (rest, full)
    )
    return ShownScale(rest, full, rectangular_u(DISPLAY_HALF_WIDTH * step_V))


def disagreements(
    scale: ShownScale, *, u_logger_rest_V: float, u_logger_full_V: float
) -> tuple[Disagreement, ...]:
    """Ends at which logger and controller disagree by more than both can explain.

    Args:
        scale: The map.
        u_logger_rest_V: Standard uncertainty of the logger's scale at rest, V.
        u_logger_full_V: The same at full travel.

    Source: own choice of `DISAGREE_U`; JCGM 100, 5.1.2 for the difference.
    """
    ends = (("rest", scale.rest, u_logger_rest_V), ("full travel", scale.full, u_logger_full_V))
    found = []
    for at, end, u_logger_V in ends:
        difference_V = end.shown_V - end.mean_V
        u_V = math.hypot(u_logger_V, end.u_V, scale.u_shown_V)
        if abs(difference_V) > DISAGREE_U * u_V:
            found.append(Disagreement(at, difference_V, DISAGREE_U * u_V))
    return tuple(found)
