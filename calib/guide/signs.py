"""The proof of sign with the person: the machine raised and leaned, hands on the machine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Final

from calib.guide.protocols import Hold, Sound, Step
from calib.guide.tilt import TiltWatch, asked_for, current_rest
from calib.tilt.attitude import angle_between_deg
from calib.tilt.geometry import RaisedAngle
from calib.tilt.series import TiltReading, reading_of, rests_of
from calib.tilt.signs import Pose
from calib.tilt.tell_apart import HELD_SHARE, ToldApart, tell_apart

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
