"""Pull one wire after the other, key off in between, and see what the control reads then."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from calib.guide.protocols import Live, Person, Step
from calib.guide.recording import SHOW_EVERY_S, Gauge
from calib.store.samples import Samples

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


def display_question(channel: str) -> str:
    """What is asked about the controller's own reading."""
    return (
        f"Key off, logger's tap off {channel}, signal wire pulled, key on: volts on the "
        "controller's display? (empty: not tested)"
    )


class PulledWatch:
    """An observer that listens to one control for a while."""

    def __init__(
        self, person: Person, gauge: Gauge, wire: str, *, clock: Callable[[], float]
    ) -> None:
        """Prepare to listen.

        Args:
            person: Sees the live value.
            gauge: The control's.
            wire: The wire that is pulled.
            clock: The host's clock in seconds.
        """
        self._person, self._gauge, self._wire, self._clock = person, gauge, wire, clock
        self._shown_s = -math.inf
        self._samples = self._rejected = 0
        self._first_s = math.nan
        self._elapsed_s = 0.0

    def __call__(self, samples: Samples) -> bool:
        """Take in a run of samples; whether enough was captured."""
        self._samples += len(samples)
        self._rejected += len(samples.rejected)
        if len(samples):
            if np.isnan(self._first_s):
                self._first_s = float(samples.time_s[0])
            self._elapsed_s = float(samples.time_s[-1]) - self._first_s
        now_s = self._clock()
        reading = self._gauge.look(samples, now_s)
        if now_s - self._shown_s >= SHOW_EVERY_S:
            self._shown_s = now_s
            self._person.show(
                Live(
                    step=Step("wait", f"{self._wire} wire pulled, hands off"),
                    readings=(reading,),
                    samples=self._samples,
                    rejected_lines=self._rejected,
                    elapsed_s=self._elapsed_s,
                )
            )
        return self._elapsed_s >= LISTEN_S
