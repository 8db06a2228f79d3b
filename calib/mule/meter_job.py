"""The multimeter's part of the evening: voltages held, and what a hand-held meter shows of them."""

from __future__ import annotations

from typing import Final

import numpy as np

from calib.mule.stage import Stage
from calib.mule.task import Task

METER_STEP_V: Final = 0.01
METER_PCT: Final = 0.5
SAME_V: Final = 0.1  # a voltage within this of the last one is that one, set again


class Meter:
    """A hand-held multimeter on one control's signal wire, and what was written down of it."""

    def __init__(self, name: str, seed: int) -> None:
        """Draw how far off this meter is, within its stated accuracy."""
        self._name = name
        self._gain = 1.0 + 0.01 * METER_PCT * float(np.random.default_rng(seed).uniform(-0.6, 0.6))
        self._shown: list[str] = []

    def note(self, stage: Stage) -> None:
        """Write down what the meter shows of the voltage that was just set; once, if set again."""
        shown_V = METER_STEP_V * round(self._gain * stage.wire_v(self._name) / METER_STEP_V)
        if self._shown and abs(shown_V - float(self._shown[-1])) < SAME_V:
            return
        self._shown.append(f"{shown_V:.2f}")

    def read_out(self) -> str:
        """The next of the readings that were written down; the last again where none is left."""
        return self._shown.pop(0) if len(self._shown) > 1 else self._shown[0]


def meter_task(name: str, seed: int) -> Task:
    """True one control's volts at rest, half way and at full travel."""
    meter = Meter(name, seed)
    return Task(
        (
            *("meter", name, "--meter-pct", f"{METER_PCT:g}", "--meter-digits", "1"),
            *("--meter-step-V", f"{METER_STEP_V:g}"),
        ),
        ready={"voltage set": meter.note},
        answers={"what did the meter show": meter.read_out},
    )
