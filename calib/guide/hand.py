"""Which verb is due, from what a hand has done with a control so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from calib.controls.presses import FULL_SHARE, LEAST_TRAVEL_V, REST_SHARE, Presses
from calib.guide.protocols import Hold, Step
from calib.guide.recording import gauges_for
from calib.guide.seen import Seen
from calib.measure.plateaus import WINDOW_S
from calib.measure.sliding import edges_of
from calib.store.rig import Rig
from calib.store.samples import Samples

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

HOLD_S = 1.0
"""How long full travel is held; own choice: six times the shortest plateau that is found, so that
a hold that counted live is found again in the capture."""

REST_S = 0.8
"""How long the hand is off between two presses; own choice, as ``HOLD_S``; and long enough to
know rest before the first press. Which end is rest hangs on it: a capture that begins in the hand
takes full travel for rest."""

LAST_REST_S = 0.6
"""Own choice: the last rest is held twice as long as the shortest hold that is promised."""

NOW_S = WINDOW_S + 0.15
"""How old the end of a plateau may be that still goes on: own choice, the window in which stillness
is judged and the longest stretch between two looks at the line."""

STAND_S = 0.15
STAND_SHARE = 0.02
"""Own choice: a hand has arrived when the mean over so long, s, changes by less than this share of
the travel; a tremble is averaged away, a slow thumb arrives within five per cent of the end."""

WRONG_V = 2.0 * LEAST_TRAVEL_V
"""Own choice: twice the least span of a control; no cross-talk of a sound harness comes near."""

FIRST_S = 0.5
"""What of a control's readings is taken for its rest, s; own choice."""


class Where(Enum):
    """Where the control is."""

    UNKNOWN = "unknown"
    REST = "rest"
    MOVING = "moving"
    PART = "part"
    FULL = "full"


@dataclass(frozen=True, slots=True)
class Hand:
    """What a hand does now.

    Attributes:
        where: Where the control is.
        held_s: How long this press has stood at full travel, s.
        rested_s: How long the control has stood at rest, s.
        counted: Presses whose hold has counted, this one included.
    """

    where: Where
    held_s: float = 0.0
    rested_s: float = 0.0
    counted: int = 0


def hand_now(presses: Presses, time_s: Floats) -> Hand:
    """What the hand does now, by where the control has been since it last left rest.

    Args:
        presses: What was counted so far.
        time_s: Times of all readings so far, s, shape (n,).
    """
    grid, first = presses.plateaus.grid, presses.plateaus.grid_first
    known = np.isfinite(grid)
    if not known.any() or presses.rest_V is None:
        return Hand(Where.UNKNOWN)
    at_s, volts = time_s[first[known]], grid[known]
    if not presses.worked:
        found = presses.plateaus.found
        stands = bool(found) and found[-1].end_s >= at_s[-1] - NOW_S
        rested_s = found[-1].hold_s if stands else 0.0
        return Hand(Where.REST if stands else Where.UNKNOWN, rested_s=rested_s)
    share = (volts - presses.rest_V) / presses.travel_V
    stands = _stands(at_s, share)
    away = share > REST_SHARE
    starts, stops = edges_of(away)  # the last of them is the press under way, or the newest
    left = slice(int(starts[-1]), int(stops[-1])) if len(starts) else slice(0, 0)
    since_s = float(at_s[left.start])
    part_s = np.diff(at_s[left], append=at_s[min(left.stop, len(at_s) - 1)])
    at_end = stands[left] & (share[left] >= FULL_SHARE)
    held_s = float(np.sum(part_s[at_end])) + (STAND_S if at_end.any() else 0.0)
    is_told = any(press.let_go_s > since_s for press in presses.presses)
    counted = presses.count + int(held_s >= HOLD_S and not is_told)
    if not away[-1]:
        rested_s = float(at_s[-1] - at_s[min(left.stop, len(at_s) - 1)]) if away.any() else 0.0
        return Hand(Where.REST, rested_s=rested_s, counted=counted)
    full = Where.FULL if share[-1] >= FULL_SHARE else Where.PART
    return Hand(full if stands[-1] else Where.MOVING, held_s, counted=counted)


def _stands(at_s: Floats, share: Floats) -> Flags:
    """Where the control moves no faster than a hand that has arrived; shape (n,)."""
    step_s = float(np.median(np.diff(at_s))) if len(at_s) > 1 else STAND_S
    width = max(1, round(STAND_S / max(step_s, 1e-6)))
    total = np.concatenate([[0.0], np.cumsum(share)])
    index = np.arange(len(share))
    middle, start = np.maximum(index + 1 - width, 0), np.maximum(index + 1 - 2 * width, 0)
    late = (total[index + 1] - total[middle]) / np.maximum(index + 1 - middle, 1)
    early = (total[middle] - total[start]) / np.maximum(middle - start, 1)
    slow: Flags = (np.abs(late - early) < STAND_SHARE) & (middle > start)
    return slow


def press_step(
    hand: Hand,
    name: str,
    wanted: int,
    *,
    how: str = "",
    release: str = "",
    needs: tuple[str, ...] = (),
) -> Step:
    """The verb that is due: press, hold with what is left of it, let go.

    Args:
        hand: What the hand does now.
        name: The control.
        wanted: How many presses are wanted.
        how: In which way to press.
        release: In which way to let go.
        needs: What is still needed.
    """
    done = min(hand.counted, wanted)
    away = hand.where in (Where.MOVING, Where.PART, Where.FULL)
    if hand.held_s >= HOLD_S or (away and hand.counted >= wanted):
        detail = "all the way back, and hand off"
        return Step("let go", detail, done, wanted, needs, control=name, how=release)
    if hand.where is Where.FULL:
        hold = Hold(hand.held_s, HOLD_S)
        return Step("hold", "stay at the end", done, wanted, needs, control=name, hold=hold)
    if hand.where is Where.PART:
        detail = "further, to the end; then hold"
        return Step("press", detail, done, wanted, needs, control=name, how="all the way")
    if (not away and hand.rested_s < REST_S) or hand.counted >= wanted:
        hold = Hold(hand.rested_s, REST_S)
        verb = "let go" if hand.counted else "hand off"
        return Step(verb, "hand off", done, wanted, needs, control=name, hold=hold)
    return Step("press", "all the way, and stay there", done, wanted, needs, control=name, how=how)


class Others:
    """Controls that were not asked for: which of them is being worked in place of another."""

    def __init__(self, rig: Rig, columns: Sequence[str], asked: str) -> None:
        """Look at every control that the line carries but ``asked`` and its second track."""
        pair = {asked, rig.channels[asked].second_track}
        pair |= {name for name, each in rig.channels.items() if each.second_track == asked}
        names = [name for name in rig.with_role("control") if name not in pair]
        self._seen = Seen(gauges_for(rig, columns, names))
        self._first = 0

    def take(self, samples: Samples) -> None:
        """Take in a run of samples."""
        self._seen.take(samples)
        if not self._first and len(samples) and samples.time_s[-1] >= FIRST_S:
            self._first = len(self._seen)

    @property
    def worked(self) -> str:
        """The control that is away from where it was let alone; empty where none is."""
        names, rows = list(self._seen.gauges), self._seen.rows
        if not self._first or not names:
            return ""
        was, now = np.median(rows[: self._first], axis=0), np.median(rows[-5:], axis=0)
        away = np.nan_to_num(np.abs(now - was))
        most = int(np.argmax(away))
        return names[most] if away[most] > WRONG_V else ""
