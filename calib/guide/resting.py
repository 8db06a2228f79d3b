"""A long rest: nobody near the machine until the time is over."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from calib.guide.protocols import Hold, Person, Sound, Step
from calib.guide.recording import Gauge, Recording
from calib.store.samples import Samples


class RestWatch(Recording):
    """A recording of a set time that says to stay away until it is over, and rings then."""

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
        super().__init__(person, gauges, duration_s=duration_s, clock=clock)
        self._person = person
        self._wanted_s = duration_s

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        over = super().__call__(samples)
        if over:
            self._person.sound(Sound.DONE)
        return over

    def step(self, elapsed_s: float) -> Step:
        """Stay away, and how long it has lasted."""
        return Step(
            "hands off",
            "let it rest; nobody near it, no fan, no door",
            hold=Hold(min(elapsed_s, self._wanted_s), self._wanted_s),
        )
