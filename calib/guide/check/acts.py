"""What a check asks for, one act after the other; each knows from the signals when it is done."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from calib.checks.bench.dropouts import NOISE_SDS, Reach, find_drop_outs
from calib.checks.bench.hands import clipped_sd
from calib.checks.limits import limit
from calib.controls.presses import count_presses
from calib.guide.hand import LAST_REST_S, WRONG_V, Hand, Where, hand_now, press_step
from calib.guide.protocols import Hold, Sound, Step
from calib.guide.seen import Seen
from calib.store.text import counted

REST_S = 3.0
"""Rest before anything is touched; own choice, long enough for noise and hum."""

PATIENCE_S = 20.0
"""Time after which an act that shows nothing is left; own choice: a dead wire shows nothing, and
the check must go on to find the others."""

LEAD_S = 0.5
"""Rest before an act that is looked at with it; own choice, a press must begin at rest, and the
last rest before it is but a little longer."""

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


class Act(ABC):
    """One thing that the person is asked to do.

    Attributes:
        about: Channels whose values are shown first.
    """

    def __init__(self, about: Sequence[str]) -> None:
        """Ask for something about some channels."""
        self.about = tuple(about)
        self._start_s = self._now_s = 0.0

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""
        self._start_s = self._now_s = seen.now_s

    def look(self, seen: Seen) -> Sound | None:
        """Look at what came; what should be heard."""
        self._now_s = seen.now_s
        return None

    @abstractmethod
    def step(self) -> Step:
        """What to do now."""

    @abstractmethod
    def is_over(self) -> bool:
        """Whether enough was seen, or it is no use to wait."""


class Rest(Act):
    """Hands off for a time."""

    def __init__(self, verb: str, detail: str, duration_s: float, about: Sequence[str]) -> None:
        """Ask for rest of ``duration_s``."""
        super().__init__(about)
        self._verb, self._detail, self._duration_s = verb, detail, duration_s

    def step(self) -> Step:
        """Hands off, and how far it is."""
        hold = Hold(self._now_s - self._start_s, self._duration_s)
        return Step(self._verb, self._detail, hold=hold)

    def is_over(self) -> bool:
        """Whether the time is over."""
        return self._now_s - self._start_s >= self._duration_s


class Flex(Rest):
    """Flex every connector, eyes and hands on the harness: a bell on every drop-out."""

    def __init__(self, names: Sequence[str], connectors: int = CONNECTORS) -> None:
        """Listen for drop-outs of ``names`` for as long as so many connectors take."""
        super().__init__("flex", "", FLEX_EACH_S * connectors, names)
        self._connectors = connectors
        self._counts = dict.fromkeys(names, 0)

    def look(self, seen: Seen) -> Sound | None:
        """Ring on every new drop-out."""
        super().look(seen)
        before = sum(self._counts.values())
        self._counts = {name: self._drop_outs(seen, name) for name in self.about}
        return Sound.COUNTED if sum(self._counts.values()) > before else None

    def _drop_outs(self, seen: Seen, name: str) -> int:
        values, channel = seen.values(name), seen.gauges[name].channel
        head = values[: max(8, round(seen.rate_hz * REST_S))]
        rest, sd = float(np.median(head)), clipped_sd(head)
        span_V = min(max(float(np.ptp(values)), NOISE_SDS * sd), MOST_SPAN_V)
        reach = Reach(rest, sd, span_V, direction=1, top_known=True)
        since, glitch_pct = values[seen.since(self._start_s)], limit("glitch_pct", channel)
        return len(find_drop_outs(since, reach, rate_hz=seen.rate_hz, glitch_pct=glitch_pct))

    def step(self) -> Step:
        """Flex one connector after the other."""
        counts = self._counts.items()
        heard = tuple(f"{name}: {counted(count, 'drop-out')}" for name, count in counts if count)
        number = min(self._connectors, 1 + int((self._now_s - self._start_s) / FLEX_EACH_S))
        detail = f"connector {number} of {self._connectors}: each in turn, touch no control"
        return replace(super().step(), detail=detail, needs=heard)


class Work(Act):
    """Work one part several times, for which somebody has to be there; left if it shows nothing."""

    def __init__(self, name: str, wanted: int) -> None:
        """Ask for ``name`` to be worked so many times."""
        super().__init__((name,))
        self._name, self._wanted = name, wanted
        self._last_s = 0.0
        self._done = self._most = 0

    def look(self, seen: Seen) -> Sound | None:
        """Count how often it was worked."""
        super().look(seen)
        self._done = self._count(seen)
        if self._done <= self._most:
            return None
        self._most, self._last_s = self._done, self._now_s
        return Sound.DONE if self._done >= self._wanted else Sound.COUNTED

    @abstractmethod
    def _count(self, seen: Seen) -> int:
        """How often it was worked since it was asked for."""

    @abstractmethod
    def _rested_s(self) -> float | None:
        """How long it has been let go, s; None while it is held, or more is wanted."""

    def is_over(self) -> bool:
        """Worked often enough and let go; or nothing for too long."""
        rested_s = self._rested_s()
        if rested_s is not None:
            return rested_s >= LAST_REST_S
        return self._now_s - max(self._start_s, self._last_s) >= PATIENCE_S

    def was_answered(self) -> bool:
        """Whether anything was worked."""
        return self._done > 0


class WorkControl(Work):
    """Press one control several times."""

    def __init__(self, name: str, others: Sequence[str], presses: int) -> None:
        """Ask for ``presses`` of ``name``; a press of one of ``others`` is told."""
        super().__init__(name, presses)
        self._hands = {each: Hand(Where.UNKNOWN) for each in (name, *others)}

    def _count(self, seen: Seen) -> int:
        """Presses; of another control too, for plugs change places."""
        cut = seen.since(max(0.0, self._start_s - LEAD_S))
        for name in self._hands:
            time_s, volts = seen.time_s[cut], seen.values(name)[cut]
            presses = count_presses(time_s, volts, lsb_V=seen.gauges[name].code_width)
            least = name == self._name or presses.plateaus.span >= WRONG_V
            self._hands[name] = hand_now(presses, time_s) if least else Hand(Where.REST)
            if name == self._name and presses.worked:
                break
        return self._hands[self._worked].counted

    @property
    def _worked(self) -> str:
        """The control that is worked: the one that was asked for, once it has moved at all."""
        moved = {
            name: hand.counted + (hand.where not in (Where.REST, Where.UNKNOWN))
            for name, hand in self._hands.items()
        }
        return self._name if moved[self._name] else max(moved, key=lambda each: moved[each])

    def step(self) -> Step:
        """Press slowly first, then quickly; let it snap back."""
        worked = self._worked
        hand = self._hands[worked]
        how = "quickly" if hand.counted else "slowly"
        shown = press_step(hand, self._name, self._wanted, how=how, release="let it snap")
        if worked == self._name:
            return shown
        need = (
            f"{worked} moves: let go of it; if your hand is on {self._name}, go on, and see the "
            "findings"
        )
        return replace(shown, instead=worked, needs=(need,))

    def _rested_s(self) -> float | None:
        hand = self._hands[self._worked]
        enough = hand.counted >= self._wanted and hand.where is Where.REST
        return hand.rested_s if enough else None


class WorkSwitch(Work):
    """Throw a switch several times."""

    def __init__(self, name: str, threshold: float, throws: int) -> None:
        """Ask for ``throws`` of ``name``, which changes at ``threshold``."""
        super().__init__(name, throws)
        self._threshold = threshold
        self._away_s: float | None = None
        self._home_s = 0.0

    def _count(self, seen: Seen) -> int:
        """How often it went away from where it was and came back."""
        cut = seen.since(max(0.0, self._start_s - 0.2))
        high = seen.values(self._name)[cut] > self._threshold
        away = high != high[0]
        back = int(np.count_nonzero(away[:-1] & ~away[1:]))
        if away[-1]:
            self._away_s = self._now_s if self._away_s is None else self._away_s
        elif self._away_s is not None or back > self._done:
            self._away_s, self._home_s = None, self._now_s
        return back

    def step(self) -> Step:
        """Work it and let go."""
        done = min(self._done, self._wanted)
        shown = Step("let go", "", done, self._wanted, control=self._name)
        if self._away_s is not None:
            hold = Hold(self._now_s - self._away_s, THROW_S)
            return replace(shown, verb="hold", hold=hold) if hold.left_s > 0.0 else shown
        hold = Hold(self._now_s - self._home_s, LAST_REST_S)
        if done and (hold.left_s > 0.0 or done >= self._wanted):
            return replace(shown, detail="hand off", hold=hold)
        return replace(shown, verb="press", detail="on, and stay there")

    def _rested_s(self) -> float | None:
        enough = self._done >= self._wanted and self._away_s is None
        return self._now_s - self._last_s if enough else None
