"""The controller's own volts: what it shows of the same wire, against what the logger reads."""

from __future__ import annotations

import math
from dataclasses import dataclass

from calib.measure.uncertainty import Component, rectangular_u

# Own choice: two scales disagree when they are farther apart than this many standard
# uncertainties of their difference.
DISAGREE_U = 2.5
# A display rounds, or it cuts digits off; nothing says which. What it shows may lie half a step
# above the truth or a whole step below it: the middle is a quarter of a step up, within three
# quarters of one.
DISPLAY_MIDDLE, DISPLAY_HALF_WIDTH = 0.25, 0.75


@dataclass(frozen=True)
class ShownScale:
    """Straight line from the logger's volts to the controller's.

    Attributes:
        rest_V: Mean rest in the logger's volts.
        full_V: Mean full travel in the logger's volts.
        shown_rest_V: The same in the controller's volts, as its display lets one say.
        shown_full_V: The same at full travel.
        u_shown_V: Standard uncertainty of a shown value.
        u_rest_V: How far the rest that was shown may have been from the mean rest: the standard
            deviation from press to press.
        u_full_V: The same at full travel.
    """

    rest_V: float
    full_V: float
    shown_rest_V: float
    shown_full_V: float
    u_shown_V: float
    u_rest_V: float
    u_full_V: float

    @property
    def gain(self) -> float:
        """Controller's volts a logger's volt, no unit."""
        return (self.shown_full_V - self.shown_rest_V) / (self.full_V - self.rest_V)

    def shown(self, volts: float) -> float:
        """A voltage of the logger's in the controller's volts, V."""
        return self.shown_rest_V + self.gain * (volts - self.rest_V)

    def u_at(self, volts: float) -> float:
        """Standard uncertainty of a mapped voltage, V.

        Source: JCGM 100, eq. (10), for the straight line through two points.
        """
        share = (volts - self.rest_V) / (self.full_V - self.rest_V)
        at_rest = math.hypot(self.u_shown_V, self.gain * self.u_rest_V)
        at_full = math.hypot(self.u_shown_V, self.gain * self.u_full_V)
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


def shown_scale(
    *,
    rest_V: float,
    full_V: float,
    shown_rest_V: float,
    shown_full_V: float,
    shown_step_V: float,
    u_rest_V: float,
    u_full_V: float,
) -> ShownScale | None:
    """The map to the controller's volts, or None where the shown values cannot belong to it.

    Args:
        rest_V: Mean rest, logger's volts.
        full_V: Mean full travel, logger's volts.
        shown_rest_V: What the controller shows at rest.
        shown_full_V: What the controller shows at full travel.
        shown_step_V: Step of the controller's display, V.
        u_rest_V: Standard deviation of rest from press to press, V.
        u_full_V: Standard deviation of full travel from press to press, V.

    Returns:
        The map; None where the shown values stand still or run the other way.

    Source: JCGM 100, 4.3.7 for a display of which only the bounds are known (F.2.2.1 with the
    bounds of one that may cut off, see `DISPLAY_HALF_WIDTH`).
    """
    if (full_V - rest_V) * (shown_full_V - shown_rest_V) <= 0.0:
        return None
    return ShownScale(
        rest_V=rest_V,
        full_V=full_V,
        shown_rest_V=shown_rest_V + DISPLAY_MIDDLE * shown_step_V,
        shown_full_V=shown_full_V + DISPLAY_MIDDLE * shown_step_V,
        u_shown_V=rectangular_u(DISPLAY_HALF_WIDTH * shown_step_V),
        u_rest_V=u_rest_V,
        u_full_V=u_full_V,
    )


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
    ends = (
        ("rest", scale.shown_rest_V - scale.rest_V, u_logger_rest_V, scale.u_rest_V),
        ("full travel", scale.shown_full_V - scale.full_V, u_logger_full_V, scale.u_full_V),
    )
    found = []
    for at, difference_V, u_logger_V, u_level_V in ends:
        u_V = math.sqrt(u_logger_V**2 + u_level_V**2 + scale.u_shown_V**2)
        if abs(difference_V) > DISAGREE_U * u_V:
            found.append(Disagreement(at, difference_V, DISAGREE_U * u_V))
    return tuple(found)
