"""The multimeter's part of the evening: voltages held, and what a hand-held meter shows of them."""

from __future__ import annotations

from typing import Final

import numpy as np

from calib.guide.protocols import Live
from calib.mule.stage import Stage
from calib.mule.task import Task

METER_STEP_V: Final = 0.01
METER_PCT: Final = 0.5
HELD_S: Final = 4.0


class Meter:
    """A hand-held multimeter on one control's signal wire, and the hand that tapes it down."""

    def __init__(self, name: str, seed: int) -> None:
        """Draw how far off this meter is, within its stated accuracy."""
        self._name = name
        self._gain = 1.0 + 0.01 * METER_PCT * float(np.random.default_rng(seed).uniform(-0.6, 0.6))
        self._shown: list[str] = []

    def hold_rest(self, stage: Stage, live: Live) -> None:
        """Leave the control alone and note what the meter shows."""
        if not self._shown and live.step.done == 0:
            stage.wait(HELD_S)
            self._note(stage)

    def hold_next(self, stage: Stage, live: Live) -> None:
        """Tape the control down half way, then all the way, and note what the meter shows."""
        if live.step.done == len(self._shown):
            stage.hold(self._name, 0.5 * live.step.done, HELD_S)
            self._note(stage)

    def read_out(self) -> str:
        """The next of the readings that were written down."""
        return self._shown.pop(0)

    def _note(self, stage: Stage) -> None:
        steps = round(self._gain * stage.wire_v(self._name) / METER_STEP_V)
        self._shown.append(f"{METER_STEP_V * steps:.2f}")


def meter_task(name: str, seed: int) -> Task:
    """True one control's volts at rest, half way and at full travel."""
    meter = Meter(name, seed)
    return Task(
        (
            *("meter", name, "--meter-pct", f"{METER_PCT:g}", "--meter-digits", "1"),
            *("--meter-step-V", f"{METER_STEP_V:g}"),
        ),
        reactions={"hold": meter.hold_rest, "next": meter.hold_next},
        answers={"what did the meter show": meter.read_out},
    )
