"""Turn the wheel: the column that gave pulses is its sensor's."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

from calib.guide.protocols import Sound, Step
from calib.guide.seen import Seen
from calib.guide.setup.draft import WHY, Proposed
from calib.guide.setup.plan import Sent
from calib.guide.watch import COUNT_EVERY_S, Watch
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.documents.printed import Origin
from calib.store.text import counted
from calib.wheel.counting import WheelColumn, find_wheel

STILL_S: Final = 3.0
"""Own choice: a wheel that gives no pulse for so long has been let go, s."""

PATIENCE_S: Final = 90.0
"""Own choice: ten turns of a slow hand, and time to begin, s."""

NAME: Final = "wheel"


@dataclass
class TurnedWatch(Watch):
    """An observer that has enough once a column gave pulses and stands, or nothing did for long.

    Attributes:
        skip: Columns that are no wheel's: the clock, and what the rig file knows.
        found: Columns that gave pulses.
    """

    think_every_s = COUNT_EVERY_S
    patience_s = PATIENCE_S

    skip: Collection[int]
    seen: Seen = field(init=False, default_factory=Seen)
    found: list[WheelColumn] = field(init=False, default_factory=list)

    def think(self) -> bool:
        """Which columns have given pulses, and stand now."""
        rows = self.seen.rows
        stands = self.seen.since(self.elapsed_s - STILL_S).start
        if 0 < stands < len(rows):
            self.found = find_wheel(rows[:stands], rows[stands:], self.skip)
        if not self.found and self.left_s > 0.0:
            return False
        self.person.sound(Sound.DONE if self.found else Sound.STOP)
        return True

    def step(self) -> Step:
        """Turn it, and let it stand."""
        return Step("turn", "the wheel by hand, one way; then let it stand", how="10 turns")


def proposals_of(found: Sequence[WheelColumn], sent: Sent) -> Iterator[Proposed]:
    """What the rig file should say of the wheel; nothing where that cannot be told."""
    columns = _told(found)
    for name, each in zip((NAME, f"{NAME}_b"), columns, strict=False):
        table = ("channels", name)
        yield Proposed(table, "role", "wheel", Origin.FOUND, "")
        yield Proposed(table, "column", sent.reference(each.index), Origin.FOUND, WHY["turned"])
        yield Proposed(table, "unit", each.unit, Origin.FOUND, counted(each.pulses, "pulse"))
    if len(columns) > 1:
        why = WHY["both-turned"]
        yield Proposed(("channels", NAME), "second_track", f"{NAME}_b", Origin.ASSUMED, why)


def findings_on(found: Sequence[WheelColumn], sent: Sent) -> Iterator[Finding]:
    """What was told of the wheel; nothing where no column gave pulses."""
    columns = _told(found)
    names = ", ".join(sent.shown(each.index) for each in columns or found)
    if not found:
        return
    if not columns:
        yield said.unknown("part-not-told", channel=NAME, names=names)
        return
    kind = "a running count" if columns[0].unit == "pulses" else "a level"
    second = " and its second track" if len(columns) > 1 else ""
    pulses = float(columns[0].pulses)
    yield said.passes("part-told", pulses, channel=NAME, names=names, second=second, kind=kind)


def _told(found: Sequence[WheelColumn]) -> Sequence[WheelColumn]:
    """The wheel's column, and a second track of levels; none where it cannot be told.

    A running count goes before the levels that it counts.
    """
    counts = [each for each in found if each.unit == "pulses"]
    told = counts or list(found)
    return told if len(told) <= (1 if counts else 2) else []
