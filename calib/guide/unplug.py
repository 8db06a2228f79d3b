"""Pull one wire after the other, key off in between, and see what the control reads then."""

from __future__ import annotations

from dataclasses import dataclass

from calib.guide.asking import ask_volts_or
from calib.guide.protocols import Hold, Person, Step
from calib.guide.watch import ChannelWatch

LISTEN_S = 5.0
"""Device time for which a pulled wire is listened to; own choice, ten times what it may take."""


def pull_prompt(channel: str, wire: str) -> str:
    """What to do before a pulled wire is listened to."""
    return (
        f"KEY OFF. Pull the {wire} wire of {channel} at its plug. Hands clear of the wheel. KEY ON."
    )


def put_back_prompt(channel: str) -> str:
    """What to do when every wire was pulled."""
    return f"KEY OFF. Put every wire of {channel} back and flex the plug once. KEY ON."


def ask_display_V(person: Person, channel: str) -> tuple[float, ...]:
    """The controller's own reading of a pulled wire, V; none where it was not tested.

    Raises:
        StoppedError: No number can be had.
    """
    question = (
        f"Key off, logger's tap off {channel}, signal wire pulled, key on: volts on the "
        "controller's display? (empty: not tested)"
    )
    value = ask_volts_or(person, question, "", "Volts such as 0.35, or nothing.")
    return () if value is None else (value,)


@dataclass
class PulledWatch(ChannelWatch):
    """An observer that listens to one control for a while.

    Attributes:
        wire: The wire that is pulled.
    """

    wire: str

    @property
    def _listened_s(self) -> float:
        return self.elapsed_s - float(self.seen.time_s[0]) if len(self.seen) else 0.0

    def step(self) -> Step:
        """Keep off it."""
        detail = f"{self.wire} wire pulled: listening"
        hold = Hold(self._listened_s, LISTEN_S)
        return Step("hands off", detail, control=self.gauge.name, hold=hold)

    def is_over(self) -> bool:
        """Whether it was listened to for long enough."""
        return self._listened_s >= LISTEN_S
