"""A long rest: nobody near the machine until the time is over."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from calib.guide.protocols import Live, Person, Sound, Step
from calib.guide.recording import SHOW_EVERY_S, Gauge
from calib.store.samples import Samples


class RestWatch:
    """An observer that has enough after a time, and says to stay away until then."""

    def __init__(
        self,
        person: Person,
        gauges: Sequence[Gauge],
        *,
        duration_s: float,
        clock: Callable[[], float],
    ) -> None:
        """Prepare to look on.

        Args:
            person: Sees the live values.
            gauges: The channels to show.
            duration_s: Device time to capture, s.
            clock: The host's clock in seconds.
        """
        self._person = person
        self._gauges = gauges
        self._duration_s = duration_s
        self._clock = clock
        self._samples = self._rejected = 0
        self._elapsed_s = 0.0
        self._shown_s = -SHOW_EVERY_S

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        self._samples += len(samples)
        self._rejected += len(samples.rejected)
        if len(samples):
            self._elapsed_s = float(samples.time_s[-1])
        now_s = self._clock()
        readings = tuple(gauge.look(samples, now_s) for gauge in self._gauges)
        if now_s - self._shown_s >= SHOW_EVERY_S:
            self._shown_s = now_s
            step = Step(
                "hands off",
                "let it rest; nobody near it, no fan, no door",
                done=int(self._elapsed_s),
                wanted=int(self._duration_s),
            )
            self._person.show(Live(step, readings, self._samples, self._rejected, self._elapsed_s))
        if self._elapsed_s < self._duration_s:
            return False
        self._person.sound(Sound.DONE)
        return True
