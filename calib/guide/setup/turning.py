"""Turn the wheel: the column that gave pulses is its sensor's."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Final

import numpy as np

from calib.guide.growing import Growing
from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.setup.draft import Proposed
from calib.guide.setup.plan import Sent
from calib.guide.telling import Telling
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.setup import Origin
from calib.store.samples import Samples
from calib.store.text import counted, neutral
from calib.wheel.which import WheelColumn, find_wheel

REST_S: Final = 2.5
"""Rest before the wheel is touched, s: own choice, as for the parts that are worked."""

STILL_S: Final = 2.0
"""Own choice: a wheel that gives no pulse for so long has been let go, s."""

PATIENCE_S: Final = 40.0
"""Own choice: as for the parts that are worked, s."""

LOOK_EVERY_S: Final = 0.2
"""Own choice: device time between two looks, s."""

NAME: Final = "wheel"
_WHY: Final = "it gave pulses when the wheel was turned"


class TurnedWatch:
    """An observer that has enough once a column gave pulses and stands, or nothing did for long."""

    def __init__(
        self,
        person: Person,
        columns: int,
        skip: Collection[int],
        *,
        clock: Callable[[], float],
    ) -> None:
        """Prepare to look on.

        Args:
            person: Turns the wheel.
            columns: How many columns the line carries.
            skip: Columns that are no wheel's: the clock, and what the rig file knows.
            clock: The host's clock, s.
        """
        self._person = person
        self._skip = skip
        self._telling = Telling(person, clock, patience_s=PATIENCE_S)
        self._values = [Growing() for _ in range(columns)]
        self._rest_rows = 0
        self._looked_s = self._pulse_s = 0.0
        self.found: list[WheelColumn] = []

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        self._telling.take(samples)
        for index, column in enumerate(self._values):
            column.extend(samples.values[:, index])
        now_s = self._telling.elapsed_s
        if now_s >= REST_S and not self._rest_rows:
            self._rest_rows = len(self._values[0])
            self._telling.news()
        if self._rest_rows and now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = now_s
            self._look()
        over = bool(self.found) and now_s - self._pulse_s >= STILL_S
        if over or self._telling.left_s <= 0.0:
            self._person.sound(Sound.DONE if over else Sound.STOP)
            return True
        self._telling.show(self._step(now_s), ())
        return False

    def _look(self) -> None:
        """Which columns have given pulses, and whether more have come."""
        rows = np.column_stack([column.array for column in self._values])
        found = find_wheel(rows[: self._rest_rows], rows[self._rest_rows :], self._skip)
        if found != self.found:
            self.found, self._pulse_s = found, self._looked_s
            self._telling.news()

    def _step(self, now_s: float) -> Step:
        if not self._rest_rows:
            return Step("hands off", "touch nothing yet", hold=Hold(now_s, REST_S))
        return Step("turn", "the wheel by hand, one way; then let it stand", how="10 turns")


def proposals_of(found: Sequence[WheelColumn], sent: Sent) -> Iterator[Proposed]:
    """What the rig file should say of the wheel; nothing where that cannot be told."""
    columns = _told(found)
    for name, each in zip((NAME, f"{NAME}_b"), columns, strict=False):
        table = ("channels", name)
        yield Proposed(table, "role", "wheel", Origin.FOUND, "")
        yield Proposed(table, "column", sent.reference(each.index), Origin.FOUND, _WHY)
        yield Proposed(table, "unit", each.unit, Origin.FOUND, counted(each.pulses, "pulse"))
    if len(columns) > 1:
        why = "both gave pulses when the wheel was turned"
        yield Proposed(("channels", NAME), "second_track", f"{NAME}_b", Origin.ASSUMED, why)


def findings_on(found: Sequence[WheelColumn], sent: Sent) -> Iterator[Finding]:
    """What was told of the wheel; nothing where no column gave pulses."""
    columns = _told(found)
    names = ", ".join(neutral(str(sent.reference(each.index)), 40) for each in columns or found)
    if not found:
        return
    if not columns:
        yield Finding(
            code="part-not-told",
            severity=Severity.UNKNOWN,
            text=f"Columns {names} all gave pulses: which is the wheel?",
            action=f"State --column {NAME}=COLUMN.",
            channel=NAME,
        )
        return
    kind = "a running count" if columns[0].unit == "pulses" else "a level"
    second = " and its second track" if len(columns) > 1 else ""
    yield Finding(
        code="part-told",
        severity=Severity.PASS,
        text=f"{NAME} is column {names}{second}, {kind}: {counted(columns[0].pulses, 'pulse')}.",
        value=float(columns[0].pulses),
        action=f"'calib {NAME}' counts them by the turn.",
        channel=NAME,
    )


def _told(found: Sequence[WheelColumn]) -> Sequence[WheelColumn]:
    """The wheel's column, and a second track of levels; none where it cannot be told.

    A running count goes before the levels that it counts.
    """
    counts = [each for each in found if each.unit == "pulses"]
    told = counts or list(found)
    return told if len(told) <= (1 if counts else 2) else []
