"""What a check asks for, one act after the other; each knows from the signals when it is done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

import numpy as np

from calib.checks.bench.dropouts import NOISE_SDS, find_drop_outs
from calib.checks.bench.hands import clipped_sd
from calib.controls.presses import Presses, count_presses
from calib.guide.check.seen import Seen
from calib.guide.protocols import Sound, Step

REST_S = 3.0
"""Rest before anything is touched; own choice, long enough for noise and hum."""

PATIENCE_S = 20.0
"""Time after which an act that shows nothing is left; own choice: a dead wire shows nothing, and
the check must go on to find the others."""

LEAD_S = 1.0
"""Rest before an act that is looked at with it; own choice, a press must begin at rest."""

LAST_REST_S = 0.6
"""Rest after the last press; own choice, as ``guide.travel``."""

FLEX_S = 12.0
"""Time for flexing the harness; own choice, some two seconds a connector."""

END_S = 1.5
"""Rest at the end; own choice, the last release must be seen to have come home."""

MOST_SPAN_V = 3.0
"""Span taken for a control that was never worked, when drop-outs are counted; own choice."""


class Act(Protocol):
    """One thing that the person is asked to do."""

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


class Rest:
    """Hands off for a time."""

    def __init__(self, verb: str, detail: str, duration_s: float, about: Sequence[str]) -> None:
        """Ask for rest of ``duration_s``."""
        self._verb, self._detail, self._duration_s = verb, detail, duration_s
        self.about = tuple(about)
        self._start_s = 0.0

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""
        self._start_s = seen.now_s

    def look(self, seen: Seen) -> Sound | None:
        """Nothing is heard."""
        del seen
        return None

    def step(self) -> Step:
        """Hands off."""
        return Step(self._verb, self._detail)

    def is_over(self, seen: Seen) -> bool:
        """Whether the time is over."""
        return seen.now_s - self._start_s >= self._duration_s


class WorkControl:
    """Press one control several times; it is left when it shows nothing."""

    def __init__(self, name: str, others: Sequence[str], presses: int) -> None:
        """Ask for ``presses`` of ``name``; a press of one of ``others`` is told."""
        self.about = (name,)
        self._name, self._wanted = name, presses
        self._others = tuple(others)
        self._start_s = self._last_s = 0.0
        self._presses: Presses | None = None
        self._seen = 0
        self._instead: str | None = None
        self._enough_since_s: float | None = None

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""
        self._start_s = max(0.0, seen.now_s - LEAD_S)
        self._last_s = seen.now_s

    def look(self, seen: Seen) -> Sound | None:
        """Count the presses; of another control too, for plugs change places."""
        presses = _presses(seen, self._name, self._start_s)
        self._presses = presses
        count = presses.count
        if count == 0:
            counts = {name: _presses(seen, name, self._start_s).count for name in self._others}
            moved = {name: number for name, number in counts.items() if number}
            self._instead = max(moved, key=lambda name: moved[name], default=None)
            count = max(moved.values(), default=0)
        if count <= self._seen:
            return None
        self._seen, self._last_s = count, seen.now_s
        return Sound.DONE if count >= self._wanted else Sound.COUNTED

    def step(self) -> Step:
        """Press slowly first, then quickly; let it snap back."""
        needs: tuple[str, ...] = ()
        if self._instead is not None:
            needs = (f"{self._instead} moved instead of {self._name}: see the findings",)
        done = self._seen
        if self._presses is not None and self._presses.pressed_now:
            return Step("release", f"{self._name}: let it snap back", done, self._wanted, needs)
        if done >= self._wanted:
            return Step("let go", "hands off", done, self._wanted, needs)
        how = "slowly all the way" if done == 0 else "all the way"
        detail = f"{self._name}: {how}, hold a second, let it snap back"
        return Step("press", detail, done, self._wanted, needs)

    def is_over(self, seen: Seen) -> bool:
        """Enough presses and back at rest; or nothing for too long."""
        held = self._presses is not None and self._presses.pressed_now
        if self._seen >= self._wanted and not held:
            if self._enough_since_s is None:
                self._enough_since_s = seen.now_s
            return seen.now_s - self._enough_since_s >= LAST_REST_S
        self._enough_since_s = None
        return seen.now_s - self._last_s >= PATIENCE_S


def _presses(seen: Seen, name: str, start_s: float) -> Presses:
    time_s, cut = seen.since(start_s)
    return count_presses(time_s, seen.values(name)[cut], lsb_V=seen.code_width(name))


class WorkSwitch:
    """Throw a switch several times; it is left when it shows nothing."""

    def __init__(self, name: str, threshold: float, throws: int) -> None:
        """Ask for ``throws`` of ``name``, which changes at ``threshold``."""
        self.about = (name,)
        self._name, self._threshold, self._wanted = name, threshold, throws
        self._start_s = self._last_s = 0.0
        self._done = 0
        self._away = False

    def begin(self, seen: Seen) -> None:
        """Start at this moment."""
        self._start_s = self._last_s = seen.now_s

    def look(self, seen: Seen) -> Sound | None:
        """Count how often it went away from where it was and came back."""
        _, cut = seen.since(max(0.0, self._start_s - 0.2))
        high = seen.values(self._name)[cut] > self._threshold
        if not high.size:
            return None
        away = high != high[0]
        back = int(np.count_nonzero(away[:-1] & ~away[1:]))
        self._away = bool(away[-1])
        if back <= self._done:
            return None
        self._done, self._last_s = back, seen.now_s
        return Sound.DONE if back >= self._wanted else Sound.COUNTED

    def step(self) -> Step:
        """Work it and let go."""
        done = min(self._done, self._wanted)
        if self._away:
            return Step("release", f"{self._name}: let go", done, self._wanted)
        return Step("work", f"{self._name}: on, hold a second, let go", done, self._wanted)

    def is_over(self, seen: Seen) -> bool:
        """Enough throws; or nothing for too long."""
        if self._done >= self._wanted and not self._away:
            return seen.now_s - self._last_s >= LAST_REST_S
        return seen.now_s - self._last_s >= PATIENCE_S


class Flex:
    """Flex every connector, eyes and hands on the harness: a bell on every drop-out."""

    def __init__(self, names: Sequence[str], duration_s: float = FLEX_S) -> None:
        """Listen for drop-outs of ``names``."""
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
        drops = find_drop_outs(
            values[cut],
            rate_hz=seen.rate_hz,
            rest_V=rest,
            sd_V=sd,
            span_V=min(max(span, NOISE_SDS * sd), MOST_SPAN_V),
            direction=1,
            top_known=True,
            glitch_pct=seen.limit("glitch_pct", name),
        )
        return len(drops)

    def step(self) -> Step:
        """Flex one connector after the other."""
        heard = tuple(f"{name}: {count} drop-outs" for name, count in self._counts.items() if count)
        detail = f"each connector in turn, touch no control; {self._left_s:.0f} s left"
        return Step("flex", detail, needs=heard)

    def is_over(self, seen: Seen) -> bool:
        """Whether the time is over."""
        return seen.now_s - self._start_s >= self._duration_s
