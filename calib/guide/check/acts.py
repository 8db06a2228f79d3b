"""What a check asks for, one act after the other; each knows from the signals when it is done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np

from calib.checks.bench.dropouts import NOISE_SDS, Reach, find_drop_outs
from calib.checks.bench.hands import clipped_sd
from calib.controls.presses import Presses, count_presses
from calib.guide.check.seen import Seen
from calib.guide.hand import WRONG_V, Hand, Where, hand_now, press_step
from calib.guide.protocols import Hold, Sound, Step
from calib.store.text import counted

REST_S = 3.0
"""Rest before anything is touched; own choice, long enough for noise and hum."""

PATIENCE_S = 20.0
"""Time after which an act that shows nothing is left; own choice: a dead wire shows nothing, and
the check must go on to find the others."""

LEAD_S = 0.5
"""Rest before an act that is looked at with it; own choice, a press must begin at rest, and the
last rest before it is but a little longer."""

LAST_REST_S = 0.6
"""Rest after the last press; own choice, as ``guide.travel``."""

CONNECTORS = 6
"""Connectors of a harness whose owner did not count them; own choice: two a control, and the
logger's."""

FLEX_EACH_S = 2.0
"""Time for flexing one connector; own choice, once each way."""

THROW_S = 0.5
"""How long a switch is held; own choice, many times its chatter."""

END_S = 1.5
"""Rest at the end; own choice, the last release must be seen to have come home."""

MOST_SPAN_V = 3.0
"""Span taken for a control that was never worked, when drop-outs are counted; own choice."""


class Act(Protocol):
    """One thing that the person is asked to do."""

    @property
    def is_work(self) -> bool:
        """Whether somebody has to be there for it."""

    @property
    def about(self) -> tuple[str, ...]:
        """Channels whose values are shown first."""

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""

    def look(self, seen: Seen) -> Sound | None:
        """Look at what came; what should be heard."""

    def step(self) -> Step:
        """What to do now."""

    def is_over(self, seen: Seen) -> bool:
        """Whether enough was seen, or it is no use to wait."""

    def was_answered(self) -> bool:
        """Whether anything was done that was asked for."""


class Rest:
    """Hands off for a time."""

    is_work = False

    def __init__(self, verb: str, detail: str, duration_s: float, about: Sequence[str]) -> None:
        """Ask for rest of ``duration_s``."""
        self._verb, self._detail, self._duration_s = verb, detail, duration_s
        self.about = tuple(about)
        self._start_s = self._now_s = 0.0

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""
        self._start_s = self._now_s = seen.now_s

    def look(self, seen: Seen) -> Sound | None:
        """Nothing is heard."""
        self._now_s = seen.now_s
        return None

    def step(self) -> Step:
        """Hands off."""
        hold = Hold(self._now_s - self._start_s, self._duration_s)
        return Step(self._verb, self._detail, hold=hold)

    def is_over(self, seen: Seen) -> bool:
        """Whether the time is over."""
        return seen.now_s - self._start_s >= self._duration_s

    def was_answered(self) -> bool:
        """Nobody has to be there for a rest."""
        return True


class WorkControl:
    """Press one control several times; it is left when it shows nothing."""

    is_work = True

    def __init__(self, name: str, others: Sequence[str], presses: int) -> None:
        """Ask for ``presses`` of ``name``; a press of one of ``others`` is told."""
        self.about = (name,)
        self._name, self._wanted = name, presses
        self._others = tuple(others)
        self._start_s = self._last_s = self._now_s = 0.0
        self._hands = {each: Hand(Where.UNKNOWN, 0.0, 0.0, 0) for each in (name, *others)}
        self._seen = 0

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""
        self._start_s = max(0.0, seen.now_s - LEAD_S)
        self._last_s = self._now_s = seen.now_s

    def look(self, seen: Seen) -> Sound | None:
        """Count the presses; of another control too, for plugs change places."""
        self._now_s = seen.now_s
        own = _presses(seen, self._name, self._start_s)
        time_s, _ = seen.since(self._start_s)
        self._hands[self._name] = hand_now(own, time_s)
        if not own.worked:
            for name in self._others:
                presses = _presses(seen, name, self._start_s)
                least = presses.plateaus.span >= WRONG_V
                self._hands[name] = (
                    hand_now(presses, time_s) if least else Hand(Where.REST, 0.0, 0.0, 0)
                )
        count = self._counted
        if count <= self._seen:
            return None
        self._seen, self._last_s = count, seen.now_s
        return Sound.DONE if count >= self._wanted else Sound.COUNTED

    @property
    def _worked(self) -> str:
        """The control that is worked: the one that was asked for, once it has moved at all."""
        if self._hands[self._name].counted or self._hands[self._name].where not in (
            Where.REST,
            Where.UNKNOWN,
        ):
            return self._name
        moved = {
            name: hand.counted + (hand.where not in (Where.REST, Where.UNKNOWN))
            for name, hand in self._hands.items()
            if name != self._name
        }
        name = max(moved, key=lambda each: moved[each], default="")
        return name if name and moved[name] else self._name

    @property
    def _counted(self) -> int:
        return self._hands[self._worked].counted

    def step(self) -> Step:
        """Press slowly first, then quickly; let it snap back."""
        worked = self._worked
        first = self._counted == 0
        shown = press_step(
            self._hands[worked],
            self._name,
            self._wanted,
            how="slowly" if first else "quickly",
            release="let it snap",
        )
        if worked == self._name:
            return shown
        need = (
            f"{worked} moves: let go of it; if your hand is on {self._name}, go on, and see the "
            "findings"
        )
        return replace(shown, instead=worked, needs=(need,))

    def is_over(self, seen: Seen) -> bool:
        """Enough presses and back at rest; or nothing for too long."""
        hand = self._hands[self._worked]
        if hand.counted >= self._wanted and hand.where is Where.REST:
            return hand.rested_s >= LAST_REST_S
        return seen.now_s - self._last_s >= PATIENCE_S

    def was_answered(self) -> bool:
        """Whether anything was worked."""
        return self._counted > 0


def _presses(seen: Seen, name: str, start_s: float) -> Presses:
    time_s, cut = seen.since(start_s)
    return count_presses(time_s, seen.values(name)[cut], lsb_V=seen.code_width(name))


class WorkSwitch:
    """Throw a switch several times; it is left when it shows nothing."""

    is_work = True

    def __init__(self, name: str, threshold: float, throws: int) -> None:
        """Ask for ``throws`` of ``name``, which changes at ``threshold``."""
        self.about = (name,)
        self._name, self._threshold, self._wanted = name, threshold, throws
        self._start_s = self._last_s = 0.0
        self._done = 0
        self._away_s: float | None = None
        self._home_s = self._now_s = 0.0

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""
        self._start_s = self._last_s = self._home_s = self._now_s = seen.now_s

    def look(self, seen: Seen) -> Sound | None:
        """Count how often it went away from where it was and came back."""
        _, cut = seen.since(max(0.0, self._start_s - 0.2))
        high = seen.values(self._name)[cut] > self._threshold
        if not high.size:
            return None
        away = high != high[0]
        back = int(np.count_nonzero(away[:-1] & ~away[1:]))
        self._now_s = seen.now_s
        if away[-1]:
            self._away_s = self._now_s if self._away_s is None else self._away_s
        elif self._away_s is not None or back > self._done:
            self._away_s, self._home_s = None, self._now_s
        if back <= self._done:
            return None
        self._done, self._last_s = back, seen.now_s
        return Sound.DONE if back >= self._wanted else Sound.COUNTED

    def step(self) -> Step:
        """Work it and let go."""
        done = min(self._done, self._wanted)
        if self._away_s is not None:
            held_s = self._now_s - self._away_s
            if held_s < THROW_S:
                hold = Hold(held_s, THROW_S)
                return Step("hold", "", done, self._wanted, control=self._name, hold=hold)
            return Step("let go", "", done, self._wanted, control=self._name)
        rested_s = self._now_s - self._home_s
        if done and (rested_s < LAST_REST_S or done >= self._wanted):
            hold = Hold(rested_s, LAST_REST_S)
            return Step("let go", "hand off", done, self._wanted, control=self._name, hold=hold)
        return Step("press", "on, and stay there", done, self._wanted, control=self._name)

    def is_over(self, seen: Seen) -> bool:
        """Enough throws; or nothing for too long."""
        if self._done >= self._wanted and self._away_s is None:
            return seen.now_s - self._last_s >= LAST_REST_S
        return seen.now_s - self._last_s >= PATIENCE_S

    def was_answered(self) -> bool:
        """Whether it was thrown at all."""
        return self._done > 0


class StillThere:
    """A control that answered is asked for once more: the one before showed nothing.

    A dead wire and a person who has left look alike on the line; only the second makes no finding.
    """

    is_work = True

    def __init__(self, name: str, threshold: float | None) -> None:
        """Ask for ``name``, which changes at ``threshold`` where it is a switch."""
        self._act: WorkControl | WorkSwitch = (
            WorkControl(name, (), 1) if threshold is None else WorkSwitch(name, threshold, 1)
        )
        self.about = (name,)

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""
        self._act.begin(seen)

    def look(self, seen: Seen) -> Sound | None:
        """Count the press."""
        return self._act.look(seen)

    def step(self) -> Step:
        """Press it once."""
        need = "nothing came from the one before: this shows that somebody is there"
        return replace(self._act.step(), needs=(need,))

    def is_over(self, seen: Seen) -> bool:
        """Pressed and let go; or nobody is there."""
        return self._act.is_over(seen)

    def was_answered(self) -> bool:
        """Whether somebody is there."""
        return self._act.was_answered()


class Flex:
    """Flex every connector, eyes and hands on the harness: a bell on every drop-out."""

    is_work = False

    def __init__(self, names: Sequence[str], connectors: int = CONNECTORS) -> None:
        """Listen for drop-outs of ``names`` for as long as so many connectors take."""
        duration_s = FLEX_EACH_S * connectors
        self._connectors = connectors
        self.about = tuple(names)
        self._duration_s = duration_s
        self._start_s = 0.0
        self._left_s = duration_s
        self._counts: Mapping[str, int] = dict.fromkeys(names, 0)

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""
        self._start_s = seen.now_s

    def look(self, seen: Seen) -> Sound | None:
        """Ring on every new drop-out."""
        before = sum(self._counts.values())
        self._left_s = max(0.0, self._duration_s - (seen.now_s - self._start_s))
        self._counts = {name: self._drop_outs(seen, name) for name in self.about}
        return Sound.COUNTED if sum(self._counts.values()) > before else None

    def _drop_outs(self, seen: Seen, name: str) -> int:
        values = seen.values(name)
        head = values[: max(8, round(seen.rate_hz * REST_S))]
        if not head.size:
            return 0
        rest, sd = float(np.median(head)), clipped_sd(head)
        span = float(np.ptp(values)) if values.size else 0.0
        _, cut = seen.since(self._start_s)
        span_V = min(max(span, NOISE_SDS * sd), MOST_SPAN_V)
        drops = find_drop_outs(
            values[cut],
            Reach(rest, sd, span_V, direction=1, top_known=True),
            rate_hz=seen.rate_hz,
            glitch_pct=seen.limit("glitch_pct", name),
        )
        return len(drops)

    def step(self) -> Step:
        """Flex one connector after the other."""
        heard = tuple(
            f"{name}: {counted(count, 'drop-out')}" for name, count in self._counts.items() if count
        )
        hold = Hold(self._duration_s - self._left_s, self._duration_s)
        number = min(self._connectors, 1 + int(hold.done_s / FLEX_EACH_S))
        detail = f"connector {number} of {self._connectors}: each in turn, touch no control"
        return Step("flex", detail, needs=heard, hold=hold)

    def is_over(self, seen: Seen) -> bool:
        """Whether the time is over."""
        return seen.now_s - self._start_s >= self._duration_s

    def was_answered(self) -> bool:
        """Nothing on the line says whether somebody flexes it."""
        return True
