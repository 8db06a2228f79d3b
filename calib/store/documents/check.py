"""The document of ``calib check``: every input after a rewire, against limits and the record."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.documents.finding import Document, Finding, Severity


class CheckLevel(msgspec.Struct, frozen=True, kw_only=True):
    """One level of one channel, in the channel's base unit.

    Attributes:
        mean: Mean of the stays at it.
        sd: Standard deviation of the stays' means.
        u: Standard uncertainty of ``mean``, the converter's step included.
        stays: Count of stays (releases, or presses).
    """

    mean: float
    sd: float
    u: float
    stays: int


class CheckFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What was measured of one channel; None where it does not apply or was not seen.

    Attributes:
        unit: Base unit of the levels and of ``noise``.
        rest: With the hand off; for anything but a control, the level of the whole rest.
        full: At full travel.
        presses: Full presses seen.
        return_s: Slowest return from letting go to rest.
        noise: Standard deviation of single readings at rest.
        repeats: Share of readings that repeat the one before.
        hum: Amplitude of the strongest line at 50, 60, 100 or 120 Hz at rest.
        supply_V: Mean of the channel's own supply; for a ratiometric channel alone.
        degC: Mean temperature, for a thermistor.
    """

    unit: str
    rest: CheckLevel | None = None
    full: CheckLevel | None = None
    presses: int | None = None
    return_s: float | None = None
    noise: float | None = None
    repeats: float | None = None
    hum: float | None = None
    supply_V: float | None = None
    degC: float | None = None


class ChannelCheck(msgspec.Struct, frozen=True, kw_only=True):
    """One channel: its own verdict, what was found, and the figures it rests on."""

    verdict: Severity
    role: str
    findings: tuple[Finding, ...] = ()
    figures: CheckFigures | None = None


class PulledWire(msgspec.Struct, frozen=True, kw_only=True):
    """What a control read while one of its wires was pulled on purpose.

    Attributes:
        wire: signal, ground or supply.
        low: Lowest reading after it settled, V.
        high: Highest reading after it settled, V.
        settle_s: Time until no reading was inside the travel any more, s; None if never.
        inside: Readings inside the travel after that time was up.
        samples: Readings looked at.
        basis: Whose reading it is: the logger's, or typed from the controller's display.
    """

    wire: Literal["signal", "ground", "supply"]
    low: float
    high: float
    settle_s: float | None
    inside: int
    samples: int
    basis: Literal["logger", "controller"] = "logger"


class CheckDocument(Document, frozen=True, kw_only=True, tag="calib.check/1"):
    """A whole bench check.

    Attributes:
        channels: By name, in the order of the rig file.
        compared_with: Id of the record that it was compared with; None without one.
        quick: Whether it was rest and one press each.
        condition: What the person said of the conditions.
        cannot_see: What this logger cannot see at its rate, one sentence each.
        pulled: Wires that were pulled on purpose; only ``check --unplug`` has them.
    """

    channels: dict[str, ChannelCheck]
    compared_with: str | None = None
    quick: bool = False
    condition: str | None = None
    cannot_see: tuple[str, ...] = ()
    pulled: tuple[PulledWire, ...] = ()

    @property
    def is_bench_check(self) -> bool:
        """Whether it looked at every input, and not at the wires of one control alone."""
        return not self.pulled

    @property
    def is_whole(self) -> bool:
        """Whether it was a bench check with everything in it, connectors flexed too."""
        return self.is_bench_check and not self.quick
