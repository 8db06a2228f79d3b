"""Work the throttle: the column that moved is the throttle. Hands-free, one part after another."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.controls.worked import Mover, find_movers, move_together, rivals
from calib.guide.growing import Growing
from calib.guide.protocols import Hold, Person, Reading, Sound, Step
from calib.guide.telling import Telling
from calib.store.samples import Samples

REST_S = 2.5
"""Rest before anything is touched, s: own choice, long enough for the noise of every column."""

WORKS = 2
"""How often a part is to be worked: own choice; once may be a bump, and the second must agree."""

PATIENCE_S = 40.0
"""Time, s, after which a part that moves nothing is left: own choice, as a wire may be off."""

LAST_REST_S = 0.6
"""Rest after the last work, s: own choice, as in ``guide.travel``."""

HOLD_S = 1.0
"""How long a part is held, s: own choice, as in ``guide.hand``."""

STILL_S = 0.3
"""Time, s, over which a part that is held must stand still: own choice."""

STILL_SHARE = 0.06
"""Share of its reach within which it stands still: own choice, above a tremor and a converter."""

LOOK_EVERY_S = 0.2
"""Device time between two looks, s: own choice, because nobody waits longer to hear a count."""


@dataclass(frozen=True, slots=True)
class Worked:
    """What working one part showed.

    Attributes:
        name: Of the part.
        mover: The column that moved; None where none did, or it could not be told which.
        second: A second track that moved with it.
        others: Columns that moved as well, so that nothing can be told.
        taken: The column is another part's.
        unfinished: A column that moved, but not as often as was asked for.
    """

    name: str
    mover: Mover | None = None
    second: Mover | None = None
    others: tuple[int, ...] = ()
    taken: str | None = None
    unfinished: int | None = None


class _Part:
    """One part that is being worked."""

    def __init__(self, name: str, start: int, start_s: float) -> None:
        self.name = name
        self.start = start
        self.start_s = self.last_s = start_s
        self.seen = 0
        self.home_since_s: float | None = None
        self.now = self.wrong = Worked(name)
        self.held = False
        self.still_since_s: float | None = None

    @property
    def result(self) -> Worked:
        """What can be said of the part: nothing that was not seen as often as it was asked for."""
        if self.seen >= WORKS:
            return self.now
        if self.now.mover is not None and self.wrong == Worked(self.name):
            return Worked(self.name, unfinished=self.now.mover.index)
        return self.wrong

    def start_again(self, start: int) -> None:
        """Forget what moved: it was another part, or several at once."""
        self.start, self.seen = start, 0
        self.held = False


class WorkWatch:
    """An observer that asks for one part after the other, and knows each by what moved."""

    def __init__(
        self,
        person: Person,
        names: Sequence[str],
        columns: Sequence[str],
        *,
        clock_column: int | None,
        clock: Callable[[], float],
    ) -> None:
        """Prepare to look on.

        Args:
            person: Is told what to work and hears what was counted.
            names: Parts to be worked, in order.
            columns: Columns that the line carries.
            clock_column: Place of the logger's clock, which always moves.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._names = list(names)
        self._columns = tuple(columns)
        self._skip = () if clock_column is None else (clock_column,)
        self._clock = clock
        self._time_s = Growing()
        self._values = [Growing() for _ in columns]
        self._looked_s = -math.inf
        self._fresh_s = 0.0
        self._telling = Telling(person, clock, patience_s=PATIENCE_S)
        self._rest_first = self._rest_count = 0
        self._rest_since_s = 0.0
        self._restless = False
        self._part: _Part | None = None
        self.results: list[Worked] = []

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        now_s = self._clock()
        self._telling.take(samples)
        if len(samples):
            self._fresh_s = now_s
            self._time_s.extend(samples.time_s)
            for index, column in enumerate(self._values):
                column.extend(samples.values[:, index])
        if len(samples) and self._now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = self._now_s
            self._go_on()
        self._show(now_s)
        return not self._names and self._part is None

    @property
    def left_undone(self) -> str:
        """The last part, where nothing moved for it: nobody worked it, or its wire is off."""
        last = self.results[-1] if self.results else None
        return last.name if last is not None and last == Worked(last.name) else ""

    @property
    def _now_s(self) -> float:
        return float(self._time_s.array[-1]) if len(self._time_s) else 0.0

    def _matrix(self, first: int, last: int | None = None) -> NDArray[np.float64]:
        """Readings from one place to another, shape (n, columns)."""
        return np.column_stack([column.array[first:last] for column in self._values])

    def _go_on(self) -> None:
        """Begin the next part, look at the one under way, or leave it."""
        if self._part is None:
            if self._has_rested():
                self._part = _Part(self._names.pop(0), len(self._time_s), self._now_s)
                self._telling.news()
            return
        part = self._part
        self._look(part)
        if self._is_over(part):
            self.results.append(part.result)
            self._part = None
            self._person.sound(Sound.STOP if part.result.mover is None else Sound.DONE)

    def _has_rested(self) -> bool:
        """Whether rest is known; hands that move in its time are told, and it is taken again."""
        if self._rest_count:
            return True
        count = len(self._time_s)
        if self._now_s - self._rest_since_s < REST_S or count - self._rest_first <= 2:
            return False
        rest = self._matrix(self._rest_first, count)
        first = max(2, len(rest) // 4)
        self._restless = bool(find_movers(rest[:first], rest, len(rest) / REST_S, self._skip))
        if self._restless:
            self._person.sound(Sound.STOP)
            self._rest_first, self._rest_since_s = count, self._now_s
            return False
        self._rest_count = count
        return True

    def _look(self, part: _Part) -> None:
        """What has moved since the part was asked for."""
        worked = self._matrix(part.start)
        seconds = max(self._now_s - part.start_s, 1e-3)
        rest = self._matrix(self._rest_first, self._rest_count)
        movers = find_movers(rest, worked, len(worked) / seconds, self._skip)
        if not movers:
            return
        part.now = self._judged(part.name, movers, worked)
        part.held = not movers[0].is_home
        if not part.held:
            part.still_since_s = None
        elif not self._stands(movers[0]):
            pass  # a hold that was long enough stays one while it is let go
        elif part.still_since_s is None:
            part.still_since_s = self._now_s - STILL_S
        works = movers[0].works
        if part.now.mover is None:
            part.wrong = part.now
            if works and not part.held:
                part.start_again(len(self._time_s))
        elif works > part.seen:
            part.seen, part.last_s = works, self._now_s
            self._telling.news()
            if works < WORKS:
                self._person.sound(Sound.COUNTED)

    def _stands(self, mover: Mover) -> bool:
        """Whether a column stands still, a plain part of its reach from rest."""
        time_s = self._time_s.array
        first = int(np.searchsorted(time_s, self._now_s - STILL_S))
        recent = self._values[mover.index].array[first:]
        return float(np.ptp(recent)) < STILL_SHARE * abs(mover.far - mover.rest)

    def _judged(self, name: str, movers: list[Mover], worked: NDArray[np.float64]) -> Worked:
        """Which of the movers is the part."""
        first, near = movers[0], rivals(movers)
        taken = next(
            (done.name for done in self.results if done.mover and done.mover.index == first.index),
            None,
        )
        if taken is not None:
            return Worked(name, taken=taken)
        if len(near) == 1 and move_together(worked, first, near[0]):
            return Worked(name, first, second=near[0])
        if near:
            return Worked(name, others=tuple(mover.index for mover in movers))
        return Worked(name, first)

    def _is_over(self, part: _Part) -> bool:
        """Worked often enough and at rest again; or nothing for too long."""
        if part.seen >= WORKS and not part.held:
            if part.home_since_s is None:
                part.home_since_s = self._now_s
            return self._now_s - part.home_since_s >= LAST_REST_S
        part.home_since_s = None
        return self._now_s - part.last_s >= PATIENCE_S

    def _show(self, now_s: float) -> None:
        part = self._part
        if part is None:
            hold = Hold(self._now_s - self._rest_since_s, REST_S) if not self.results else None
            detail = (
                "something moves already: let go, rest is taken again"
                if self._restless
                else ("touch nothing yet")
            )
            step = Step("hands off", detail, hold=hold)
            readings: tuple[Reading, ...] = ()
        else:
            step = _step(part, self._columns, self._now_s)
            readings = self._readings(part, now_s)
        self._telling.show(step, readings)

    def _readings(self, part: _Part, now_s: float) -> tuple[Reading, ...]:
        """The column that moves under the part's name; all of them until one does."""
        if part.now.mover is not None:
            return (self._reading(part.name, part.now.mover.index, now_s),)
        return tuple(
            self._reading(name, index, now_s)
            for index, name in enumerate(self._columns)
            if index not in self._skip
        )

    def _reading(self, name: str, index: int, now_s: float) -> Reading:
        """A column's value as received."""
        values = self._values[index].array
        low, high = float(values.min()), float(values.max())
        return Reading(name, float(values[-1]), "raw", low, high, now_s - self._fresh_s)


def _step(part: _Part, columns: Sequence[str], now_s: float) -> Step:
    """What to do now."""
    done = min(part.seen, WORKS)
    needs: tuple[str, ...] = ()
    instead = ""
    if part.now.taken is not None:
        instead = part.now.taken
        needs = (f"that was {part.now.taken} again; work {part.name} alone",)
    elif part.now.others:
        names = ", ".join(columns[index] for index in part.now.others[:3])
        needs = (f"{names} moved together; nothing can be told from that",)
    if part.held:
        held_s = 0.0 if part.still_since_s is None else now_s - part.still_since_s
        if part.still_since_s is None:
            detail = "to the end, and stay there"
            return Step(
                "press", detail, done, WORKS, needs, control=part.name, how="slowly",
                instead=instead,
            )  # fmt: skip
        if held_s < HOLD_S:
            hold = Hold(held_s, HOLD_S)
            return Step(
                "hold", "stay at the end", done, WORKS, needs, control=part.name, hold=hold,
                instead=instead,
            )  # fmt: skip
        return Step(
            "let go", "all the way back", done, WORKS, needs, control=part.name, instead=instead
        )
    if done >= WORKS:
        return Step("let go", "hands off", done, WORKS, needs, control=part.name)
    return Step(
        "press", "all the way, and stay there", done, WORKS, needs, control=part.name,
        how="slowly", instead=instead,
    )  # fmt: skip
