"""Standings and poses one after the other: what was not done is told, and is not counted.

The level zero takes standings, turned end for end and with the rider; the proof of sign poses.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Final, TypeVar

from calib.checks.limits import tilt_limit
from calib.errors import BrokenOffError
from calib.guide.asking import ask_until, number_of
from calib.guide.capturing import Observer
from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.tilt import Asked, MovedWatch, StandingWatch, TiltWatch, asked_for, current_rest
from calib.guide.watch import Clock
from calib.store.plausible import SHOWN_DEG
from calib.store.rig import Rig
from calib.tilt.attitude import angle_between_deg
from calib.tilt.geometry import RaisedAngle
from calib.tilt.inputs import TiltInputs
from calib.tilt.series import TiltReading, reading_of, rests_of
from calib.tilt.signs import Pose
from calib.tilt.tell_apart import HELD_SHARE, ToldApart, tell_apart

MakeObserver = Callable[[TiltInputs], Observer]
W = TypeVar("W", bound=TiltWatch)

Listen = Callable[[Asked, TiltReading | None], tuple[Path, TiltReading | None]]
"""Captures one standing that does not read as another one, and gives its file and its mean."""

TRIES: Final = 3
"""Own choice: how often what reads as before, or contradicts itself, is taken again."""

PATIENCE_S: Final = 90.0
"""Own choice: hands that take longer than this for one pose, s, have gone to fetch something."""

FRONTS: Final = 2
"""The front is raised twice, so that it is told from the rear by count; see `tell_apart`."""

WANTED: Final = (
    *[Pose.FRONT_RAISED] * FRONTS, Pose.REAR_RAISED, Pose.LEANED_LEFT, Pose.LEANED_RIGHT,
)  # fmt: skip
"""The poses off level, in the order of asking."""

POSE_S: Final = 3.0
"""Own choice: how long a pose is held, s; twice the shortest rest that counts."""

UPRIGHT_S: Final = 2.0
"""Own choice: how long it stands upright in between, s; a rest of its own."""

ASKED: Final = {pose: asked_for(f"signs/{pose.value}") for pose in Pose}
"""Each pose, in the order of asking."""


@dataclass(frozen=True, slots=True)
class Taking:
    """Takes standings and poses from a line.

    Attributes:
        person: Moves the machine.
        rig: For its own limits.
        attend: Looks on without keeping anything.
        capture: Captures, and gives the file.
        at_once: The first standing needs no movement before it: nobody is there to be asked.
        clock: The host's clock, s.
    """

    person: Person
    rig: Rig
    attend: Callable[[MakeObserver], None]
    capture: Callable[[MakeObserver], Path]
    at_once: bool = field(default=False, kw_only=True)
    clock: Clock = field(default=time.monotonic, kw_only=True)

    def standing(self, asked: Asked, unlike: TiltReading | None) -> tuple[Path, TiltReading | None]:
        """Capture one standing, once the machine was moved into it; and its mean.

        Args:
            asked: The standing.
            unlike: The mean of one that it must not read as; None for the first.

        Raises:
            BrokenOffError: Nobody moved the machine, or it reads the same again and again.
        """
        needs: tuple[str, ...] = ()
        unlike_deg = tilt_limit("unlike_deg", self.rig)
        moved = partial(MovedWatch, self.person, asked=asked, clock=self.clock)
        stands = partial(StandingWatch, self.person, what=asked.what, clock=self.clock)
        for _ in range(TRIES):
            if unlike is not None or not self.at_once:
                self.attend(partial(moved, needs=needs))
            path, watch = self._captured(stands)
            reading = watch.reading
            if unlike is None or reading is None:
                return path, reading
            if abs(reading.pitch_deg - unlike.pitch_deg) > unlike_deg:
                return path, reading
            self.person.sound(Sound.STOP)
            needs = (
                f"not counted, it reads as before within {unlike_deg:g} degrees: was it done?",
            )
        raise BrokenOffError.of("same-as-before", what=asked.what, tries=TRIES)

    def poses(self, expected: RaisedAngle) -> Path:
        """Capture the poses of the machine in one go; anew when two contradict each other.

        Args:
            expected: Pitch that the block makes.

        Raises:
            BrokenOffError: Nobody moved the machine, or the poses contradict each other each time.
        """
        conflict, needs = "", tuple[str, ...]()
        poses = partial(SignsWatch, self.person, expected=expected, clock=self.clock)
        for _ in range(TRIES):
            path, watch = self._captured(partial(poses, needs=needs))
            conflict = watch.conflict
            if not conflict:
                return path
            needs = (f"{conflict}; all of them once more",)
        raise BrokenOffError.of("standings-disagree", conflict=conflict, tries=TRIES)

    def _captured(self, make: Callable[[TiltInputs], W]) -> tuple[Path, W]:
        """A capture, and the watch that looked on."""
        made: list[W] = []

        def begin(inputs: TiltInputs) -> W:
            made.append(make(inputs))
            return made[0]

        return self.capture(begin), made[0]


_STAND = "In the stand, which stays fixed to the floor. "

PREPARE: Final = asked_for("level/first")
TURN: Final = asked_for("level/turned")
TURN_BACK: Final = asked_for("level/turned back")
SIT: Final = asked_for("level/seated")


@dataclass(frozen=True)
class LevelPlan:
    """What a level run is to take.

    Attributes:
        turned: Whether the machine is turned end for end.
        each_way: Standings on each heading.
        seated: Whether the rider sits, too.
        stand: Whether a stand holds it upright, and no hand.
        asks_display: Whether the controller's display is asked for at each standing.
    """

    turned: bool
    each_way: int = 2
    seated: bool = False
    stand: bool = False
    asks_display: bool = False

    def turns(self) -> Iterator[bool]:
        """Whether each standing is turned; they alternate, or a drift would look like a floor."""
        for _ in range(self.each_way if self.turned else 1):
            yield False
            if self.turned:
                yield True


@dataclass
class Taken:
    """What was taken: captures, and readings of the controller's display, degrees."""

    first: list[Path] = field(default_factory=list)
    turned: list[Path] = field(default_factory=list)
    seated: list[Path] = field(default_factory=list)
    shown_first_deg: list[float] = field(default_factory=list)
    shown_turned_deg: list[float] = field(default_factory=list)


def take_standings(person: Person, listen: Listen | None, plan: LevelPlan) -> Taken:
    """Go through the standings with the person.

    Args:
        person: Moves the machine.
        listen: Captures one standing; None where only the controller sees the sensor.
        plan: What to take.

    Raises:
        StoppedError: The person would rather stop.
        BrokenOffError: Nobody moved the machine, or it was not turned.
    """
    taken = Taken()
    before: TiltReading | None = None
    for number, turned in enumerate(plan.turns()):
        stand = TURN if turned else TURN_BACK if number else PREPARE
        if plan.stand:
            stand = replace(stand, detail=_STAND + stand.detail)
        if listen is None:
            person.wait_until_ready(f"{stand.verb.upper()}. {stand.detail}")
        else:
            path, before = listen(stand, before)
            (taken.turned if turned else taken.first).append(path)
        if plan.asks_display:
            shown = taken.shown_turned_deg if turned else taken.shown_first_deg
            shown.append(ask_angle(person, "What pitch does the controller show now, in degrees"))
        if plan.seated and number == 0 and listen is not None:
            taken.seated.append(listen(SIT, before)[0])
    return taken


def ask_angle(person: Person, question: str) -> float:
    """An angle that the person reads off a display, degrees; asked again after a slip.

    Raises:
        StoppedError: No number was typed.
    """
    return ask_until(person, question, number_of(SHOWN_DEG), "A number of degrees, such as -1.2.")


def take_poses(listen: Listen) -> dict[Pose, Path]:
    """One capture a pose, for a sensor whose poses cannot be told apart by themselves.

    Raises:
        StoppedError: The person would rather stop.
        BrokenOffError: Nobody moved the machine.
    """
    taken: dict[Pose, Path] = {}
    before: TiltReading | None = None
    for pose, asked in ASKED.items():
        taken[pose], before = listen(asked, before if pose is not Pose.LEVEL else None)
    return taken


@dataclass
class SignsWatch(TiltWatch):
    """An observer that asks for one pose after the other and has enough once all were seen.

    What was asked is held against what was seen: a rear raised for the front, or a lean to the
    other side, contradicts another pose, and then nothing of it is used. An accelerometer is among
    its inputs.

    Attributes:
        expected: Pitch that the block makes.
        needs: Why it begins anew.
        conflict: What contradicts what, a sentence; empty while nothing does.
    """

    patience_s = PATIENCE_S

    expected: RaisedAngle
    needs: tuple[str, ...] = ()
    conflict: str = field(init=False, default="")
    _told: ToldApart = field(init=False)
    _stretches: list[tuple[float, TiltReading]] = field(init=False, default_factory=list)
    _now: TiltReading | None = field(init=False, default=None)
    _level: TiltReading | None = field(init=False, default=None)
    """The first standing, as it was when it counted."""
    _asked: list[tuple[float, Pose]] = field(init=False)
    _counted: int = field(init=False, default=0)
    _most: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        """Ask for level first."""
        super().__post_init__()
        self._told = ToldApart({})
        self._asked = [(0.0, Pose.LEVEL)]

    def think(self) -> bool:
        """Count the poses; whether all were seen, or two contradict each other."""
        series = self.series()
        self._stretches = [
            (float(self.thin_s[(each.first + each.stop) // 2]), reading_of(series, each))
            for each in rests_of(series)
        ]
        self._now = current_rest(series)
        self._told = told = tell_apart([reading for _, reading in self._stretches], self.expected)
        counted = len(self._seen_poses(told))
        if counted > self._most:  # what counts, then does not, and counts again is no news
            if counted < len(WANTED):
                self.person.sound(Sound.COUNTED)
            self.news()
        self._counted, self._most = counted, max(self._most, counted)
        self.conflict = self._contradiction(told)
        if self._is_level() and self._now is not None and self._now.hold_s >= UPRIGHT_S:
            missing = self._still_needed(told)
            if self._level is None:
                self._level = told.poses.get(Pose.LEVEL)
            if missing and (self._asked[-1][1] is not missing[0] or self._counts_since()):
                self._asked.append((self.elapsed_s, missing[0]))
        if self.conflict or self._is_complete():
            self.person.sound(Sound.STOP if self.conflict else Sound.DONE)
            return True
        return False

    def missing(self) -> str:
        """The pose that did not come."""
        return f"{self._counted} of {len(WANTED)} poses, and no other"

    def _seen_poses(self, told: ToldApart) -> list[Pose]:
        """Poses that were seen, in the order of asking.

        Before the ways are told apart each raised wheel counts for what was asked.
        """
        leaned = {side: self._pose_at(number) for number, side in told.leaned}
        raised = [self._pose_at(number) for number, _ in told.raised]
        fronts = raised.count(Pose.FRONT_RAISED)
        rears = len(raised) - fronts
        seen = [Pose.FRONT_RAISED] * min(fronts, FRONTS) + [Pose.REAR_RAISED] * min(rears, 1)
        if len(leaned) == 2:
            seen += [Pose.LEANED_LEFT, Pose.LEANED_RIGHT]
        elif leaned:
            side = next(iter(leaned.values()))
            seen.append(Pose.LEANED_RIGHT if side is Pose.LEANED_RIGHT else Pose.LEANED_LEFT)
        return seen

    def _still_needed(self, told: ToldApart) -> list[Pose]:
        """Poses that are still needed, in the order of asking."""
        return list((Counter(WANTED) - Counter(self._seen_poses(told))).elements())

    def _pose_at(self, number: int) -> Pose:
        """What was asked for while a stretch stood."""
        middle_s = self._stretches[number][0]
        return next(pose for since_s, pose in reversed(self._asked) if since_s <= middle_s)

    def _contradiction(self, told: ToldApart) -> str:
        if self._has_lost_level():
            return "the first UPRIGHT did not stand still enough to hold the poses against"
        fronts = self._sides(told.raised, Pose.FRONT_RAISED)
        rears = self._sides(told.raised, Pose.REAR_RAISED)
        lefts = self._sides(told.leaned, Pose.LEANED_LEFT)
        rights = self._sides(told.leaned, Pose.LEANED_RIGHT)
        if len(fronts) > 1 or fronts & rears:
            return "FRONT UP and REAR UP were not always the two ends that were asked for"
        if len(lefts) > 1 or lefts & rights:
            return "LEAN LEFT and LEAN RIGHT were not always the sides that were asked for"
        front = next(iter(fronts), None)
        left = next(iter(lefts), None)
        # forward and left make a right hand with up, whatever way the sensor is mounted
        if told.handed and front and left and front * left * told.handed > 0:
            return "FRONT UP and LEAN LEFT contradict each other: one was the other end or side"
        return ""

    def _sides(self, turned: Iterable[tuple[int, int]], pose: Pose) -> set[int]:
        return {side for number, side in turned if self._pose_at(number) is pose}

    def _is_complete(self) -> bool:
        told = self._told
        return (
            told.fronts >= FRONTS and told.rears >= 1 and told.leans >= 2 and not told.question
        ) and not self._still_needed(told)

    def _is_level(self) -> bool:
        """Whether the machine stands level, as far as a hand holds it so."""
        return self._are_alike(self._told.poses.get(Pose.LEVEL), self._now)

    def _has_lost_level(self) -> bool:
        """Whether the first standing no longer counts, now that it was seen how still it can be."""
        held = self._now is not None and self._now.hold_s >= UPRIGHT_S
        level = self._told.poses.get(Pose.LEVEL)
        return held and self._level is not None and not self._are_alike(self._level, level)

    def _are_alike(self, one: TiltReading | None, other: TiltReading | None) -> bool:
        """Whether two standings are nearer to each other than a raised wheel to the floor."""
        if one is None or other is None or one.force_g is None or other.force_g is None:
            return False
        away_deg = angle_between_deg(one.force_g, other.force_g)
        return away_deg < HELD_SHARE * self.expected.angle_deg

    def step(self) -> Step:
        """The next pose, or upright in between."""
        return replace(self._due(), done=self._counted, wanted=len(WANTED), needs=self.needs)

    def _due(self) -> Step:
        pose, since = self._asked[-1][1], self._counts_since()
        now = ASKED[pose]
        held_s = 0.0 if self._now is None else self._now.hold_s
        if pose is Pose.LEVEL or (self._is_level() and held_s < UPRIGHT_S):
            hold = Hold(min(held_s, UPRIGHT_S), UPRIGHT_S)
            return Step("upright", ASKED[Pose.LEVEL].detail, hold=hold)
        stands = self._now is not None and not self._is_level()
        if stands and (held_s < POSE_S or since <= 0):
            hold = Hold(min(held_s, POSE_S), POSE_S)
            return Step("hold", "do not move it", control=now.verb, hold=hold)
        if since > 0:
            return Step("upright", "and let it stand")
        again = "once more" if pose in self._seen_poses(self._told) else ""
        return Step(now.verb, now.detail, how=again)

    def _counts_since(self) -> int:
        """Stretches off level that stood since the pose was asked for."""
        since_s = self._asked[-1][0]
        turned = (*self._told.raised, *self._told.leaned)
        return sum(self._stretches[number][0] >= since_s for number, _ in turned)
