"""The document of ``calib wheel``: pulses a turn, way of a turn, and what a display shows."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.documents.finding import BudgetLine, Document


class TurnFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What turning the wheel by hand gave.

    Attributes:
        unit: ``level``, or ``pulses`` for a running count.
        pulses: Pulses counted; of a running count its net change.
        turns: Turns from mark to mark; None where nobody counted them.
        basis: Whether counted turns or the pattern's period made the number.
        stops: Pulses from each standstill to the next.
        missed: Gaps that are too long for their place.
        doubled: Gaps that are too short for their place.
        bounces: Changes of the level that were taken for a contact's bounce.
        gaps_deg: Angle from each pulse of a turn to the next, degrees; empty where it is not seen.
        widths: Width of each pulse of a turn as a share of the usual one; empty likewise.
        backwards: Whether it turned against the count, or the second track says so; None without
            either.
    """

    unit: Literal["level", "pulses"]
    pulses: float
    turns: int | None = None
    basis: Literal["turns", "pattern"] = "turns"
    stops: tuple[int, ...] = ()
    missed: int = 0
    doubled: int = 0
    bounces: int = 0
    gaps_deg: tuple[float, ...] = ()
    widths: tuple[float, ...] = ()
    backwards: bool | None = None


class RolledFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What rolling the wheel along a tape gave.

    Attributes:
        ways_m: Length of each way, m.
        turns: Turns of each way.
        seated: Whether the rider's weight was on.
        rider_mm: What was taken off for a rider who was not on, mm of a turn.
        budget: Standard uncertainties, mm of a turn, largest first.
    """

    ways_m: tuple[float, ...]
    turns: float
    seated: bool
    rider_mm: float
    budget: tuple[BudgetLine, ...] = ()


class ShownFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What a display showed, or must show by what is set, against what is true.

    Attributes:
        kind: ``trip``, ``speed``, or ``settings`` where only what is set is known.
        factor: Shown over true.
        u: Its standard uncertainty.
        shown: What was shown, m or km/h; None for settings.
        true: What was measured, in the same unit; None likewise.
    """

    kind: Literal["trip", "speed", "settings"]
    factor: float
    u: float
    shown: float | None = None
    true: float | None = None


class ShownSpeed(msgspec.Struct, frozen=True, kw_only=True):
    """What would be shown at one true speed with what is set now, km/h.

    Attributes:
        true_kmh: The true speed.
        shown_kmh: What would be shown.
        expanded_kmh: Half-width about it that holds it with 95 %.
        within_r39: Whether UN Regulation 39 would let a road vehicle show it; information.
    """

    true_kmh: float
    shown_kmh: float
    expanded_kmh: float
    within_r39: bool


class WheelDocument(Document, frozen=True, kw_only=True, tag="calib.wheel/1"):
    """The wheel: a missing figure is None, and so is one under a verdict that is not good.

    Attributes:
        channel: The sensor's channel; None where only a tape or a display was read.
        pulses_a_turn: A whole number.
        circumference_mm: Way of one turn with the rider on, mm.
        u_mm: Its standard uncertainty.
        expanded_mm: Half-width about it that holds it with ``coverage``.
        coverage: Probability with which it does.
        pulses_a_metre: Pulses a metre of way.
        u_pulses_a_metre: Its standard uncertainty.
        folds_from_kmh: Speed from which a level column hides pulses at this rate; None for a count.
        turned: What turning gave; None where it was not turned.
        rolled: What rolling gave; None where it was not rolled.
        shown: What a display showed; None where none was read.
        shown_at: What it would show at usual speeds.
    """

    channel: str | None = None
    pulses_a_turn: int | None = None
    circumference_mm: float | None = None
    u_mm: float | None = None
    expanded_mm: float | None = None
    coverage: float | None = None
    pulses_a_metre: float | None = None
    u_pulses_a_metre: float | None = None
    folds_from_kmh: float | None = None
    turned: TurnFigures | None = None
    rolled: RolledFigures | None = None
    shown: ShownFigures | None = None
    shown_at: tuple[ShownSpeed, ...] = ()
