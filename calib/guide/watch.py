"""What every live flow does with what comes: take it in, think, show what is due, be patient, end.

Each flow has a watch of its own, which only says what it counts and which step is due.
"""

from __future__ import annotations

import math
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import ClassVar, Final

from calib.errors import BrokenOffError
from calib.guide.events import CABLE, KEPT
from calib.guide.protocols import Live, Person, Reading, Sound, Step
from calib.guide.seen import Gauge, Seen
from calib.store.samples import BREAKS, Samples

Clock = Callable[[], float]

SHOW_EVERY_S: Final = 0.05
"""Own choice: twenty times a second, what an eye takes for motion and a terminal can
show."""

SILENT_S: Final = 1.0
"""Own choice: ten times the longest wait between two looks at a line, and before a hand gets
nervous."""

COUNT_EVERY_S: Final = 0.2
"""Own choice: device time between two looks at what is counted, because nobody waits longer to hear
a count."""

SHOWN_LEFT_S: Final = 25.0
"""Own choice: from when on the time that is left is shown, s."""


@dataclass
class Watch(ABC):
    """An observer: looks on while a line is captured, and says when enough was.

    Patience runs on the device's clock without its gaps: while a line is silent, or away, nobody
    can do what is asked, so nobody is blamed for the time.

    Attributes:
        person: Is told what to do and hears what was counted.
        clock: The host's clock, s.
        gauges: What is shown.
        seen: Where all that comes is kept; nowhere where it is None.
        now_s: The host's time of this run of samples, s.
        elapsed_s: Device time of the newest sample, s.
    """

    think_every_s: ClassVar[float] = 0.0
    """Device time between two thoughts, s."""
    patience_s: ClassVar[float] = math.inf
    """How long nothing new may happen, s."""

    person: Person
    clock: Clock = field(default=time.monotonic, kw_only=True)
    gauges: Sequence[Gauge] = field(init=False, default=())
    seen: Seen | None = field(init=False, default=None)
    now_s: float = field(init=False, default=0.0)
    elapsed_s: float = field(init=False, default=0.0)
    _thought_s: float = field(init=False, default=-math.inf)
    _shown_s: float = field(init=False, default=-math.inf)
    _arrived_s: float | None = field(init=False, default=None)
    _away_s: float = field(init=False, default=0.0)
    _news_s: float = field(init=False, default=0.0)
    _samples: int = field(init=False, default=0)
    _rejected_lines: int = field(init=False, default=0)

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured.

        Raises:
            BrokenOffError: Nobody has done what is asked for too long.
        """
        self.now_s = self.clock()
        self._count(samples)
        self.take(samples)
        if len(samples) and self.elapsed_s - self._thought_s >= self.think_every_s:
            self._thought_s = self.elapsed_s
            if self.think():
                return True
        self._show()
        if self.is_over():
            return True
        if self.left_s <= 0.0 and (missing := self.missing()):
            what = f"Broken off: {missing} for {self.patience_s:.0f} s."
            raise BrokenOffError(what, f"{KEPT} Run it again.")
        return False

    def take(self, samples: Samples) -> None:  # noqa: B027 (what is kept is enough for most)
        """Note what is this watch's own in a run of samples, which may be empty."""

    def think(self) -> bool:
        """Think about what came so far, every so often; whether it is enough, with no more said."""
        return False

    @abstractmethod
    def step(self) -> Step:
        """What to do now."""

    def readings(self) -> Sequence[Reading]:
        """The live values to show."""
        return [gauge.now(self.now_s) for gauge in self.gauges]

    def is_over(self) -> bool:
        """Whether what is shown now is the end."""
        return False

    def missing(self) -> str:
        """What nobody did, as in "no press of throttle"; empty where patience ends nothing."""
        return ""

    def news(self) -> None:
        """Something was done that was asked for: patience begins anew."""
        self._news_s = self._patient_s

    def done(self) -> bool:
        """Ring for the end of what was wanted: that is so."""
        self.person.sound(Sound.DONE)
        return True

    def counted(self, *, enough: bool = False) -> None:
        """Ring for one more that counts, or for as many as are wanted."""
        self.news()
        self.person.sound(Sound.DONE if enough else Sound.COUNTED)

    @property
    def left_s(self) -> float:
        """What is left of the patience, s."""
        return self.patience_s - (self._patient_s - self._news_s)

    @property
    def _patient_s(self) -> float:
        return max(0.0, self.elapsed_s - self._away_s)

    def _count(self, samples: Samples) -> None:
        self._rejected_lines += len(samples.rejected)
        self._away_s += sum(each.duration_s for each in samples.events if each.kind in BREAKS)
        if len(samples):
            self._samples += len(samples)
            self.elapsed_s = float(samples.time_s[-1])
            self._arrived_s = self.now_s
        for gauge in self.gauges:
            gauge.look(samples, self.now_s)
        if self.seen is not None:
            self.seen.take(samples)

    def _show(self) -> None:
        """Show what to do now and the live values, some times a second."""
        if self.now_s - self._shown_s < SHOW_EVERY_S:
            return
        self._shown_s = self.now_s
        step = self.step()
        silent_s = 0.0 if self._arrived_s is None else self.now_s - self._arrived_s
        if silent_s > SILENT_S:
            text = f"no line for {silent_s:.0f} s: look at plug and power; it goes on by itself"
            step = replace(step, verb=CABLE, control="", how="", detail=text, hold=None, instead="")
        elif self.left_s <= SHOWN_LEFT_S:
            step = replace(step, left_s=max(0.0, self.left_s))
        readings, elapsed_s = tuple(self.readings()), max(0.0, self.elapsed_s)
        live = Live(step, readings, self._samples, self._rejected_lines, elapsed_s)
        self.person.show(live)


@dataclass
class ChannelWatch(Watch):
    """A watch of one channel, whose value is on its page and whose readings are kept.

    Attributes:
        gauge: The channel's.
    """

    gauge: Gauge
    seen: Seen = field(init=False)

    def __post_init__(self) -> None:
        """Show the channel, and keep its readings."""
        self.gauges = [self.gauge]
        self.seen = Seen(self.gauges)
