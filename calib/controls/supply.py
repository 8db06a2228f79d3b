"""What feeds a control's sensor: as logged, else as stated, else assumed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Origin = Literal["logged", "stated", "assumed"]

# Common practice, no source: hand controls are fed from 5 V.
ASSUMED_V = 5.0


@dataclass(frozen=True)
class Supply:
    """The supply of one control's sensor.

    Attributes:
        volts: Its voltage, V.
        origin: Where that is known from.
        half_range_pct: Half the range over which it was logged, per cent; None where it was not.
    """

    volts: float = ASSUMED_V
    origin: Origin = "assumed"
    half_range_pct: float | None = None

    def holds(self, volts: float) -> bool:
        """Whether a voltage can occur on a wire that this supply feeds."""
        return 0.0 <= volts <= self.volts

    def beyond(self, volts: float) -> str:
        """On which side a voltage lies that cannot occur, in words."""
        if volts < 0.0:
            return "below 0 V"
        return f"above the supply ({self.volts:.3g} V, {self.origin})"
