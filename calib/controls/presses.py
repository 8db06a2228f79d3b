"""Counts the presses of a hand control, live or afterwards, from where it stands still."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from calib.measure.plateaus import Plateau, Plateaus, find_plateaus

Floats = NDArray[np.float64]

# Own choice: a plateau belongs to full travel when it stands within this share of the largest
# travel seen, and to rest when it stands within as much of rest.
FULL_SHARE = 0.85
REST_SHARE = 0.15
# Own choice: a control that moved less than this many still windows' ranges did not move.
LEAST_TRAVEL_RANGES = 8.0
# Own choice, because no hand control in use has a span below it (needs: at least 2 V on 5 V).
LEAST_TRAVEL_V = 0.15
# Own choice: no hand or spring crosses this share of the range within this time both on the way
# in and on the way out; a line that breaks and makes contact again does.
JUMP_SHARE = 0.2
JUMP_S = 0.012
# Own choice: an excursion that is over within this time and has no still part is a glitch of the
# line or a drop-out; the quickest hand needs longer to press and let go.
SHORTEST_PRESS_S = 0.08


class Place(Enum):
    """Where in the travel a plateau stands."""

    REST = "rest"
    PART = "part"
    FULL = "full"
    BEYOND = "beyond"


@dataclass(frozen=True)
class Press:
    """One full press and its release.

    Attributes:
        leave_s: When the control left rest, s.
        full_s: When it first stood still at full travel, s.
        let_go_s: When it left full travel for the last time, s.
        back_s: When it stood still at rest again, s.
    """

    leave_s: float
    full_s: float
    let_go_s: float
    back_s: float

    @property
    def return_s(self) -> float:
        """Time from letting go to standing still at rest, s."""
        return self.back_s - self.let_go_s


@dataclass(frozen=True)
class Presses:
    """What a hand did with a control.

    Attributes:
        presses: Full presses with their release, in order.
        half: Count of presses that were let go before 85 % of the largest travel.
        unheld: Count of presses that reached full travel but did not stand still there.
        worked: Whether the control moved at all.
        released: Whether it stands (or last stood) at rest.
        pressed_now: Whether it last stood at full or part travel.
        starts_at_rest: Whether the first plateau is a rest plateau.
        reversed: Whether rest is the higher voltage.
        rest_level: Median level of the rest plateaus, V; None where there is none.
        places: Place of each plateau in `plateaus.found`.
        stays: For each plateau, the number of its stay: rest plateaus between the same two
            presses (and full plateaus of one press) share one.
        plateaus: The plateaus.
    """

    presses: tuple[Press, ...]
    half: int
    unheld: int
    worked: bool
    released: bool
    pressed_now: bool
    starts_at_rest: bool
    reversed: bool
    rest_level: float | None
    places: tuple[Place, ...]
    stays: tuple[int, ...]
    plateaus: Plateaus

    @property
    def count(self) -> int:
        """Full presses with their release."""
        return len(self.presses)


def count_presses(
    time_s: Floats, volts: Floats, *, lsb_V: float = 0.0, gaps: Sequence[int] = ()
) -> Presses:
    """Presses of a control seen so far; cheap enough to be called five times a second.

    The hand is taken to be off the control when the capture begins: the first plateau is rest
    unless the control later stands most often, and last, at the other end.

    Args:
        time_s: Times, s, shape (n,).
        volts: Readings, V, shape (n,); NaN means missing.
        lsb_V: Step of the converter, V.
        gaps: Indices of readings before which the record has a gap.

    Returns:
        What was counted; the same as `measure_travel` counts on the same readings.

    Source: own choice of method.
    """
    return sort_presses(find_plateaus(time_s, volts, lsb=lsb_V, gaps=gaps))


def sort_presses(plateaus: Plateaus) -> Presses:
    """Presses from plateaus already found. Source: own choice of method."""
    found = plateaus.found
    levels = np.array([plateau.level for plateau in found])
    least = max(LEAST_TRAVEL_V, LEAST_TRAVEL_RANGES * plateaus.still_range)
    if not found or plateaus.span < least:
        return _unmoved(plateaus)
    jumps = [_jumps(plateaus, plateau) for plateau in found]
    steady = [plateau for plateau, jump in zip(found, jumps, strict=True) if not jump]
    if not steady:
        return _unmoved(plateaus)
    rest, full = _ends(steady)
    if abs(full - rest) < least:
        # It moved, but stood still at one level only: flicked and never held.
        full = _farthest(plateaus, rest)
    travel = (levels - rest) / (full - rest)
    places = tuple(
        Place.BEYOND if jump else _place(float(share))
        for share, jump in zip(travel, jumps, strict=True)
    )
    presses, half, unheld, stays = _walk(plateaus, places, rest, full)
    rest_levels = levels[[place is Place.REST for place in places]]
    last = next(place for place in reversed(places) if place is not Place.BEYOND)
    return Presses(
        presses=tuple(presses),
        half=half,
        unheld=unheld,
        worked=True,
        released=last is Place.REST,
        pressed_now=_share_now(plateaus, rest, full) > REST_SHARE,
        starts_at_rest=places[0] is Place.REST,
        reversed=full < rest,
        rest_level=float(np.median(rest_levels)) if rest_levels.size else None,
        places=places,
        stays=tuple(stays),
        plateaus=plateaus,
    )


def _unmoved(plateaus: Plateaus) -> Presses:
    found = plateaus.found
    return Presses(
        presses=(),
        half=0,
        unheld=0,
        worked=False,
        released=bool(found),
        pressed_now=False,
        starts_at_rest=bool(found),
        reversed=False,
        rest_level=float(np.median([p.level for p in found])) if found else None,
        places=(Place.REST,) * len(found),
        stays=(0,) * len(found),
        plateaus=plateaus,
    )


def _ends(found: Sequence[Plateau]) -> tuple[float, float]:
    """Rest and full level, V: rest is where the first plateau stands, full the far end."""
    levels = np.array([plateau.level for plateau in found])
    low, high = float(levels.min()), float(levels.max())
    near_low = levels <= low + REST_SHARE * (high - low)
    near_high = levels >= high - REST_SHARE * (high - low)
    low_level, high_level = float(np.median(levels[near_low])), float(np.median(levels[near_high]))
    middle = 0.5 * (low_level + high_level)
    low_is_rest = bool(levels[0] < middle)
    if low_is_rest != bool(levels[-1] < middle):
        # Began or ended in the hand: a control stands at rest more often than it is held.
        low_count, high_count = int(near_low.sum()), int(near_high.sum())
        if low_count != high_count:
            low_is_rest = low_count > high_count
    return (low_level, high_level) if low_is_rest else (high_level, low_level)


def _jumps(plateaus: Plateaus, plateau: Plateau) -> bool:
    """Whether a plateau is entered and left faster than any hand or spring can."""
    grid, span = plateaus.grid, plateaus.span
    if len(plateaus.grid_first) < 2:
        return False
    block = int(plateaus.grid_first[1])
    reach = int(JUMP_S * plateaus.rate_hz / block)
    before, after = plateau.first // block - reach, -(-plateau.stop // block) + reach - 1
    if reach < 1 or before < 0 or after >= len(grid):
        return False
    far = JUMP_SHARE * span
    return bool(min(abs(grid[before] - plateau.level), abs(grid[after] - plateau.level)) > far)


def _farthest(plateaus: Plateaus, rest: float) -> float:
    """Level farthest from rest that the signal reached, V, single glitches aside."""
    grid = plateaus.grid[np.isfinite(plateaus.grid)]
    low, high = np.quantile(grid, [0.001, 0.999]) if len(grid) > 2000 else (grid.min(), grid.max())
    return float(low if rest - low > high - rest else high)


def _place(share: float) -> Place:
    if abs(share) <= REST_SHARE:
        return Place.REST
    if not 0.0 <= share <= 1.0 + REST_SHARE:
        return Place.BEYOND
    return Place.FULL if share >= FULL_SHARE else Place.PART


def _share_now(plateaus: Plateaus, rest: float, full: float) -> float:
    tail = plateaus.grid[-3:]
    tail = tail[np.isfinite(tail)]
    return (float(np.median(tail)) - rest) / (full - rest) if tail.size else 0.0


def _walk(
    plateaus: Plateaus, places: tuple[Place, ...], rest: float, full: float
) -> tuple[list[Press], int, int, list[int]]:
    """Walks the plateaus in time: rest, whatever happened, rest again."""
    presses: list[Press] = []
    half = unheld = stay = 0
    stays: list[int] = []
    last_rest: Plateau | None = None
    held: list[Plateau] = []
    for plateau, place in zip(plateaus.found, places, strict=True):
        if place is Place.FULL:
            stay += int(not held)
            held.append(plateau)
        elif place is Place.REST and held:
            if last_rest is not None:
                presses.append(_press(last_rest, held, plateau))
            stay, last_rest, held = stay + 1, plateau, []
        elif place is Place.REST:
            if last_rest is not None:
                reached = _reached(plateaus, last_rest, plateau, rest, full)
                half += int(REST_SHARE < reached < FULL_SHARE)
                unheld += int(reached >= FULL_SHARE)
                stay += int(reached > REST_SHARE)
            last_rest = plateau
        stays.append(stay)
    return presses, half, unheld, stays


def _press(before: Plateau, held: list[Plateau], after: Plateau) -> Press:
    return Press(
        leave_s=before.end_s,
        full_s=held[0].start_s,
        let_go_s=held[-1].end_s,
        back_s=after.start_s,
    )


def _reached(
    plateaus: Plateaus, before: Plateau, after: Plateau, rest: float, full: float
) -> float:
    """Largest share of the travel between two rest plateaus; 0 for a glitch or a drop-out."""
    if after.start_s - before.end_s < SHORTEST_PRESS_S:
        return 0.0
    block = plateaus.grid_first
    a, b = np.searchsorted(block, [before.stop, after.first])
    between = plateaus.grid[a:b]
    share = (between[np.isfinite(between)] - rest) / (full - rest)
    if share.size == 0 or float(share.min()) < -REST_SHARE:
        return 0.0
    reached = float(share.max())
    return 0.0 if reached > 1.0 + REST_SHARE else min(reached, 1.0)
