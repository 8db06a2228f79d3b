"""Work the throttle: the column that moved is the throttle. Hands-free, one part after another."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from calib.controls.worked import Mover, find_movers, move_together, rivals
from calib.guide.hand import HOLD_S, LAST_REST_S
from calib.guide.protocols import Hold, Reading, Sound, Step
from calib.guide.seen import Floats, Gauge, Seen
from calib.guide.setup.draft import Proposed
from calib.guide.setup.plan import Sent
from calib.guide.setup.roles import role_by_name
from calib.guide.watch import COUNT_EVERY_S, Watch
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.documents.printed import Origin
from calib.store.rig import Role

REST_S = 2.5
"""Rest before anything is touched, s: own choice, long enough for the noise of every column."""

WORKS = 2
"""How often a part is to be worked: own choice; once may be a bump, and the second must agree."""

PATIENCE_S = 40.0
"""Time, s, after which a part that moves nothing is left: own choice, as a wire may be off."""

STILL_S = 0.3
"""Time, s, over which a part that is held must stand still: own choice."""

STILL_SHARE = 0.06
"""Share of its reach within which it stands still: own choice, above a tremor and a converter."""


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

    def is_over(self, now_s: float) -> bool:
        """Worked often enough and at rest again; or nothing for too long."""
        if self.seen < WORKS or self.held:
            self.home_since_s = None
            return now_s - self.last_s >= PATIENCE_S
        if self.home_since_s is None:
            self.home_since_s = now_s
        return now_s - self.home_since_s >= LAST_REST_S

    def step(self, columns: Sequence[str], now_s: float) -> Step:
        """What to do now with the part, whose readings came in ``columns``."""
        needs: tuple[str, ...] = ()
        if self.now.taken is not None:
            needs = (f"that was {self.now.taken} again; work {self.name} alone",)
        elif self.now.others:
            names = ", ".join(columns[index] for index in self.now.others[:3])
            needs = (f"{names} moved together; nothing can be told from that",)
        is_done = self.seen >= WORKS and not self.held
        instead = "" if is_done else self.now.taken or ""
        return replace(self._due(now_s), needs=needs, instead=instead)

    def _due(self, now_s: float) -> Step:
        done, name = min(self.seen, WORKS), self.name
        if not self.held and done >= WORKS:
            return Step("let go", "hands off", done, WORKS, control=name)
        if not self.held or self.still_since_s is None:
            detail = f"{'to the end' if self.held else 'all the way'}, and stay there"
            return Step("press", detail, done, WORKS, control=name, how="slowly")
        hold = Hold(now_s - self.still_since_s, HOLD_S)
        if hold.left_s > 0.0:
            return Step("hold", "stay at the end", done, WORKS, control=name, hold=hold)
        return Step("let go", "all the way back", done, WORKS, control=name)


@dataclass
class WorkWatch(Watch):
    """An observer that asks for one part after the other, and knows each by what moved.

    Attributes:
        names: Parts to be worked, in order; none is left in the end.
        columns: Columns that the line carries.
        skip: Place of the logger's clock, which always moves.
        results: What working the parts showed.
    """

    think_every_s = COUNT_EVERY_S
    patience_s = PATIENCE_S

    names: list[str]
    columns: Sequence[str]
    skip: Collection[int]
    seen: Seen = field(init=False, default_factory=Seen)
    results: list[Worked] = field(init=False, default_factory=list)
    _rest_first: int = field(init=False, default=0)
    _rest_count: int = field(init=False, default=0)
    _rest_since_s: float = field(init=False, default=0.0)
    _restless: bool = field(init=False, default=False)
    _part: _Part | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        """Show every column as it is received."""
        self.gauges = [Gauge(name, "raw", index) for index, name in enumerate(self.columns)]

    @property
    def left_undone(self) -> str:
        """The last part, where nothing moved for it: nobody worked it, or its wire is off."""
        last = self.results[-1] if self.results else None
        return last.name if last is not None and last == Worked(last.name) else ""

    def think(self) -> bool:
        """Begin the next part, look at the one under way, or leave it."""
        part = self._part
        if part is None:
            if self._has_rested():
                self._part = _Part(self.names.pop(0), len(self.seen), self.elapsed_s)
                self.news()
            return False
        self._look(part)
        if part.is_over(self.elapsed_s):
            self.results.append(part.result)
            self._part = None
            self.person.sound(Sound.STOP if part.result.mover is None else Sound.DONE)
        return False

    def is_over(self) -> bool:
        """Whether every part was asked for."""
        return not self.names and self._part is None

    def _has_rested(self) -> bool:
        """Whether rest is known; hands that move in its time are told, and it is taken again."""
        if self._rest_count:
            return True
        count = len(self.seen)
        if self.elapsed_s - self._rest_since_s < REST_S or count - self._rest_first <= 2:
            return False
        rest = self.seen.rows[self._rest_first :]
        first = max(2, len(rest) // 4)
        self._restless = bool(find_movers(rest[:first], rest, len(rest) / REST_S, self.skip))
        if self._restless:
            self.person.sound(Sound.STOP)
            self._rest_first, self._rest_since_s = count, self.elapsed_s
            return False
        self._rest_count = count
        return True

    def _look(self, part: _Part) -> None:
        """What has moved since the part was asked for."""
        worked = self.seen.rows[part.start :]
        seconds = max(self.elapsed_s - part.start_s, 1e-3)
        rest = self.seen.rows[self._rest_first : self._rest_count]
        movers = find_movers(rest, worked, len(worked) / seconds, self.skip)
        if not movers:
            return
        part.now = self._judged(part.name, movers, worked)
        part.held = not movers[0].is_home
        if not part.held:
            part.still_since_s = None
        elif part.still_since_s is None and self._stands(movers[0]):
            part.still_since_s = self.elapsed_s - STILL_S  # and stays so while it is let go
        works = movers[0].works
        if part.now.mover is None:
            part.wrong = part.now
            if works and not part.held:  # what moved was another part, or several at once
                part.start, part.seen = len(self.seen), 0
        elif works > part.seen:
            part.seen, part.last_s = works, self.elapsed_s
            self.news()
            if works < WORKS:
                self.person.sound(Sound.COUNTED)

    def _stands(self, mover: Mover) -> bool:
        """Whether a column stands still, a plain part of its reach from rest."""
        recent = self.seen.rows[self.seen.since(self.elapsed_s - STILL_S), mover.index]
        return float(np.ptp(recent)) < STILL_SHARE * abs(mover.far - mover.rest)

    def _judged(self, name: str, movers: list[Mover], worked: Floats) -> Worked:
        """Which of the movers is the part."""
        first, near = movers[0], rivals(movers)
        taken = {one.mover.index: one.name for one in self.results if one.mover}.get(first.index)
        if taken is not None:
            return Worked(name, taken=taken)
        if len(near) == 1 and move_together(worked, first, near[0]):
            return Worked(name, first, second=near[0])
        if near:
            return Worked(name, others=tuple(mover.index for mover in movers))
        return Worked(name, first)

    def step(self) -> Step:
        """Rest, or what the part under way needs."""
        if self._part is not None:
            return self._part.step(self.columns, self.elapsed_s)
        detail = "touch nothing yet"
        if self._restless:
            detail = "something moves already: let go, rest is taken again"
        rest = Hold(self.elapsed_s - self._rest_since_s, REST_S)
        return Step("hands off", detail, hold=None if self.results else rest)

    def readings(self) -> list[Reading]:
        """The column that moves under the part's name; all of them until one does."""
        if self._part is None:
            return []
        mover = self._part.now.mover
        if mover is not None:
            return [replace(self.gauges[mover.index].now(self.now_s), channel=self._part.name)]
        return [each.now(self.now_s) for each in self.gauges if each.index not in self.skip]


def proposals_of(result: Worked, sent: Sent, roles: Mapping[str, str]) -> Iterator[Proposed]:
    """What the rig file should say of a part; nothing where it was not told.

    Args:
        result: What working the part showed.
        sent: What the logger sends.
        roles: Roles that were stated, or stand in the file, by part.
    """
    mover = result.mover
    if mover is None:
        return
    table, why = ("channels", result.name), f"it moved when {result.name} was worked"
    role = roles.get(result.name) or _role(result.name, mover)
    if result.name not in roles:
        yield Proposed(table, "role", role, Origin.FOUND, "")
    yield Proposed(table, "column", sent.reference(mover.index), Origin.FOUND, why)
    if role == "switch":
        active = "low" if mover.far < mover.rest else "high"
        why = f"{mover.rest:.5g} let go, {mover.far:.5g} worked"
        yield Proposed(table, "active", active, Origin.FOUND, why)
    if result.second is not None and role == "control":
        other = f"{result.name}_b"
        why = f"it moved together with {result.name}"
        yield Proposed(("channels", other), "role", role, Origin.FOUND, "")
        column = sent.reference(result.second.index)
        yield Proposed(("channels", other), "column", column, Origin.FOUND, why)
        yield Proposed(table, "second_track", other, Origin.ASSUMED, why)


def _role(name: str, mover: Mover) -> Role:
    """What a part is: a lamp switch by its two levels, else by its name, else a control."""
    by_name = role_by_name(name)
    if by_name == "switch" and not mover.two_level:
        return "control"
    if by_name is None and mover.two_level:
        return "switch"
    return by_name or "control"


def finding_on(result: Worked, sent: Sent, roles: Mapping[str, str]) -> Finding:
    """What was told of a part, or why nothing was; arguments as ``proposals_of``."""
    mover = result.mover
    if mover is None:
        return _untold(result, sent)
    name, travel = result.name, mover.far - mover.rest
    figures: dict[str, Any] = {
        "channel": name,
        "column": sent.shown(mover.index),
        "mover": mover,
        "falls": ", so it falls when worked" if travel < 0.0 else "",
    }
    role = roles.get(name) or _role(name, mover)
    if role == "control" and mover.two_level:
        return said.caution("part-told/two-levels", travel, **figures)
    if name not in roles and role_by_name(name) == "switch" and role == "control":
        return said.caution("part-told/smooth", travel, **figures)
    if result.second is not None:
        second = sent.shown(result.second.index)
        return said.caution("part-told/second-track", travel, second=second, **figures)
    return said.passes("part-told/worked", travel, **figures)


def _untold(result: Worked, sent: Sent) -> Finding:
    """A part of which nothing is known, and why."""
    name = result.name
    if result.taken is not None:
        return said.unknown("part-not-told/taken", channel=name, taken=result.taken)
    if result.others:
        columns = ", ".join(sent.shown(index) for index in result.others)
        return said.unknown("part-not-told/together", channel=name, columns=columns)
    if result.unfinished is not None:
        column = sent.shown(result.unfinished)
        return said.unknown("part-not-told/unfinished", channel=name, column=column)
    return said.unknown("part-not-told/still", channel=name)
