"""Two standings of the machine, no column known for tilt yet, and what they say of its sensor."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from calib.book import entries
from calib.guide import tilt
from calib.guide.protocols import Hold, Step
from calib.guide.seen import Floats, Seen
from calib.guide.setup.draft import WHY, Proposed
from calib.guide.setup.plan import Sent
from calib.guide.watch import Watch
from calib.link.detect.numbers import guess_unit
from calib.measure.sliding import Run
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.documents.printed import Origin
from calib.store.samples import Samples
from calib.tilt.stillness import WINDOW_S, find_rests
from calib.tilt.which import TiltColumns, Triple

POSES: Final = (tilt.asked_for("setup/upright"), tilt.asked_for("setup/front raised"))
"""The two standings, in their order."""

MOST_DEG = 90.0
"""Numbers with decimals within this are taken for degrees: own choice."""

STAND_S: Final = 3.0
"""How long a standing is listened to, s: own choice; what is looked for is many times the noise."""

MOVED_S: Final = 0.8
"""Own choice: shortest movement, s; a wheel rolled onto a plank takes two, of which a noisy sensor
shows half."""

LEAST_SHIFT: Final = 2.0
"""Own choice: a shift of the mean from one window to the next that may be a slow movement, in the
noise of the column."""


@dataclass
class StandWatch(Watch):
    """An observer that has enough once the machine was moved and has stood still since.

    Attributes:
        asked: The standing.
        skip: Columns that are no tilt: clock and controls.
        still_rows: Readings at the end of what was seen that belong to the standing.
    """

    think_every_s = tilt.THINK_EVERY_S
    patience_s = tilt.MOVE_PATIENCE_S

    asked: tilt.Asked
    skip: Collection[int]
    seen: Seen = field(init=False, default_factory=Seen)
    still_rows: int = field(init=False, default=0)
    _moved: bool = field(init=False, default=False)
    _held_s: float = field(init=False, default=0.0)

    def take(self, samples: Samples) -> None:  # noqa: ARG002 (a key says it, not the line)
        """Enter says that it stands ready."""
        if self.person.entered():
            self._moved = True

    def think(self) -> bool:
        """Whether it has moved, and stands for long enough since."""
        cut, rate_hz = self.seen.thinned(self.elapsed_s - tilt.LOOK_BACK_S, tilt.LOOK_HZ)
        rows = self.seen.rows[cut]
        looked_at = [index for index in range(rows.shape[1]) if index not in self.skip]
        if not rate_hz or not looked_at:
            return False
        thin = np.nan_to_num(rows[:, looked_at])
        stretches = rests_of_columns(thin, rate_hz)
        if not self._moved and tilt.longest_movement_s(stretches, len(thin), rate_hz) >= MOVED_S:
            self._moved = True
            self.news()
        stands = bool(stretches) and stretches[-1].stop >= len(thin) - round(WINDOW_S * rate_hz)
        self._held_s = len(stretches[-1]) / rate_hz if stands and self._moved else 0.0
        first = cut.start + stretches[-1].first * cut.step if stands else len(self.seen)
        self.still_rows = len(self.seen) - first
        return self._held_s >= STAND_S and self.done()

    def step(self) -> Step:
        """Move it, then let it stand."""
        if not self._moved:
            return Step(self.asked.verb, self.asked.detail)
        hold = Hold(min(self._held_s, STAND_S), STAND_S)
        return Step("stand still", f"{self.asked.what}: until it stands", hold=hold)

    def missing(self) -> str:
        """It was not moved, or moves on."""
        missing = "did not stand still" if self._moved else "was not moved"
        return f"{self.asked.what}: the machine {missing}"


def rests_of_columns(rows: Floats, rate_hz: float) -> tuple[Run, ...]:
    """The still stretches of columns in units that nobody knows yet.

    Each column counts by its own noise, which is taken from neighbouring readings: a coarse one
    that does not change has half its step for noise.

    Args:
        rows: Readings, shape (n, columns).
        rate_hz: Readings a second.
    """
    steps = np.abs(np.diff(rows, axis=0))
    least = np.array([column[column > 0.0].min(initial=np.inf) for column in steps.T])
    noise = np.maximum(np.median(steps, axis=0), 0.5 * np.where(np.isfinite(least), least, 1.0))
    return find_rests(
        rows / noise, rate_hz, most_unrest=np.inf, least_s=0.5, least_shift=LEAST_SHIFT
    )


def proposals_of(found: TiltColumns, sent: Sent) -> Iterator[Proposed]:
    """What the rig file should say of the tilt sensor."""
    if found.triple is not None:
        yield from _accelerometer(found.triple, sent)
    if len(found.angles) == 1:
        table, index = ("channels", "pitch"), found.angles[0]
        yield Proposed(table, "role", "pitch", Origin.FOUND, "")
        yield Proposed(table, "column", sent.reference(index), Origin.FOUND, WHY["raised"])
        if _looks_like_degrees(sent, index):
            yield Proposed(table, "unit", "deg", Origin.ASSUMED, WHY["degrees"])


def _accelerometer(triple: Triple, sent: Sent) -> Iterator[Proposed]:
    columns, words, length = (triple.x, triple.y, triple.z), entries("setup"), WHY["length"]
    for axis, index, sign in zip("xyz", columns, triple.signs, strict=True):
        table = ("channels", f"accel_{axis}")
        yield Proposed(table, "role", f"accel-{axis}", Origin.FOUND, "")
        why = words["axis"][axis]
        yield Proposed(table, "column", sent.reference(index), Origin.FOUND, why)
        origin = Origin.ASSUMED if axis == "y" else Origin.FOUND
        yield Proposed(table, "sign", sign, origin, words["sign"][axis])
        yield Proposed(table, "unit", triple.unit, Origin.FOUND, length)
        if triple.counts_per_g is not None and triple.zero_count is not None:
            yield Proposed(table, "counts_per_g", triple.counts_per_g, Origin.FOUND, length)
            yield Proposed(table, "zero_count", triple.zero_count, Origin.FOUND, length)


def _looks_like_degrees(sent: Sent, index: int) -> bool:
    column = sent.columns[index]
    within = max(abs(column.low), abs(column.high)) <= MOST_DEG
    return guess_unit(column).unit is None and not column.whole and within


def findings_on(found: TiltColumns, sent: Sent) -> Iterator[Finding]:
    """What was told of the tilt sensor, and what was not."""
    if found.triple is not None:
        columns = ", ".join(sent.shown(getattr(found.triple, axis)) for axis in "xyz")
        yield said.passes("accelerometer-told", columns=columns)
    if len(found.angles) == 1:
        yield said.passes("pitch-told", channel="pitch", column=sent.shown(found.angles[0]))
    elif len(found.angles) > 1:
        names = ", ".join(sent.shown(index) for index in found.angles)
        yield said.unknown("pitch-not-told", names=names)
    elif found.triple is None:
        yield said.unknown("tilt-not-told")
